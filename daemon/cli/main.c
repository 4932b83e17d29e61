/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden`: finds the verb in a table and runs it. */
#include "json_out.h"
#include "verb.h"
#include "wrap.h"

#include <langinfo.h>
#include <locale.h>
#include <signal.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define PROGRAM "lampwarden"

static const struct verb *const verbs[] = {
    &verb_status,  &verb_plan,  &verb_why,      &verb_day,   &verb_days,   &verb_nights,
    &verb_events,  &verb_hold,  &verb_resume,   &verb_try,   &verb_gain,   &verb_sense,
    &verb_reload,  &verb_check, &verb_rehearse, &verb_lead,  &verb_survey, &verb_sweep,
    &verb_breaker, &verb_power, &verb_metrics,  &verb_alarm, &verb_sheet,  NULL,
};

static const char introduction[] =
    "usage: " PROGRAM " VERB [OPTION...]\n"
    "\n"
    "Asks and commands the daemon that runs the lamps, and reads its journal.\n"
    "\n"
    "verbs:\n";

static const char epilogue[] =
    "\n"
    "options:\n"
    "  -h, --help     this text; '" PROGRAM " VERB --help' tells more about a verb\n"
    "      --version  the version of this program\n"
    "\n"
    "exit codes: 0 done, 1 failed, 2 wrong usage, 3 wrong configuration\n";

static void print_help(FILE *out)
{
    (void)fputs(introduction, out);
    for (size_t i = 0; verbs[i]; i++) {
        (void)fprintf(out, "  %-10s %s\n", verbs[i]->name, verbs[i]->summary);
    }
    (void)fputs(epilogue, out);
}

__attribute__((format(printf, 2, 0))) static void complain(const char *verb, const char *format,
                                                           va_list args)
{
    (void)fprintf(stderr, PROGRAM " %s: ", verb);
    (void)vfprintf(stderr, format, args);
    (void)fputc('\n', stderr);
}

int verb_fail(const char *verb, enum verb_exit code, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    complain(verb, format, args);
    va_end(args);
    return (int)code;
}

int verb_usage(const char *verb, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    complain(verb, format, args);
    va_end(args);
    (void)fprintf(stderr, "'" PROGRAM " %s --help' shows how it is used\n", verb);
    return VERB_USAGE;
}

bool verb_takes_utf8(void)
{
    return strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
}

static const struct verb *find(const char *name)
{
    for (size_t i = 0; verbs[i]; i++) {
        if (strcmp(verbs[i]->name, name) == 0) {
            return verbs[i];
        }
    }
    return NULL;
}

static bool is_help(const char *word)
{
    return strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0;
}

static bool asks_for_help(int argc, char **argv)
{
    for (int i = 1; i < argc && strcmp(argv[i], "--") != 0; i++) {
        if (is_help(argv[i])) {
            return true;
        }
    }
    return false;
}

static int dispatch(int argc, char **argv)
{
    if (argc < 2) {
        print_help(stderr);
        return VERB_USAGE;
    }
    if (is_help(argv[1])) {
        print_help(stdout);
        return VERB_OK;
    }
    if (strcmp(argv[1], "--version") == 0) {
        puts(PROGRAM " " LAMPWARDEN_VERSION);
        return VERB_OK;
    }
    const struct verb *verb = find(argv[1]);
    if (!verb) {
        (void)fprintf(stderr, PROGRAM ": there is no verb '%s'; '" PROGRAM " --help' lists them\n",
                      argv[1]);
        return VERB_USAGE;
    }
    if (asks_for_help(argc - 1, argv + 1)) {
        if (isatty(STDOUT_FILENO)) {
            wrap_help(stdout, verb->help);
        } else {
            (void)fputs(verb->help, stdout);
        }
        return VERB_OK;
    }
    return verb->run(argc - 1, argv + 1);
}

int main(int argc, char **argv)
{
    (void)signal(SIGCHLD, SIG_DFL); /* a parent may have ignored it: no child could be waited for */
    (void)setlocale(LC_CTYPE, "");  /* for UTF-8 or not; numbers keep their point */
    int code = dispatch(argc, argv);
    if (fflush(stdout) != 0 || ferror(stdout)) {
        (void)fputs(PROGRAM ": the output could not be written\n", stderr);
        return code == VERB_OK ? VERB_FAILED : code;
    }
    if (json_out_has_lost()) {
        (void)fputs(PROGRAM ": the answer is not whole: no memory, or a text that is no UTF-8\n",
                    stderr);
        return code == VERB_OK ? VERB_FAILED : code;
    }
    return code;
}
