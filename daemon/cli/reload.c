/* SPDX-License-Identifier: Apache-2.0 */
/* lampwarden reload: the daemon takes up its changed configuration. */
#include "verb.h"

#include "client.h"
#include "options.h"

static int run(int argc, char **argv)
{
    const char *socket_path = CLIENT_DEFAULT_SOCKET;
    bool wants_json = false;
    const struct verb_option table[] = {
        {"socket", 0, &socket_path, NULL},
        {"json", 0, NULL, &wants_json},
        {NULL, 0, NULL, NULL},
    };
    if (verb_options("reload", table, argc, argv, 0) < 0) {
        return VERB_USAGE;
    }
    return client_tell("reload", socket_path, NULL, wants_json);
}

const struct verb verb_reload = {
    .name = "reload",
    .summary = "lets the daemon take up its changed configuration",
    .help =
        "usage: lampwarden reload [OPTION...]\n"
        "\n"
        "Whole or not at all: a configuration with an error, or one that needs other devices, is\n"
        "refused with the reason, and the old one stays. Lamps burn on meanwhile. Warnings of the\n"
        "new one follow, each behind a '!'; they stand in the journal too.\n"
        "\n"
        "options:\n"
        "  --socket PATH   control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "  --json          the answer as JSON\n"
        "\n"
        "example: lampwarden check && lampwarden reload\n"
        "\n"
        "exit codes: 0 done, 1 refused or no daemon, 2 wrong usage\n",
    .run = run,
};
