/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwardend`: reads its arguments, then either answers a question or runs the daemon. */
#include "app.h"
#include "err.h"
#include "log.h"
#include "parse.h"
#include "preflight.h"

#include <fcntl.h>
#include <getopt.h>
#include <malloc.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define PROGRAM "lampwardend"

enum { EXIT_OK = 0, EXIT_NOT_READY = 1, EXIT_USAGE = 2, EXIT_BAD_CONFIG = 3 };

static const char usage[] =
    "usage: " PROGRAM " [OPTION...]\n"
    "\n"
    "Runs the lamps of the configured growing spaces.\n"
    "\n"
    "  -c, --config FILE   the configuration (/etc/lampwarden/lampwarden.conf)\n"
    "      --check FILE    print every finding about a configuration, and end (lampwarden check "
    "says more)\n"
    "      --print-config  print the effective configuration with the origin of each value, and "
    "end\n"
    "      --document      print a documented example configuration, and end\n"
    "      --journal FILE  the journal, in place of the configured one\n"
    "      --socket PATH   the control socket, in place of the configured one\n"
    "      --runtime DIR   folder for what outlives a restart but not a reboot (/run/lampwarden)\n"
    "      --state DIR     folder for what outlives a reboot (/var/lib/lampwarden)\n"
    "      --pace N        a demonstration: simulated lamps, N times as fast (1 to 3600), in\n"
    "                      RUNTIME/demonstration; refused where anything is not the bench's\n"
    "      --log LEVEL     alert, error, warning, info or debug (info)\n"
    "      --version       the version of this program\n"
    "  -h, --help          this text\n"
    "\n"
    "Signals: SIGHUP reloads the configuration, SIGTERM makes every output safe and ends.\n"
    "exit codes: 0 ended by a stop, 1 did not get ready, 2 wrong usage, 3 wrong configuration\n";

enum action { RUN, CHECK, PRINT_CONFIG, DOCUMENT, VERSION, HELP };

struct arguments {
    struct app_options app;
    enum action action;
    enum log_level log;
};

enum {
    OPT_CHECK = 256,
    OPT_PRINT,
    OPT_DOCUMENT,
    OPT_JOURNAL,
    OPT_SOCKET,
    OPT_RUNTIME,
    OPT_STATE,
    OPT_PACE,
    OPT_LOG,
    OPT_VERSION
};

static const struct option options[] = {
    {"config", required_argument, NULL, 'c'},
    {"check", required_argument, NULL, OPT_CHECK},
    {"print-config", no_argument, NULL, OPT_PRINT},
    {"document", no_argument, NULL, OPT_DOCUMENT},
    {"journal", required_argument, NULL, OPT_JOURNAL},
    {"socket", required_argument, NULL, OPT_SOCKET},
    {"runtime", required_argument, NULL, OPT_RUNTIME},
    {"state", required_argument, NULL, OPT_STATE},
    {"pace", required_argument, NULL, OPT_PACE},
    {"log", required_argument, NULL, OPT_LOG},
    {"version", no_argument, NULL, OPT_VERSION},
    {"help", no_argument, NULL, 'h'},
    {NULL, 0, NULL, 0},
};

static bool read_level(const char *word, enum log_level *ret)
{
    static const char *const names[] = {"alert", "error", "warning", "info", "debug"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (strcmp(names[i], word) == 0) {
            *ret = (enum log_level)i;
            return true;
        }
    }
    (void)fprintf(stderr, PROGRAM ": --log %s: is none of alert, error, warning, info, debug\n",
                  word);
    return false;
}

static bool read_pace(const char *word, double *ret)
{
    struct err err = {""};
    if (parse_real(word, 1, APP_PACE_MAX, ret, &err) < 0) {
        (void)fprintf(stderr, PROGRAM ": --pace: %s\n", err.text);
        return false;
    }
    return true;
}

static bool take(struct arguments *ret, int option, const char *value)
{
    switch (option) {
    case OPT_CHECK:
        ret->action = CHECK;
        ret->app.config_path = value;
        return true;
    case 'c':
        ret->app.config_path = value;
        return true;
    case OPT_PRINT:
        ret->action = PRINT_CONFIG;
        return true;
    case OPT_DOCUMENT:
        ret->action = DOCUMENT;
        return true;
    case OPT_JOURNAL:
        ret->app.journal_path = value;
        return true;
    case OPT_SOCKET:
        ret->app.socket_path = value;
        return true;
    case OPT_RUNTIME:
        ret->app.runtime_folder = value;
        return true;
    case OPT_STATE:
        ret->app.state_folder = value;
        return true;
    case OPT_PACE:
        return read_pace(value, &ret->app.pace);
    case OPT_LOG:
        return read_level(value, &ret->log);
    case OPT_VERSION:
        ret->action = VERSION;
        return true;
    case 'h':
        ret->action = HELP;
        return true;
    default:
        return false; /* getopt_long said what it did not like */
    }
}

static bool read_arguments(int argc, char **argv, struct arguments *ret)
{
    int option = 0;
    while ((option = getopt_long(argc, argv, "c:h", options, NULL)) != -1) {
        if (!take(ret, option, optarg)) {
            return false;
        }
    }
    if (optind < argc) {
        (void)fprintf(stderr, PROGRAM ": '%s' is not an option\n", argv[optind]);
        return false;
    }
    if (ret->app.pace > 0 && ret->app.journal_path) {
        (void)fputs(PROGRAM ": --journal: a demonstration keeps a journal of its own\n", stderr);
        return false;
    }
    return true;
}

static int with_config(const struct arguments *arguments)
{
    struct err err = {""};
    struct config *config = preflight_load(arguments->app.config_path);
    if (!config) {
        return EXIT_BAD_CONFIG;
    }
    if (arguments->action == RUN) {
        if (app_run(&arguments->app, config, &err) < 0) {
            log_error("%s", err.text);
            return EXIT_NOT_READY;
        }
        return EXIT_OK;
    }
    int code = preflight_tell(config, arguments->action == PRINT_CONFIG);
    return code < 0 ? EXIT_NOT_READY : EXIT_OK;
}

static int act(const struct arguments *arguments)
{
    switch (arguments->action) {
    case HELP:
        (void)fputs(usage, stdout);
        return EXIT_OK;
    case VERSION:
        (void)puts(PROGRAM " " LAMPWARDEN_VERSION);
        return EXIT_OK;
    case DOCUMENT:
        return preflight_document() < 0 ? EXIT_NOT_READY : EXIT_OK;
    case RUN:
    case CHECK:
    case PRINT_CONFIG:
        return with_config(arguments);
    }
    return EXIT_USAGE;
}

/* A descriptor 0 … 2 that was closed would become a bus or a lock, and log lines would go there. */
static void fill_standard_descriptors(void)
{
    int fd = open("/dev/null", O_RDWR);
    while (fd >= 0 && fd <= STDERR_FILENO) {
        fd = open("/dev/null", O_RDWR);
    }
    if (fd >= 0) {
        (void)close(fd);
    }
}

int main(int argc, char **argv)
{
    struct arguments arguments = {
        .app = {.config_path = "/etc/lampwarden/lampwarden.conf",
                .runtime_folder = "/run/lampwarden",
                .state_folder = "/var/lib/lampwarden",
                .version = LAMPWARDEN_VERSION,
                .build_s = LAMPWARDEN_BUILD_S},
        .action = RUN,
        .log = LOG_LEVEL_INFO,
    };
    fill_standard_descriptors();
    (void)signal(SIGCHLD, SIG_DFL); /* a parent may have ignored it: no child could be waited for */
    if (!read_arguments(argc, argv, &arguments)) {
        (void)fputs("'" PROGRAM " --help' shows how it is used\n", stderr);
        return EXIT_USAGE;
    }
    log_set_level(arguments.log);
    (void)mallopt(M_ARENA_MAX, 1); /* a heap a thread costs more than the rare wait for one */
    int code = act(&arguments);
    if (fflush(stdout) != 0) {
        (void)fputs(PROGRAM ": the output could not be written\n", stderr);
        return code == EXIT_OK ? EXIT_NOT_READY : code;
    }
    return code;
}
