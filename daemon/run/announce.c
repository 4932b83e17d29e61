/* SPDX-License-Identifier: Apache-2.0 */
#include "announce.h"

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

void announce(struct journal *journal, const struct announce_place *place,
              enum journal_class class, const char *kind, double a, double b, const char *text)
{
    struct journal_event event = {.wall_s = place->wall_s,
                                  .light_day = place->wall_s / UNITS_S_PER_DAY,
                                  .class = class,
                                  .a = a,
                                  .b = b};
    (void)snprintf(event.space, sizeof event.space, "%s", place->space ? place->space : "");
    (void)snprintf(event.fixture, sizeof event.fixture, "%s", place->fixture ? place->fixture : "");
    (void)snprintf(event.kind, sizeof event.kind, "%s", kind);
    (void)snprintf(event.text, sizeof event.text, "%s", text);
    announce_log(&event);
    if (journal) {
        (void)journal_put_event(journal, &event); /* a loss is counted there */
    }
}
