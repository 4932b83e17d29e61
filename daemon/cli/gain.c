/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden gain`: what the lamps' own steps say of the light sensor, and what to make of it. */
#include "client.h"
#include "options.h"
#include "verb.h"

#include <stdio.h>
#include <string.h>

#define NAME "gain"

static int run(int argc, char **argv)
{
    const char *socket_path = CLIENT_DEFAULT_SOCKET;
    const char *accept = NULL;
    bool clears = false;
    bool wants_json = false;
    const struct verb_option table[] = {
        {"socket", 0, &socket_path, NULL},
        {"accept", 0, &accept, NULL},
        {"clear", 0, NULL, &clears},
        {"json", 0, NULL, &wants_json},
        {NULL, 0, NULL, NULL},
    };
    const int words = verb_options(NAME, table, argc, argv, 1);
    if (words < 0) {
        return VERB_USAGE;
    }
    if (words != 1) {
        return verb_usage(NAME, "it takes a space");
    }
    if (accept && strcmp(accept, "sensor") != 0 && strcmp(accept, "lamp") != 0) {
        return verb_usage(NAME, "--accept is 'sensor' or 'lamp', not '%s'", accept);
    }
    if (accept && clears) {
        return verb_usage(NAME, "--accept and --clear exclude one another");
    }
    json_t *params = client_space(argv[1]);
    if (accept) {
        json_object_set_new(params, "accept", json_string(accept));
    }
    if (clears) {
        json_object_set_new(params, "clear", json_true());
    }
    return client_tell(NAME, socket_path, params, wants_json);
}

const struct verb verb_gain = {
    .name = NAME,
    .summary = "what the lamps say of the light sensor; accept a correction of either",
    .help =
        "usage: lampwarden gain SPACE [OPTION...]\n"
        "\n"
        "Where the lamps light up or go dark the light reading must move by what their curves "
        "promise.\n"
        "Shows the last nine such steps, seen over promised, and what was accepted before. Lamps "
        "are a few\n"
        "percent brighter cold than warm: the ratio may be that far from 1 without a fault. "
        "Nothing "
        "is changed\n"
        "by itself; after a look at the sensor and the lamps say which of the two it is:\n"
        "\n"
        "  --accept sensor  the light sensor reads wrong: its readings are divided by the ratio "
        "from "
        "now on\n"
        "  --accept lamp    the lamps give another light than they were commissioned with: their "
        "ppfd_full\n"
        "                   is multiplied by the ratio\n"
        "  --clear          back to the configuration\n"
        "  --socket PATH    control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "  --json           the answer as JSON\n"
        "\n"
        "A dirty or tilted sensor and aged lamps look alike here: clean the sensor and compare it "
        "with a hand\n"
        "meter first. What is accepted holds over restarts, is kept within 0.7 to 1.4, and ends "
        "when "
        "the\n"
        "canopy_factor or ppfd_full that it belongs to is changed in the configuration.\n"
        "\n"
        "example: lampwarden gain lettuce --accept sensor\n",
    .run = run,
};
