/* SPDX-License-Identifier: Apache-2.0 */
#include "daystart.h"

#include "parse.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum {
    HOUR_S = 3600,
    DAY_S = 24 * HOUR_S,
    MORNING_S = 9 * HOUR_S, /* a block that ends later is no night */
    BEFORE_NOON_S = 5 * HOUR_S,
    RANGE_S = HOUR_S, /* that much later at most */
    SPARE_S = HOUR_S, /* behind the cheap block */
    EARLY_S = 7 * HOUR_S,
    ROUND_S = HOUR_S / 2,
};

static int32_t of_day(int64_t second)
{
    return (int32_t)(((second % DAY_S) + DAY_S) % DAY_S);
}

/* What rules and plain price ask at a second of the day, in the mean of weekdays and months. */
static double mean_price(const struct tariff *tariff, int second)
{
    double sum = 0;
    for (int month = 1; month <= 12; month++) {
        for (int weekday = 0; weekday < 7; weekday++) {
            const struct civil_time time = {
                .month = month, .day = 15, .weekday = weekday, .second = second};
            sum += tariff_rule_price(tariff, &time);
        }
    }
    return sum / (12 * 7);
}

int32_t daystart_cheap_end(const struct tariff *tariff)
{
    int32_t best_s = -1;
    double lowest = (double)INFINITY;
    for (int i = 0; i < 2 * tariff->rule_count; i++) {
        const struct tariff_rule *rule = &tariff->rules[i / 2];
        const int32_t edge_s = i % 2 == 0 ? rule->from_s : rule->to_s;
        if (edge_s <= 0 || edge_s > MORNING_S) {
            continue;
        }
        const double before = mean_price(tariff, edge_s - 1);
        if (before >= mean_price(tariff, edge_s)) {
            continue;
        }
        if (before < lowest || (before == lowest && edge_s > best_s)) {
            lowest = before;
            best_s = edge_s;
        }
    }
    return best_s;
}

/* Lit just before and just after that second of the day; a window without end has no pieces. */
static bool is_cut(const struct lightday_window *window, int32_t second)
{
    const int32_t since_s = (second - window->on_s + DAY_S) % DAY_S;
    return window->length_s < DAY_S && since_s > 0 && since_s < window->length_s;
}

static const struct stage *first_cut(const struct space_rules *rules, int32_t second)
{
    for (int i = 0; i < rules->stage_count; i++) {
        if (is_cut(&rules->stages[i].window, second)) {
            return &rules->stages[i];
        }
    }
    return NULL;
}

/* Midnight, else the first lights-on at which no stage is lit, else midnight. */
static int32_t uncut_start(const struct space_rules *rules)
{
    if (!first_cut(rules, 0)) {
        return 0;
    }
    for (int i = 0; i < rules->stage_count; i++) {
        const int32_t on_s = rules->stages[i].window.on_s;
        if (!first_cut(rules, on_s)) {
            return on_s;
        }
    }
    return 0;
}

/* Any stage lit in the hours before that start? */
static bool any_early(const struct space_rules *rules, int32_t start_s)
{
    const int32_t from_s = of_day(start_s - EARLY_S);
    for (int i = 0; i < rules->stage_count; i++) {
        const struct lightday_window *window = &rules->stages[i].window;
        const bool begins = of_day(window->on_s - from_s) < EARLY_S && window->length_s > 0;
        if (begins || of_day(from_s - window->on_s) < window->length_s) {
            return true;
        }
    }
    return false;
}

/* BEFORE_NOON_S before the sun is highest by the site's fixed time, to the half hour. */
static int32_t sun_start(const struct sun_site *sun)
{
    const double noon_s =
        12 * HOUR_S + (sun->has_place ? sun->utc_offset_s - sun->longitude * DAY_S / 360 : 0);
    return of_day(llround((noon_s - BEFORE_NOON_S) / ROUND_S) * ROUND_S);
}

