/* SPDX-License-Identifier: Apache-2.0 */
#include "daystart.h"

#include "parse.h"
#include <math.h>
#include <stdio.h>

enum {
    HOUR_S = 3600,
    DAY_S = 24 * HOUR_S,
    MORNING_S = 9 * HOUR_S,   /* a block that ends later leaves too much of the sun to the end */
    USUAL_END_S = 6 * HOUR_S, /* of the cheap night, where no tariff says it */
    SPARE_S = HOUR_S,
    LATEST_S = 8 * HOUR_S, /* to have something to spare; a block may end later */
};

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
    return sum;
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

static bool any_lit_before(const struct space_rules *rules, int32_t end_s)
{
    for (int i = 0; i < rules->stage_count; i++) {
        const struct lightday_window *window = &rules->stages[i].window;
        if (window->length_s > 0 &&
            (window->on_s < end_s || window->on_s + window->length_s > DAY_S)) {
            return true;
        }
    }
    return false;
}

struct daystart daystart_of(const struct space_rules *rules, int32_t cheap_end_s)
{
    if (!rules->sees_daylight || !rules->has_ppfd) {
        return (struct daystart){DAYSTART_INDOORS, uncut_start(rules), -1};
    }
    const bool has_block = cheap_end_s >= 0;
    const int32_t end_s = has_block ? cheap_end_s : USUAL_END_S;
    if (!any_lit_before(rules, end_s)) {
        return (struct daystart){DAYSTART_LATE, 0, end_s};
    }
    int32_t start_s = end_s;
    if (first_cut(rules, end_s) && end_s < LATEST_S) {
        start_s = end_s + SPARE_S < LATEST_S ? end_s + SPARE_S : LATEST_S;
    }
    return (struct daystart){has_block ? DAYSTART_CHEAP_BLOCK : DAYSTART_USUAL_NIGHT, start_s,
                             end_s};
}

static void put_reason(const struct daystart *start, const struct space_rules *rules, char *buffer,
                       size_t size)
{
    char end[16] = "then";
    const bool has_spare = start->start_s > start->night_end_s;
    const char *spare = has_spare ? ", with time to spare behind them" : "";
    if (start->night_end_s >= 0 && start->night_end_s != start->start_s) {
        parse_format_time_of_day(start->night_end_s, end, sizeof end);
    }
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
        (void)snprintf(buffer, size,
                       ": no stage is lit before %s, so no cheap hours could come last", end);
        break;
    case DAYSTART_CHEAP_BLOCK:
        (void)snprintf(buffer, size,
                       ": the cheap block of the tariff ends %s%s, so cheap hours come last, when "
                       "the day's sun is known%s",
                       has_spare ? "at " : "", end, spare);
        break;
    case DAYSTART_USUAL_NIGHT:
        (void)snprintf(buffer, size,
                       ": the hours before %s come last, when the day's sun is known%s", end,
                       spare);
        break;
    }
}

/* Lit hours in two pieces are right, but seldom expected. */
static void put_pieces(const struct stage *stage, int32_t start_s, char *buffer, size_t size)
{
    char on[16];
    char off[16];
    char start[16];
    const int32_t off_s = (stage->window.on_s + stage->window.length_s) % DAY_S;
    parse_format_time_of_day(stage->window.on_s, on, sizeof on);
    parse_format_time_of_day(off_s, off, sizeof off);
    parse_format_time_of_day(start_s, start, sizeof start);
    (void)snprintf(buffer, size,
                   "; the lit hours of stage %s, %s to %s, lie in it as %s to %s, then %s to %s",
                   stage->name, on, off, start, off, on, start);
}

void daystart_words(const struct daystart *start, const struct space_rules *rules, char *buffer,
                    size_t size)
{
    char from[16];
    char reason[160];
    char pieces[224] = "";
    const struct stage *cut = first_cut(rules, start->start_s);
    parse_format_time_of_day(start->start_s, from, sizeof from);
    put_reason(start, rules, reason, sizeof reason);
    if (cut) {
        put_pieces(cut, start->start_s, pieces, sizeof pieces);
    }
    (void)snprintf(buffer, size, "light day from %s%s%s", from, reason, pieces);
}
