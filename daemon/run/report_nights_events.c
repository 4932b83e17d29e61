/* SPDX-License-Identifier: Apache-2.0 */
/* What the events say of the nights: when the switches were open, what broke the dark and why. */
#include "decide.h"
#include "report_nights_parts.h"
#include "units.h"

#include <string.h>

#define EDGE_S 90  /* between an event and the minute that it is found in */
#define LATE_S 900 /* a contact that does not open is told some minutes after its light */

/* What holds at the moment that the walk has come to. */
struct walk {
    struct report_nights *report;
    int64_t off_s; /* last lights-off without lights-on behind it; 0: none */
    int64_t hand_until_s;
    char hand[sizeof((struct journal_event *)0)->text];
    int tries; /* outputs moved by hand */
    char try_text[sizeof((struct journal_event *)0)->text];
    int stuck; /* contacts that did not open */
    char stuck_text[sizeof((struct journal_event *)0)->text];
    struct night_break *open; /* the break that still lasts */
    struct night *of;         /* the night it is in */
    double booked_umol_m2;    /* dose of the night at the end of its break before */
};

static bool is_kind(const struct journal_event *event, enum core_event kind)
{
    return strcmp(event->kind, decide_event_name(kind)) == 0;
}

static struct night *night_at(const struct report_nights *report, int64_t wall_s)
{
    for (int i = 0; i < report->count; i++) {
        if (wall_s >= report->nights[i].from_s && wall_s < report->nights[i].to_s) {
            return &report->nights[i];
        }
    }
    return NULL;
}

static void take_lights(struct walk *walk, const struct journal_event *event)
{
    const bool is_on = is_kind(event, EVENT_LIGHTS_ON);
    for (int i = 0; i < walk->report->count; i++) {
        struct night *night = &walk->report->nights[i];
        if (night->is_summary) {
            continue;
        }
        if (is_on && event->wall_s < night->from_s - EDGE_S) {
            night->open_from_s = 0; /* on again before the night */
        } else if (!is_on && event->wall_s <= night->from_s + EDGE_S) {
            night->open_from_s = event->wall_s;
        } else if (is_on && event->wall_s >= night->to_s - EDGE_S && night->open_to_s == 0) {
            night->open_to_s = event->wall_s;
        }
    }
}

/* Hands, tries and contacts: what may be the cause of a light. */
static void take_causes(struct walk *walk, const struct journal_event *event)
{
    if (is_kind(event, EVENT_HAND_BEGINS)) {
        const double length_s = event->b > 0 && event->b < 1e6 ? event->b : 0;
        walk->hand_until_s = event->wall_s + (int64_t)length_s + EDGE_S;
        memcpy(walk->hand, event->text, sizeof walk->hand);
    } else if (is_kind(event, EVENT_HAND_ENDS)) {
        walk->hand_until_s = 0;
    } else if (is_kind(event, EVENT_TRY_CONTACT) || is_kind(event, EVENT_TRY_DRIVE)) {
        walk->tries++;
        memcpy(walk->try_text, event->text, sizeof walk->try_text);
    } else if (is_kind(event, EVENT_TRY_ENDS)) {
        walk->tries -= walk->tries > 0;
    } else if (is_kind(event, EVENT_SWITCH_STUCK)) {
        walk->stuck++;
        memcpy(walk->stuck_text, event->text, sizeof walk->stuck_text);
    } else if (is_kind(event, EVENT_SWITCH_FREED)) {
        walk->stuck -= walk->stuck > 0;
    }
}

static void say_cause(const struct walk *walk, const struct night *night, int64_t wall_s,
                      struct night_break *ret)
{
    const char *text = "no lamp of this space was told to give it: a door, a torch, another lamp?";
    ret->cause = NIGHT_CAUSE_OTHER;
    if (wall_s < walk->hand_until_s) {
        ret->cause = NIGHT_CAUSE_HAND;
        text = walk->hand;
    } else if (walk->tries > 0) {
        ret->cause = NIGHT_CAUSE_TRY;
        text = walk->try_text;
    } else if (walk->stuck > 0) {
        ret->cause = NIGHT_CAUSE_SWITCH;
        text = walk->stuck_text;
    } else if (night->lit_first_s != 0 && wall_s >= night->lit_first_s &&
               wall_s < night->lit_last_s + EDGE_S) {
        ret->cause = NIGHT_CAUSE_LAMP;
        text = "the lamps were told to burn";
    }
    (void)snprintf(ret->text, sizeof ret->text, "%s", text);
}

