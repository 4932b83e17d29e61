/* SPDX-License-Identifier: Apache-2.0 */
/*
 * `lampwarden-make-safe`: opens every switch and drives every dimming line safe, from the list that
 * the daemon left. For the unit's stop step, and for a person who wants all lamps dark now. May run
 * at any time and as often as one likes. A process per bus: one device that hangs does not keep the
 * others lit.
 */
#include "err.h"
#include "lockholder.h"
#include "safelist.h"

#include <errno.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define PROGRAM "lampwarden-make-safe"

enum { EXIT_SAFE = 0, EXIT_NOT_CONFIRMED = 1, EXIT_USAGE = 2, EXIT_NO_LIST = 3 };
enum { BUS_LIMIT_S = 3, WHOLE_LIMIT_S = 5 };

static const char usage[] =
    "usage: " PROGRAM " [FILE]\n"
    "\n"
    "Opens every switch and drives every dimming line to its safe value.\n"
    "\n"
    "FILE is the list of outputs that the daemon writes when it starts "
    "(/run/lampwarden/" SAFELIST_FILE ", else\n"
    "/var/lib/lampwarden/" SAFELIST_FILE "). Of a damaged list it does what can be read, and names "
    "the rest.\n"
    "\n"
    "While lampwardend runs it may hold the lines, and drives its outputs again whenever it moves "
    "them;\n"
    "to keep them dark: `systemctl stop lampwardend`, or `lampwarden hold SPACE 0% --for 1h`.\n"
    "\n"
    "exit codes: 0 every output confirmed, 1 not all confirmed or a daemon runs, 2 wrong usage, "
    "3 no list\n";

static const char *const usual_lists[] = {
    "/run/lampwarden/" SAFELIST_FILE,
    "/var/lib/lampwarden/" SAFELIST_FILE,
};

static void say_faults(const struct safelist *list)
{
    for (const char *at = list->faults; at && *at;) {
        const int length = (int)strcspn(at, "\n");
        (void)fprintf(stderr, PROGRAM ": %.*s\n", length, at);
        at += length + (at[length] == '\n');
    }
}

/* Takes over `fresh` when it is better than what there is: any list, and before all a whole one. */
static void keep_better(struct safelist *list, bool *has_list, struct safelist *fresh)
{
    if (*has_list && (list->fault_count == 0 || fresh->fault_count > 0)) {
        safelist_finish(fresh);
        return;
    }
    if (*has_list) {
        safelist_finish(list);
    }
    *list = *fresh;
    *has_list = true;
}

/* *ret_is_whole: nothing stood in the way of reading the list that counts. */
static bool read_lists(const char *const *paths, size_t count, struct safelist *ret,
                       bool *ret_is_whole)
{
    bool has_list = false;
    *ret_is_whole = true;
    for (size_t i = 0; i < count && !(has_list && ret->fault_count == 0); i++) {
        struct err err = {""};
        struct safelist fresh = {0};
        if (safelist_read(paths[i], &fresh, &err) < 0) {
            (void)fprintf(stderr, PROGRAM ": %s\n", err.text);
            continue;
        }
        say_faults(&fresh);
        *ret_is_whole = *ret_is_whole && fresh.fault_count == 0; /* an older one may stand in */
        keep_better(ret, &has_list, &fresh);
    }
    return has_list;
}

/* Whoever looks at dark lamps now must not believe that they stay dark. */
static bool warn_of_daemon(const char *list_path)
{
    char path[256];
    const char *slash = strrchr(list_path, '/');
    const int length = slash ? (int)(slash - list_path) : 1;
    (void)snprintf(path, sizeof path, "%.*s/lock", length, slash ? list_path : ".");
    const int process = lockholder_find(path);
    if (process > 0) {
        (void)fprintf(stderr,
                      PROGRAM
                      ": lampwardend runs (process %d): it may hold the lines, drives "
                      "its outputs again whenever it moves them, and takes a lamp that went "
                      "dark for a trip. To keep them dark: systemctl stop lampwardend, or "
                      "lampwarden hold SPACE 0%% --for 1h\n",
                      process);
    }
    return process > 0;
}

