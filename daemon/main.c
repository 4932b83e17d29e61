/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwardend`: the command line of the daemon. All else is in run/app.c. */
#include "app.h"
#include "err.h"
#include "log.h"
#include "preflight.h"

#include <getopt.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

enum exit_code { EXIT_CODE_OK, EXIT_CODE_FAILED, EXIT_CODE_USAGE, EXIT_CODE_BAD_CONFIG };

enum task { TASK_RUN, TASK_CHECK, TASK_PRINT, TASK_DOCUMENT };

static const char help[] =
    "usage: lampwardend [OPTION...]\n"
    "\n"
    "Runs the lamps of the configured spaces until it is told to stop (SIGTERM, SIGINT).\n"
    "SIGHUP reads the configuration again, whole or not at all.\n"
    "\n"
    "  -c, --config FILE   configuration; default /etc/lampwarden/lampwarden.conf\n"
    "      --check FILE    check a configuration and end\n"
    "      --print-config  print the effective values with their origin and end\n"
    "      --document      print the documented reference of every key and end\n"
    "      --journal FILE  journal database instead of the configured one\n"
    "      --socket PATH   control socket instead of the configured one\n"
    "      --runtime DIR   folder of the running state; default /run/lampwarden\n"
    "      --state DIR     folder of what outlives a reboot; default /var/lib/lampwarden\n"
    "      --log LEVEL     alert, error, warning, info (default) or debug\n"
    "  -h, --help          this text\n"
    "      --version       the version of this program\n"
    "\n"
    "exit codes: 0 stopped, 1 did not get ready, 2 wrong usage, 3 wrong configuration\n";

struct request {
    struct app_options app;
    enum task task;
};

static int usage(const char *words, const char *word)
{
    (void)fprintf(stderr, "lampwardend: %s%s\n'lampwardend --help' shows how it is used\n", words,
                  word);
    return EXIT_CODE_USAGE;
}

static bool parse_level(const char *word)
{
    static const char *const names[] = {"alert", "error", "warning", "info", "debug"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        if (strcmp(word, names[i]) == 0) {
            log_set_level((enum log_level)i);
            return true;
        }
    }
    return false;
}

enum option_code {
    CODE_CHECK = 256,
    CODE_PRINT,
    CODE_DOCUMENT,
    CODE_JOURNAL,
    CODE_SOCKET,
    CODE_RUNTIME,
    CODE_STATE,
    CODE_LOG,
    CODE_VERSION
};

static const struct option options[] = {
    {"config", required_argument, NULL, 'c'},
    {"check", required_argument, NULL, CODE_CHECK},
    {"print-config", no_argument, NULL, CODE_PRINT},
    {"document", no_argument, NULL, CODE_DOCUMENT},
    {"journal", required_argument, NULL, CODE_JOURNAL},
    {"socket", required_argument, NULL, CODE_SOCKET},
    {"runtime", required_argument, NULL, CODE_RUNTIME},
    {"state", required_argument, NULL, CODE_STATE},
    {"log", required_argument, NULL, CODE_LOG},
    {"help", no_argument, NULL, 'h'},
    {"version", no_argument, NULL, CODE_VERSION},
    {NULL, 0, NULL, 0},
};

/* Returns −1 to go on, or the exit code of what was asked for or is wrong. */
static int take(int code, struct request *request)
{
    switch (code) {
    case 'c':
        request->app.config_path = optarg;
        return -1;
    case CODE_CHECK:
        request->app.config_path = optarg;
        request->task = TASK_CHECK;
        return -1;
    case CODE_PRINT:
        request->task = TASK_PRINT;
        return -1;
    case CODE_DOCUMENT:
        request->task = TASK_DOCUMENT;
        return -1;
    case CODE_JOURNAL:
        request->app.journal_path = optarg;
        return -1;
    case CODE_SOCKET:
        request->app.socket_path = optarg;
        return -1;
    case CODE_RUNTIME:
        request->app.runtime_folder = optarg;
        return -1;
    case CODE_STATE:
        request->app.state_folder = optarg;
        return -1;
    case CODE_LOG:
        return parse_level(optarg) ? -1 : usage("no such log level: ", optarg);
    case 'h':
        (void)fputs(help, stdout);
        return EXIT_CODE_OK;
    case CODE_VERSION:
        (void)puts("lampwardend " LAMPWARDEN_VERSION);
        return EXIT_CODE_OK;
    default:
        return usage("the command line is wrong", "");
    }
}

static int run(const struct request *request)
{
    if (request->task == TASK_DOCUMENT) {
        return preflight_document() < 0 ? EXIT_CODE_FAILED : EXIT_CODE_OK;
    }
    struct config *config = preflight_load(request->app.config_path);
    if (!config) {
        return EXIT_CODE_BAD_CONFIG;
    }
    if (request->task != TASK_RUN) {
        return preflight_tell(config, request->task == TASK_PRINT) < 0 ? EXIT_CODE_FAILED
                                                                       : EXIT_CODE_OK;
    }
    struct err err = {""};
    if (app_run(&request->app, config, &err) < 0) {
        log_error("%s", err.text);
        return EXIT_CODE_FAILED;
    }
    return EXIT_CODE_OK;
}

int main(int argc, char **argv)
{
    struct request request = {
        .app = {.config_path = "/etc/lampwarden/lampwarden.conf",
                .runtime_folder = "/run/lampwarden",
                .state_folder = "/var/lib/lampwarden",
                .version = LAMPWARDEN_VERSION,
                .build_s = LAMPWARDEN_BUILD_S},
    };
    for (int code; (code = getopt_long(argc, argv, "c:h", options, NULL)) != -1;) {
        const int result = take(code, &request);
        if (result >= 0) {
            return result;
        }
    }
    if (optind < argc) {
        return usage("one word too many: ", argv[optind]);
    }
    return run(&request);
}
