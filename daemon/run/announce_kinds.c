/* SPDX-License-Identifier: Apache-2.0 */
/* The names of all events, for whoever chooses among them. */
#include "announce.h"

#include <string.h>

static const char *const kinds[] = {
    /* of the core: decide_event_name */
    "day-begins",
    "carried-over",
    "day-ends",
    "stage-begins",
    "stages-over",
    "lights-on",
    "lights-off",
    "target-met",
    "target-out-of-reach",
    "heat-trip",
    "heat-blind",
    "heat-rearmed",
    "heat-latched",
    "driver-trip",
    "driver-restrike",
    "driver-light-back",
    "driver-gave-up",
    "sensor-lost",
    "sensor-back",
    "switch-stuck",
    "switch-freed",
    "night-break",
    "night-break-ends",
    "hand-begins",
    "hand-ends",
    "clock-untrusted",
    "clock-trusted",
    "gap",
    "try-drive",
    "try-contact",
    "try-ends",
    "curve-wrong",
    "opening-unconfirmed",
    "opening-confirmed",
    "light-drift",
    "sensor-corrected",
    "lamp-corrected",
    "correction-ends",
    "light-aged",
    "sensor-fallen",
    /* of the shell */
    "bus-back",
    "bus-lost",
    "clock-behind-journal",
    "clock-state",
    "clock-step",
    "crash-loop",
    "journal-back",
    "journal-damaged",
    "journal-waiting",
    "output-back",
    "output-fault",
    "prices-back",
    "prices-missing",
    "reading-back",
    "reading-lost",
    "reload",
    "reload-refused",
    "reload-warning",
    "started",
    "stop-unverified",
    "stopped",
    NULL,
};

const char *const *announce_kinds(void)
{
    return kinds;
}

bool announce_knows_kind(const char *word)
{
    for (size_t i = 0; kinds[i]; i++) {
        if (strcmp(kinds[i], word) == 0) {
            return true;
        }
    }
    return false;
}