static void wake(int signal)
{
    (void)signal; /* ends a waitpid */
}

/* The parent gives up in time even when a child hangs where no signal reaches it. */
static void limit_time(void)
{
    const struct sigaction action = {.sa_handler = wake};
    (void)sigaction(SIGALRM, &action, NULL);
    (void)alarm(WHOLE_LIMIT_S);
}

static bool make_safe(struct safelist *list, int bus)
{
    struct err err = {""};
    int code = safelist_make_safe(list, bus, &err);
    if (code < 0) {
        (void)fprintf(stderr, PROGRAM ": bus %s: %s\n", safelist_bus_name(list, bus),
                      err.text[0] ? err.text : err_name(code));
    }
    return code >= 0;
}

/* The child's whole life. */
static int one_bus(struct safelist *list, int bus)
{
    (void)signal(SIGALRM, SIG_DFL); /* ends this child alone */
    (void)alarm(BUS_LIMIT_S);
    return make_safe(list, bus) ? EXIT_SAFE : EXIT_NOT_CONFIRMED;
}

static bool ended_safe(const struct safelist *list, int bus, pid_t child)
{
    int status = 0;
    const bool has_ended = waitpid(child, &status, 0) == child;
    if (!has_ended) {
        (void)alarm(1); /* for the next one that hangs as deep */
    }
    if (!has_ended || WIFSIGNALED(status)) {
        (void)fprintf(stderr, PROGRAM ": bus %s: gave no answer within %d s\n",
                      safelist_bus_name(list, bus), BUS_LIMIT_S);
        return false;
    }
    return WEXITSTATUS(status) == EXIT_SAFE;
}

static bool all_buses(struct safelist *list)
{
    pid_t children[SAFELIST_BUSES_MAX] = {0};
    bool is_safe = true;
    for (int i = 0; i < list->bus_count; i++) {
        children[i] = fork();
        if (children[i] == 0) {
            _exit(one_bus(list, i));
        }
        if (children[i] < 0) { /* no process to spare: do it here, with a driver's own limits */
            is_safe = make_safe(list, i) && is_safe;
        }
    }
    for (int i = 0; i < list->bus_count; i++) {
        is_safe = (children[i] < 0 || ended_safe(list, i, children[i])) && is_safe;
    }
    return is_safe;
}

int main(int argc, char **argv)
{
    if (argc == 2 && strcmp(argv[1], "--help") == 0) {
        (void)fputs(usage, stdout);
        return EXIT_SAFE;
    }
    if (argc == 2 && strcmp(argv[1], "--version") == 0) {
        (void)puts(PROGRAM " " LAMPWARDEN_VERSION);
        return EXIT_SAFE;
    }
    if (argc > 2 || (argc == 2 && argv[1][0] == '-')) {
        (void)fputs(usage, stderr);
        return EXIT_USAGE;
    }
    const char *const given[] = {argc == 2 ? argv[1] : ""};
    const size_t usual_count = sizeof usual_lists / sizeof usual_lists[0];
    struct safelist list = {0};
    bool is_whole = false;
    limit_time();
    if (!read_lists(argc == 2 ? given : usual_lists, argc == 2 ? 1 : usual_count, &list,
                    &is_whole)) {
        return EXIT_NO_LIST;
    }
    bool has_daemon = warn_of_daemon(argc == 2 ? given[0] : usual_lists[0]);
    bool is_safe = all_buses(&list) && is_whole;
    if (is_safe) {
        (void)printf("%d output%s on %d bus%s are safe\n", list.output_count,
                     list.output_count == 1 ? "" : "s", list.bus_count,
                     list.bus_count == 1 ? "" : "es");
    }
    safelist_finish(&list);
    return is_safe && !has_daemon ? EXIT_SAFE : EXIT_NOT_CONFIRMED;
}
