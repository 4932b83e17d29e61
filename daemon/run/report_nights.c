/* SPDX-License-Identifier: Apache-2.0 */
/* Gathering nights: from minutes, and from the sums of light days where those are gone. */
#include "report_nights.h"

#include "err.h"
#include "report.h"
#include "report_nights_parts.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define MINUTE_S      60
#define GAP_MAX_S     (6 * 3600) /* a longer hole in the record may hide a day */
#define LIT_LEVEL     0.0005
#define LONGEST_S     (2 * UNITS_S_PER_DAY)
#define NIGHT_ANY_DAY INT64_MIN

/* What is being put together. */
struct gathering {
    struct report_nights *report;
    struct night_days days;
    int day_room;
    int64_t only_day; /* NIGHT_ANY_DAY: minutes of every light day count */
    bool is_open;     /* the last night still grows */
    int64_t last_s;   /* start of the minute before; 0: none yet */
    bool was_lit;     /* … which lay in the window */
    struct night
        bridge; /* what is not night by its limiter, and may turn out to be a break of one */
    bool has_bridge;
    double dose_before_umol_m2;     /* of the guard, a minute ago; NaN: it guarded no night */
    double possible_before_umol_m2; /* of the light day, when it was last told */
    int64_t possible_day;
};

const struct night_day *night_days_find(const struct night_days *days, int64_t light_day)
{
    int low = 0;
    int high = days->count;
    while (low < high) {
        const int middle = low + (high - low) / 2;
        if (days->days[middle].light_day < light_day) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low < days->count && days->days[low].light_day == light_day ? &days->days[low] : NULL;
}

static int keep_day(const struct journal_day *day, void *context)
{
    struct gathering *its = context;
    if (its->days.count == its->day_room) {
        const int room = its->day_room ? 2 * its->day_room : 32;
        struct night_day *days = realloc(its->days.days, (size_t)room * sizeof *days);
        if (!days) {
            return -ENOMEM;
        }
        its->days.days = days;
        its->day_room = room;
    }
    const struct day_summary *summary = &day->summary;
    its->report->utc_offset_s = day->utc_offset_s;
    its->days.days[its->days.count++] = (struct night_day){
        .light_day = summary->light_day,
        .begin_s = day->begin_s,
        .dose_umol_m2 = summary->night_dose_umol_m2,
        .longest_s = summary->night_longest_s,
        .possible_umol_m2 = summary->night_possible_umol_m2,
        .daylight_mol = summary->integral.daylight_mol,
        .has_stage = day->stage[0] != '\0',
        .lights_on_s = summary->lights_on_s,
        .lights_off_s = summary->lights_off_s,
    };
    return 0;
}

struct night *report_nights_add(struct report_nights *report, const struct night *night)
{
    if (report->count == report->room) {
        const int room = report->room ? 2 * report->room : 8;
        struct night *nights = realloc(report->nights, (size_t)room * sizeof *nights);
        if (!nights) {
            return NULL;
        }
        report->nights = nights;
        report->room = room;
    }
    report->nights[report->count] = *night;
    return &report->nights[report->count++];
}

static void note_minute(struct night *night, const struct journal_minute *minute)
{
    night->to_s = minute->wall_s + MINUTE_S;
    night->last_day = minute->light_day;
    night->recorded_s += MINUTE_S;
    if (minute->quality == READING_GOOD && units_known(minute->ppfd_umol)) {
        night->seen_s += MINUTE_S;
    }
    if (minute->level > LIT_LEVEL) {
        night->lit_first_s = night->lit_first_s ? night->lit_first_s : minute->wall_s;
        night->lit_last_s = minute->wall_s;
    }
}

/* What the guard counted: its sums grow through the night, whatever light day it lies in, and begin
 * again where it lost them. */
static void note_guard(struct gathering *its, struct night *night,
                       const struct journal_minute *minute)
{
    const double dose = minute->night_dose_umol_m2;
    const double possible = minute->night_possible_umol_m2;
    if (!units_known(dose)) {
        its->dose_before_umol_m2 = UNITS_NONE;
        return;
    }
    const bool is_same_day = its->possible_day == minute->light_day;
    const double before = its->dose_before_umol_m2 <= dose ? its->dose_before_umol_m2 : 0;
    const double possible_before_umol_m2 =
        is_same_day && its->possible_before_umol_m2 <= possible ? its->possible_before_umol_m2 : 0;
    its->dose_before_umol_m2 = dose;
    its->possible_before_umol_m2 = possible;
    its->possible_day = minute->light_day;
    if (night) {
        night->guarded_s += MINUTE_S;
        night->guard_dose_umol_m2 += dose - before;
        night->guard_possible_umol_m2 += possible - possible_before_umol_m2;
        night->guard_longest_s = fmax(night->guard_longest_s, minute->night_longest_s);
    }
}

/* Limiters that rule only where the plan has a word: in the window. */
static bool is_of_window(enum limiter limiter)
{
    return limiter == LIMITER_PLAN || limiter == LIMITER_TARGET_MET ||
           limiter == LIMITER_FULL_LIGHT || limiter == LIMITER_DAWN || limiter == LIMITER_DUSK ||
           limiter == LIMITER_SENSOR_LOST;
}

static void end_night(struct gathering *its, bool is_seen)
{
    if (its->is_open) {
        its->report->nights[its->report->count - 1].is_to_seen = is_seen;
    }
    its->is_open = its->has_bridge = false;
    its->dose_before_umol_m2 = UNITS_NONE;
}

/* A hand that lit the night, now that the night goes on behind it. */
static void join_bridge(struct gathering *its)
{
    struct night *night = &its->report->nights[its->report->count - 1];
    const struct night *bridge = &its->bridge;
    night->recorded_s += bridge->recorded_s;
    night->seen_s += bridge->seen_s;
    if (bridge->lit_first_s) {
        night->lit_first_s = night->lit_first_s ? night->lit_first_s : bridge->lit_first_s;
        night->lit_last_s = bridge->lit_last_s;
    }
    its->has_bridge = false;
}

static void take_lit(struct gathering *its, const struct journal_minute *minute)
{
    if (!its->is_open) {
        return;
    }
    const bool may_begin = /* a hand, or a rule that this program does not know */
        minute->limiter == LIMITER_BY_HAND || minute->limiter == LIMITER_COUNT;
    if (is_of_window(minute->limiter) || (!its->has_bridge && !may_begin)) {
        end_night(its, true);
        return;
    }
    if (!its->has_bridge) {
        its->bridge = (struct night){.light_day = minute->light_day, .from_s = minute->wall_s};
        its->has_bridge = true;
    }
    note_minute(&its->bridge, minute);
}

static bool take_dark(struct gathering *its, const struct journal_minute *minute, bool is_next)
{
    if (its->is_open && its->has_bridge) {
        join_bridge(its);
    }
    if (!its->is_open) {
        const struct night night = {.light_day = minute->light_day,
                                    .from_s = minute->wall_s,
                                    .is_from_seen = is_next && its->was_lit};
        if (!report_nights_add(its->report, &night)) {
            return false;
        }
        its->is_open = true;
    }
    struct night *night = &its->report->nights[its->report->count - 1];
    note_minute(night, minute);
    note_guard(its, night, minute);
    return true;
}

static int take_minute(const struct journal_minute *minute, void *context)
{
    struct gathering *its = context;
    const struct night_day *day = night_days_find(&its->days, minute->light_day);
    const bool is_night =
        minute->limiter == LIMITER_NIGHT || units_known(minute->night_dose_umol_m2);
    const bool is_next = its->last_s != 0 && minute->wall_s - its->last_s <= MINUTE_S;
    if (its->last_s != 0 && minute->wall_s - its->last_s > GAP_MAX_S) {
        end_night(its, false);
    }
    if (its->only_day != NIGHT_ANY_DAY && minute->light_day != its->only_day) {
        note_guard(its, NULL, minute); /* what it counted before this light day */
    } else if (day && !day->has_stage) {
        end_night(its, false); /* nobody asks for a night */
    } else if (!is_night) {
        take_lit(its, minute);
    } else if (!take_dark(its, minute, is_next)) {
        return -ENOMEM;
    }
    its->last_s = minute->wall_s;
    its->was_lit = !is_night && (!day || day->has_stage);
    return 0;
}

/* Which nights: those that begin in these light days, both of them; or the night hours of one light
 * day, cut to it. */
struct choice {
    const char *space;
    int64_t first, last;
    const struct journal_day *only; /* NULL: not cut */
};

/* The day itself, or those around: where nights begin and end is seen in their neighbours. */
static int gather_days(struct gathering *its, struct journal_reader *reader,
                       const struct choice *choice, struct err *err)
{
    const struct journal_range range = {choice->space, choice->first - 1, choice->last + 2};
    return choice->only ? keep_day(choice->only, its)
                        : journal_read_days(reader, &range, keep_day, its, err);
}

static const struct night_day *first_day(const struct gathering *its, const struct choice *choice)
{
    for (int i = 0; i < its->days.count; i++) {
        const int64_t light_day = its->days.days[i].light_day;
        if (light_day >= choice->first && light_day <= choice->last) {
            return &its->days.days[i];
        }
    }
    return NULL;
}

/* The days, then their minutes, then the events. */
static int gather(struct gathering *its, struct journal_reader *reader, const struct choice *choice,
                  struct err *err)
{
    struct report_nights *report = its->report;
    int result = gather_days(its, reader, choice, err);
    if (result != 0) {
        return result;
    }
    const struct night_day *day = first_day(its, choice);
    if (!day) {
        return report_no_day(reader, report->space, choice->first, err);
    }
    const int64_t margin_s = choice->only ? 0 : UNITS_S_PER_DAY;
    const int64_t to_s =
        day->begin_s + (choice->last - day->light_day + 1) * UNITS_S_PER_DAY + margin_s;
    const int64_t from_s = day->begin_s - (choice->only ? MINUTE_S : margin_s);
    const struct journal_range minutes = {report->space, from_s, to_s};
    result = journal_read_minutes(reader, &minutes, take_minute, its, err);
    if (result == 0 && !choice->only) {
        result = report_nights_summaries(report, &its->days, choice->first);
    }
    for (int i = 0; i < report->count && result == 0; i++) {
        report_nights_sum(report, &its->days, i);
        report->nights[i].is_cut = choice->only != NULL;
    }
    report_nights_keep(report, choice->first, choice->last);
    return result == 0 ? report_nights_events(report, reader, day->begin_s - LONGEST_S, to_s, err)
                       : result;
}

static int create(struct journal_reader *reader, const struct choice *choice,
                  struct report_nights **ret, struct err *err)
{
    struct gathering its = {
        .report = calloc(1, sizeof *its.report),
        .only_day = choice->only ? choice->first : NIGHT_ANY_DAY,
        .dose_before_umol_m2 = UNITS_NONE,
        .possible_before_umol_m2 = UNITS_NONE,
    };
    int result = -ENOMEM;
    if (its.report) {
        (void)snprintf(its.report->space, sizeof its.report->space, "%s", choice->space);
        result = gather(&its, reader, choice, err);
    }
    free(its.days.days);
    if (result == -ENOMEM) {
        (void)err_fail(err, ENOMEM, "no memory for the report");
    }
    if (result != 0) {
        report_nights_destroy(its.report);
        return result;
    }
    *ret = its.report;
    return 0;
}

int report_nights_create(struct journal_reader *reader, const char *space, int64_t first,
                         int64_t last, struct report_nights **ret, struct err *err)
{
    return create(reader, &(struct choice){space, first, last, NULL}, ret, err);
}

int report_nights_newest(struct journal_reader *reader, const char *space, int dates,
                         struct report_nights **ret, struct err *err)
{
    int64_t first = 0;
    int64_t last = 0;
    const int result = journal_read_day_range(reader, space, &first, &last, err);
    return result == 0
               ? create(reader, &(struct choice){space, last - dates + 1, last, NULL}, ret, err)
               : result;
}

int report_nights_within(struct journal_reader *reader, const struct journal_day *day,
                         struct report_nights **ret, struct err *err)
{
    const int64_t light_day = day->summary.light_day;
    const struct choice choice = {day->space, light_day, light_day, day};
    const int result = create(reader, &choice, ret, err);
    if (result == 0) {
        (*ret)->utc_offset_s = day->utc_offset_s;
    }
    return result;
}

void report_nights_destroy(struct report_nights *report)
{
    if (report) {
        free(report->nights);
        free(report);
    }
}
