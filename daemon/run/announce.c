/* SPDX-License-Identifier: Apache-2.0 */
#include "announce.h"

#include "alarm.h"
#include "log.h"
#include "units.h"

#include <stdio.h>

static enum log_level level_of(enum journal_class class)
{
    switch (class) {
    case JOURNAL_INFO:
        return LOG_LEVEL_INFO;
    case JOURNAL_NOTICE:
        return LOG_LEVEL_WARNING;
    case JOURNAL_ALARM:
        return LOG_LEVEL_ALERT;
    }
    return LOG_LEVEL_ALERT;
}

void announce_log(const struct journal_event *event)
{
    enum log_level level = level_of(event->class);
    if (event->space[0] && event->fixture[0]) {
        log_line(level, "%s, fixture %s: %s", event->space, event->fixture, event->text);
    } else if (event->space[0]) {
        log_line(level, "%s: %s", event->space, event->text);
    } else {
        log_line(level, "%s", event->text);
    }
}

void announce(struct journal *journal, struct alarms *alarms, const struct announcement *what,
              const char *text)
{
    struct journal_event event = {
        .wall_s = what->wall_s,
        .light_day = what->wall_s / UNITS_S_PER_DAY,
        .class = what->class,
        .a = what->has_values ? what->a : UNITS_NONE,
        .b = what->has_values ? what->b : UNITS_NONE,
    };
    (void)snprintf(event.space, sizeof event.space, "%s", what->space ? what->space : "");
    (void)snprintf(event.fixture, sizeof event.fixture, "%s", what->fixture ? what->fixture : "");
    (void)snprintf(event.kind, sizeof event.kind, "%s", what->kind);
    (void)snprintf(event.text, sizeof event.text, "%s", text);
    announce_log(&event);
    alarms_note(alarms, &event);
    (void)journal_put_event(journal, &event); /* a loss is counted there */
}