static void begin_break(struct walk *walk, struct night *night, const struct journal_event *event)
{
    if (walk->of != night) {
        walk->booked_umol_m2 = 0;
        walk->of = night;
    }
    if (night->break_count == NIGHT_BREAKS_MAX) {
        night->breaks_left_out++;
        walk->open = NULL;
        return;
    }
    walk->open = &night->breaks[night->break_count++];
    *walk->open = (struct night_break){
        .from_s = event->wall_s, .peak_umol = event->a, .dose_umol_m2 = UNITS_NONE};
    say_cause(walk, night, event->wall_s, walk->open);
}

static void end_break(struct walk *walk, struct night *night, const struct journal_event *event)
{
    if (walk->open && walk->of == night) {
        walk->open->to_s = event->wall_s;
        walk->open->dose_umol_m2 = event->a - walk->booked_umol_m2;
    }
    walk->open = NULL;
    walk->of = night;
    walk->booked_umol_m2 = event->a;
    /* the night's own counters: surer than sums that it shares with the night beside it */
    night->dose_umol_m2 = units_known(night->dose_umol_m2) ? night->dose_umol_m2 : event->a;
    night->longest_s = units_known(night->longest_s) ? night->longest_s : event->b;
}

static void take_night(struct walk *walk, const struct journal_event *event)
{
    struct night *night = night_at(walk->report, event->wall_s);
    if (is_kind(event, EVENT_SWITCH_STUCK) && walk->open &&
        walk->open->cause == NIGHT_CAUSE_OTHER && event->wall_s - walk->open->from_s <= LATE_S) {
        walk->open->cause = NIGHT_CAUSE_SWITCH; /* told later than its light was */
        (void)snprintf(walk->open->text, sizeof walk->open->text, "%s", event->text);
    }
    if (!night) {
        return;
    }
    if (is_kind(event, EVENT_NIGHT_BREAK)) {
        begin_break(walk, night, event);
    } else if (is_kind(event, EVENT_NIGHT_BREAK_ENDS)) {
        end_break(walk, night, event);
    }
}

/* Told some seconds after lights-off, or at any time before, and not confirmed since. */
static void take_openings(struct walk *walk, const struct journal_event *event)
{
    for (int i = 0; i < walk->report->count; i++) {
        struct night *night = &walk->report->nights[i];
        if (event->wall_s >= night->to_s) {
            continue;
        }
        if (is_kind(event, EVENT_OPENING_UNCONFIRMED)) {
            night->unsure++;
        } else if (event->wall_s < night->from_s) {
            night->unsure -= night->unsure > 0;
        }
    }
}

static int take_event(const struct journal_event *event, void *context)
{
    struct walk *walk = context;
    if (is_kind(event, EVENT_LIGHTS_ON) || is_kind(event, EVENT_LIGHTS_OFF)) {
        take_lights(walk, event);
    }
    if (is_kind(event, EVENT_OPENING_UNCONFIRMED) || is_kind(event, EVENT_OPENING_CONFIRMED)) {
        take_openings(walk, event);
    }
    take_causes(walk, event);
    take_night(walk, event);
    return 0;
}

int report_nights_events(struct report_nights *report, struct journal_reader *reader,
                         int64_t from_s, int64_t to_s, struct err *err)
{
    struct walk walk = {.report = report};
    const struct journal_range range = {report->space, from_s, to_s};
    const int result = journal_read_events(reader, &range, take_event, &walk, err);
    for (int i = 0; i < report->count; i++) {
        struct night *night = &report->nights[i];
        if (night->unsure == 0 && !night->is_summary) {
            night->possible_umol_m2 = 0; /* what its light days had was of the night beside it */
        }
    }
    return result;
}
