/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden hold` and `lampwarden resume`: a level by hand, and back to the plan. */
#include "client.h"
#include "err.h"
#include "level_word.h"
#include "options.h"
#include "parse.h"
#include "verb.h"

#include <stdio.h>

#define HOLD_MAX_S 86400

static int run_hold(int argc, char **argv)
{
    const char *socket_path = CLIENT_DEFAULT_SOCKET;
    const char *length = NULL;
    bool breaks_night = false;
    bool wants_json = false;
    const struct verb_option table[] = {
        {"socket", 0, &socket_path, NULL},
        {"for", 0, &length, NULL},
        {"break-night", 0, NULL, &breaks_night},
        {"json", 0, NULL, &wants_json},
        {NULL, 0, NULL, NULL},
    };
    const int words = verb_options("hold", table, argc, argv, 2);
    if (words < 0) {
        return VERB_USAGE;
    }
    if (words != 2 || !length) {
        return verb_usage("hold", "it takes a space, a level and --for LENGTH");
    }
    struct err err;
    double level = 0;
    int64_t seconds = 0;
    if (level_word(argv[2], &level, &err) < 0) {
        return verb_usage("hold", "level: %s (\"40%%\" or \"0.4\")", err.text);
    }
    if (parse_duration(length, HOLD_MAX_S, &seconds, &err) < 0) {
        return verb_usage("hold", "--for: %s", err.text);
    }
    json_t *params = json_pack("{s:s, s:f, s:f, s:b}", "space", argv[1], "level", level, "minutes",
                               (double)seconds / 60, "break_night", (int)breaks_night);
    return client_tell("hold", socket_path, params, wants_json);
}

static int run_resume(int argc, char **argv)
{
    const char *socket_path = CLIENT_DEFAULT_SOCKET;
    bool wants_json = false;
    const struct verb_option table[] = {
        {"socket", 0, &socket_path, NULL},
        {"json", 0, NULL, &wants_json},
        {NULL, 0, NULL, NULL},
    };
    const int words = verb_options("resume", table, argc, argv, 1);
    if (words < 0) {
        return VERB_USAGE;
    }
    if (words != 1) {
        return verb_usage("resume", "it takes a space");
    }
    return client_tell("resume", socket_path, client_space(argv[1]), wants_json);
}

const struct verb verb_hold = {
    .name = "hold",
    .summary = "hold a space at a level by hand for a time",
    .help =
        "usage: lampwarden hold SPACE LEVEL --for LENGTH [OPTION...]\n"
        "\n"
        "Holds a space at a level, \"40%\" or \"0.4\" of full light, for \"30min\", \"2h\" or up "
        "to a day; then\n"
        "the plan goes on. Heat, the LED driver's ceiling, the stage's PPFD ceiling, the power "
        "limit of all\n"
        "spaces and the minimum times of the switch stay in force; where hands ask together for "
        "more than\n"
        "that limit, each of them gets less. In the night the lamps stay off unless --break-night "
        "says\n"
        "otherwise: light in a protected night can keep short-day plants from flowering. Its dose "
        "is logged.\n"
        "\n"
        "  --for LENGTH    how long; it ends by itself\n"
        "  --break-night   light the night too, on purpose\n"
        "  --socket PATH   control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "  --json          the answer as JSON\n"
        "\n"
        "example: lampwarden hold lettuce 30% --for 20min\n",
    .run = run_hold,
};

const struct verb verb_resume = {
    .name = "resume",
    .summary = "end a hold or a try, and release trips that wait to be acknowledged",
    .help = "usage: lampwarden resume SPACE [OPTION...]\n"
            "\n"
            "Ends a level held by hand and every try of an output of the space, and releases heat "
            "and LED driver\n"
            "trips that stay until somebody has looked. A fixture that is still too hot trips "
            "again.\n"
            "\n"
            "  --socket PATH   control socket; default " CLIENT_DEFAULT_SOCKET "\n"
            "  --json          the answer as JSON\n"
            "\n"
            "example: lampwarden resume lettuce\n",
    .run = run_resume,
};
