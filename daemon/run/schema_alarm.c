/* SPDX-License-Identifier: Apache-2.0 */
/* Keys of the commands that are run for events. */
#include "schema_parts.h"

#include "config.h"

/* One row a key: its facts first, its help below. */
/* clang-format off */

static const struct key command_keys[] = {
    [ALARM_NAME] = {.name = "name", .type = KEY_NAME, .low = 1, .high = CONFIG_NAME_MAX - 1,
        .help = "Your own name for it: lampwarden alarm --test NAME tries it."},
    [ALARM_COMMAND] = {.name = "command", .type = KEY_TEXTS, .low = 1,
        .high = CONFIG_ALARM_WORDS_MAX,
        .help = "The program's whole path and its arguments, one a text; no shell reads them. In "
                "an argument {text}, {kind}, {class}, {space}, {fixture}, {time} and {site} stand "
                "for those of the event. The sentence also comes on standard input, and all of "
                "it in the environment, which holds nothing else but PATH: LAMPWARDEN_TEXT, "
                "_EVENT (its kind), _CLASS, _SPACE, _FIXTURE, _TIME, _SITE, _ALARM (this name), "
                "_HELD_BACK (how many were held back before it), in a demonstration "
                "_DEMONSTRATION."},
    [ALARM_CLASS] = {.name = "class", .type = KEY_CHOICE, .choices = "info notice alarm",
        .fallback = "alarm",
        .help = "For events of this class and above."},
    [ALARM_KINDS] = {.name = "kinds", .type = KEY_TEXTS, .low = 1, .high = CONFIG_ALARM_KINDS_MAX,
        .fallback = "",
        .help = "For these kinds alone, whatever their class, such as [ \"heat-trip\", \"bus-lost\" "
                "]; lampwarden events --json shows them."},
    [ALARM_PER_HOUR] = {.name = "per_hour", .type = KEY_INT, .low = 1, .high = 3600,
        .fallback = "12",
        .help = "How often in an hour at most. What comes on top is held back; the newest of it is "
                "told as soon as that is allowed again, with how many there were."},
    [ALARM_TIME_LIMIT] = {.name = "time_limit_s", .type = KEY_REAL, .unit = "s", .low = 1,
        .high = 600, .fallback = "30.0",
        .help = "After this time it is killed, with everything that it started in its group."},
    {0},
};

const struct key schema_alarm[] = {
    [ALARM_COMMANDS] = {.name = "commands", .type = KEY_LIST, .inner = command_keys,
        .high = CONFIG_ALARMS_MAX, .fallback = "",
        .help = "Each is run by a thread of its own, one at a time: none of them holds up the "
                "lamps or another. Under systemd they run in the daemon's sandbox: setuid "
                "programs, files under /home and writing outside its folders are refused."},
    {0},
};
