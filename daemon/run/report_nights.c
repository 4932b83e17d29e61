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

#define MINUTE_S  60
#define GAP_MAX_S (6 * 3600) /* a longer hole in the record may hide a day */
#define LIT_LEVEL 0.0005
#define SKY_MOL   0.01 /* more daylight than noise in a day: the sensor sees the sky */
#define LONGEST_S (2 * UNITS_S_PER_DAY)

/* What is being put together. */
struct gathering {
    struct report_nights *report;
    struct night_days days;
    int day_room, night_room;
    bool is_open;   /* the last night still grows */
    int64_t last_s; /* start of the minute before; 0: none yet */
    bool was_lit;   /* … which lay in the window */
    struct night
        bridge; /* what is not night by its limiter, and may turn out to be a break of one */
    bool has_bridge;
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

static struct night *add_night(struct gathering *its, const struct night *night)
{
    struct report_nights *report = its->report;
    if (report->count == its->night_room) {
        const int room = its->night_room ? 2 * its->night_room : 8;
        struct night *nights = realloc(report->nights, (size_t)room * sizeof *nights);
        if (!nights) {
            return NULL;
        }
        report->nights = nights;
        its->night_room = room;
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
        if (!add_night(its, &night)) {
            return false;
        }
        its->is_open = true;
    }
    note_minute(&its->report->nights[its->report->count - 1], minute);
    return true;
}

static int take_minute(const struct journal_minute *minute, void *context)
{
    struct gathering *its = context;
    const struct night_day *day = night_days_find(&its->days, minute->light_day);
    const bool is_night = minute->limiter == LIMITER_NIGHT;
    const bool is_next = its->last_s != 0 && minute->wall_s - its->last_s <= MINUTE_S;
    if (its->last_s != 0 && minute->wall_s - its->last_s > GAP_MAX_S) {
        end_night(its, false);
    }
    if (day && !day->has_stage) { /* nobody asks for a night */
        end_night(its, false);
    } else if (!is_night) {
        take_lit(its, minute);
    } else if (!take_dark(its, minute, is_next)) {
        return -ENOMEM;
    }
    its->last_s = minute->wall_s;
    its->was_lit = !is_night && (!day || day->has_stage);
    return 0;
}

static int compare_nights(const void *a, const void *b)
{
    const struct night *left = a;
    const struct night *right = b;
    return (left->from_s > right->from_s) - (left->from_s < right->from_s);
}

/* Nights of which the summaries alone are left: from a day's last lights-off to the next one's
 * first lights-on. They come before those with minutes, which are the younger ones. */
static int add_summaries(struct gathering *its, int64_t first)
{
    const int64_t oldest = its->report->count > 0 ? its->report->nights[0].light_day : INT64_MAX;
    const int known = its->report->count;
    for (int i = 0; i + 1 < its->days.count; i++) {
        const struct night_day *day = &its->days.days[i];
        const struct night_day *next = &its->days.days[i + 1];
        const bool is_told = day->has_stage && day->lights_off_s > 0 &&
                             next->lights_on_s > day->lights_off_s &&
                             next->lights_on_s - day->lights_off_s < UNITS_S_PER_DAY;
        if (day->light_day < first || day->light_day >= oldest || !is_told) {
            continue;
        }
        const struct night night = {.light_day = day->light_day,
                                    .last_day = next->light_day,
                                    .from_s = day->lights_off_s,
                                    .to_s = next->lights_on_s,
                                    .open_from_s = day->lights_off_s,
                                    .open_to_s = next->lights_on_s,
                                    .is_from_seen = true,
                                    .is_to_seen = true,
                                    .is_summary = true};
        if (!add_night(its, &night)) {
            return -ENOMEM;
        }
    }
    if (its->report->count > known) { /* the older ones to the front */
        qsort(its->report->nights, (size_t)its->report->count, sizeof *its->report->nights,
              compare_nights);
    }
    return 0;
}

/* Whether another night has a part of that light day too: then its sums are not one night's. */
static bool is_shared(const struct report_nights *report, int index, int64_t light_day)
{
    const bool before = index > 0 && report->nights[index - 1].last_day >= light_day;
    const bool behind =
        index + 1 < report->count && report->nights[index + 1].light_day <= light_day;
    return before || behind;
}

/* By the sums of its light days, as far as they are this night's alone. */
static void sum_night(const struct gathering *its, int index)
{
    struct night *night = &its->report->nights[index];
    if (night->last_day - night->light_day > 2) { /* the record is damaged */
        night->dose_umol_m2 = night->longest_s = night->possible_umol_m2 = UNITS_NONE;
        return;
    }
    for (int64_t d = night->light_day; d <= night->last_day; d++) {
        const struct night_day *day = night_days_find(&its->days, d);
        const bool is_shared_day = is_shared(its->report, index, d);
        if (!day) {
            night->dose_umol_m2 = night->longest_s = night->possible_umol_m2 = UNITS_NONE;
            continue;
        }
        night->under_sky = night->under_sky || day->daylight_mol >= SKY_MOL;
        night->most_umol_m2 += day->dose_umol_m2;
        night->dose_umol_m2 +=
            is_shared_day && day->dose_umol_m2 > 0 ? UNITS_NONE : day->dose_umol_m2;
        night->possible_umol_m2 +=
            is_shared_day && day->possible_umol_m2 > 0 ? UNITS_NONE : day->possible_umol_m2;
        const double longest_s = is_shared_day && day->longest_s > 0 ? UNITS_NONE : day->longest_s;
        night->longest_s = units_known(longest_s) && units_known(night->longest_s)
                               ? fmax(night->longest_s, longest_s)
                               : UNITS_NONE;
    }
}

/* Nights that begin outside [first, last] were read to know where the others begin and end. */
static void keep_between(struct report_nights *report, int64_t first, int64_t last)
{
    int count = 0;
    for (int i = 0; i < report->count; i++) {
        if (report->nights[i].light_day >= first && report->nights[i].light_day <= last) {
            report->nights[count++] = report->nights[i];
        }
    }
    report->count = count;
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
    const struct journal_range minutes = {report->space, day->begin_s - margin_s, to_s};
    result = journal_read_minutes(reader, &minutes, take_minute, its, err);
    if (result == 0 && !choice->only) {
        result = add_summaries(its, choice->first);
    }
    for (int i = 0; i < report->count && result == 0; i++) {
        sum_night(its, i);
        report->nights[i].is_cut = choice->only != NULL;
    }
    keep_between(report, choice->first, choice->last);
    return result == 0 ? report_nights_events(report, reader, day->begin_s - LONGEST_S, to_s, err)
                       : result;
}

static int create(struct journal_reader *reader, const struct choice *choice,
                  struct report_nights **ret, struct err *err)
{
    struct gathering its = {.report = calloc(1, sizeof *its.report)};
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
