/* SPDX-License-Identifier: Apache-2.0 */
/*
 * `lampwarden-make-safe`: opens every switch and drives every dimming line safe, from the list that
 * the daemon left. For the unit's stop step, and for a person who wants all lamps dark now. May run
 * at any time and as often as one likes. A process per bus: one device that hangs does not keep the
 * others lit.
 */
#include "err.h"
#include "safelist.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define PROGRAM "lampwarden-make-safe"

enum { EXIT_SAFE = 0, EXIT_NOT_CONFIRMED = 1, EXIT_USAGE = 2, EXIT_NO_LIST = 3 };
enum { BUS_LIMIT_S = 3, WHOLE_LIMIT_S = 8 };

static const char usage[] =
    "usage: " PROGRAM " [FILE]\n"
    "\n"
    "Opens every switch and drives every dimming line to its safe value. FILE is the list of "
    "outputs\n"
    "that the daemon writes when it starts (/run/lampwarden/" SAFELIST_FILE ", else\n"
    "/var/lib/lampwarden/" SAFELIST_FILE ").\n"
    "\n"
    "exit codes: 0 every output confirmed, 1 not all confirmed, 2 wrong usage, 3 no usable list\n";

static const char *const usual_lists[] = {
    "/run/lampwarden/" SAFELIST_FILE,
    "/var/lib/lampwarden/" SAFELIST_FILE,
};

static int read_list(const char *path, struct safelist *ret)
{
    struct err err = {""};
    if (path) {
        int code = safelist_read(path, ret, &err);
        if (code < 0) {
            (void)fprintf(stderr, PROGRAM ": %s\n", err.text);
        }
        return code;
    }
    for (size_t i = 0; i < sizeof usual_lists / sizeof usual_lists[0]; i++) {
        if (safelist_read(usual_lists[i], ret, &err) == 0) {
            return 0;
        }
        (void)fprintf(stderr, PROGRAM ": %s\n", err.text);
    }
    return -ENOENT;
}

/* The child's whole life. */
static int one_bus(struct safelist *list, int bus)
{
    struct err err = {""};
    (void)alarm(BUS_LIMIT_S); /* its default action ends this child alone */
    int code = safelist_make_safe(list, bus, &err);
    if (code < 0) {
        (void)fprintf(stderr, PROGRAM ": bus %s: %s\n", safelist_bus_name(list, bus),
                      err.text[0] ? err.text : err_name(code));
    }
    return code < 0 ? EXIT_NOT_CONFIRMED : EXIT_SAFE;
}

static bool ended_safe(const struct safelist *list, int bus, pid_t child)
{
    int status = 0;
    if (waitpid(child, &status, 0) != child) {
        return false;
    }
    if (WIFSIGNALED(status)) {
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
        if (children[i] < 0) { /* no process to spare: do it here */
            is_safe = one_bus(list, i) == EXIT_SAFE && is_safe;
            (void)alarm(WHOLE_LIMIT_S);
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
    struct safelist list = {0};
    (void)alarm(WHOLE_LIMIT_S);
    if (read_list(argc == 2 ? argv[1] : NULL, &list) < 0) {
        return EXIT_NO_LIST;
    }
    bool is_safe = all_buses(&list);
    if (is_safe) {
        (void)printf("%d outputs on %d buses are safe\n", list.output_count, list.bus_count);
    }
    safelist_finish(&list);
    return is_safe ? EXIT_SAFE : EXIT_NOT_CONFIRMED;
}