struct daystart daystart_of(const struct space_rules *rules, int32_t cheap_end_s)
{
    if (!rules->sees_daylight || !rules->has_ppfd) {
        return (struct daystart){DAYSTART_INDOORS, uncut_start(rules), -1, -1};
    }
    int32_t start_s = sun_start(&rules->sun);
    if (cheap_end_s >= 0) {
        const int32_t later_s = of_day(cheap_end_s + SPARE_S - start_s);
        const bool is_earlier = later_s > DAY_S / 2;
        start_s = of_day(start_s + (is_earlier ? 0 : later_s < RANGE_S ? later_s : RANGE_S));
    }
    if (!any_early(rules, start_s)) {
        return (struct daystart){DAYSTART_LATE, uncut_start(rules), -1, start_s};
    }
    return (struct daystart){cheap_end_s >= 0 ? DAYSTART_CHEAP_BLOCK : DAYSTART_SUN, start_s,
                             cheap_end_s, -1};
}

static void put_block(const struct daystart *start, char *buffer, size_t size)
{
    char end[16];
    parse_format_time_of_day(start->cheap_end_s, end, sizeof end);
    (void)snprintf(
        buffer, size,
        ": the cheap block of the tariff ends %s%s, so %scheap hours come last, when the "
        "day's sun is known%s",
        start->cheap_end_s == start->start_s ? "then" : "at ",
        start->cheap_end_s == start->start_s ? "" : end,
        start->cheap_end_s > start->start_s ? "most " : "",
        start->cheap_end_s < start->start_s ? ", with time to spare behind them" : "");
}

static void put_reason(const struct daystart *start, const struct space_rules *rules, char *buffer,
                       size_t size)
{
    char wanted[16];
    switch (start->reason) {
    case DAYSTART_GIVEN:
        (void)snprintf(buffer, size, ", as light_day_start says");
        break;
    case DAYSTART_INDOORS:
        (void)snprintf(buffer, size, ": %s",
                       start->start_s == 0 || first_cut(rules, start->start_s)
                           ? "without daylight any start is as good"
                           : "so it cuts no stage's lit hours");
        break;
    case DAYSTART_LATE:
        parse_format_time_of_day(start->wanted_s, wanted, sizeof wanted);
        (void)snprintf(buffer, size,
                       ": no stage is lit before %s, so there are no hours to put last", wanted);
        break;
    case DAYSTART_CHEAP_BLOCK:
        put_block(start, buffer, size);
        break;
    case DAYSTART_SUN:
        (void)snprintf(buffer, size,
                       ": the hours before it come last, when the day's sun is known");
        break;
    }
}

/* Lit hours in two pieces are right, but seldom expected. */
static void add_pieces(const struct stage *stage, int32_t start_s, char *buffer, size_t size)
{
    const size_t used = strlen(buffer);
    char on[16];
    char off[16];
    char start[16];
    const int32_t off_s = (stage->window.on_s + stage->window.length_s) % DAY_S;
    parse_format_time_of_day(stage->window.on_s, on, sizeof on);
    parse_format_time_of_day(off_s, off, sizeof off);
    parse_format_time_of_day(start_s, start, sizeof start);
    (void)snprintf(buffer + used, size - used,
                   "; the lit hours of stage %s, %s to %s, lie in it as %s to %s, then %s to %s",
                   stage->name, on, off, start, off, on, start);
}

void daystart_words(const struct daystart *start, const struct space_rules *rules, char *buffer,
                    size_t size)
{
    char from[16];
    char reason[160];
    parse_format_time_of_day(start->start_s, from, sizeof from);
    put_reason(start, rules, reason, sizeof reason);
    (void)snprintf(buffer, size, "light day from %s%s", from, reason);
    for (int i = 0; i < rules->stage_count; i++) {
        if (is_cut(&rules->stages[i].window, start->start_s)) {
            add_pieces(&rules->stages[i], start->start_s, buffer, size);
        }
    }
}
