/* SPDX-License-Identifier: Apache-2.0 */
#include "lightday.h"

#include "units.h"

/* Division that rounds down: moments before 1970 belong to the day that began before them. */
static int64_t floor_div(int64_t value, int64_t by)
{
    int64_t quotient = value / by;
    return value % by < 0 ? quotient - 1 : quotient;
}

static int64_t floor_mod(int64_t value, int64_t by)
{
    int64_t rest = value % by;
    return rest < 0 ? rest + by : rest;
}

static bool is_always_lit(const struct lightday_window *window)
{
    return window->length_s >= UNITS_S_PER_DAY;
}

int64_t lightday_of(const struct lightday_rules *rules, int64_t wall_s)
{
    return floor_div(wall_s + rules->utc_offset_s - rules->start_s, UNITS_S_PER_DAY);
}

int64_t lightday_begin(const struct lightday_rules *rules, int64_t day)
{
    return day * UNITS_S_PER_DAY + rules->start_s - rules->utc_offset_s;
}

int32_t lightday_second(const struct lightday_rules *rules, int64_t wall_s)
{
    return (int32_t)floor_mod(wall_s + rules->utc_offset_s, UNITS_S_PER_DAY);
}

static struct lightday_place place_always_lit(const struct lightday_rules *rules, int64_t wall_s)
{
    int64_t begin_s = lightday_begin(rules, lightday_of(rules, wall_s));
    return (struct lightday_place){
        .is_lit = true,
        .is_always = true,
        .since_on_s = wall_s - begin_s + UNITS_S_PER_DAY,
        .until_off_s = begin_s + 2 * UNITS_S_PER_DAY - wall_s,
        .until_on_s = 0,
    };
}

struct lightday_place lightday_place(const struct lightday_rules *rules,
                                     const struct lightday_window *window, int64_t wall_s)
{
    if (is_always_lit(window)) {
        return place_always_lit(rules, wall_s);
    }
    int64_t since_on_s = floor_mod(wall_s + rules->utc_offset_s - window->on_s, UNITS_S_PER_DAY);
    if (since_on_s < window->length_s) {
        return (struct lightday_place){
            .is_lit = true,
            .since_on_s = since_on_s,
            .until_off_s = window->length_s - since_on_s,
            .until_on_s = 0,
        };
    }
    return (struct lightday_place){
        .is_lit = false,
        .since_on_s = -1,
        .until_off_s = -1,
        .until_on_s = window->length_s > 0 ? UNITS_S_PER_DAY - since_on_s : -1,
    };
}

int lightday_pieces(const struct lightday_rules *rules, const struct lightday_window *window,
                    int64_t wall_s, struct lightday_piece ret_pieces[2])
{
    int64_t begin_s = lightday_begin(rules, lightday_of(rules, wall_s));
    int64_t end_s = begin_s + UNITS_S_PER_DAY;
    if (is_always_lit(window)) {
        ret_pieces[0] = (struct lightday_piece){
            .from_s = wall_s,
            .to_s = end_s,
            .window_on_s = begin_s - UNITS_S_PER_DAY,
            .window_off_s = end_s + UNITS_S_PER_DAY,
        };
        return 1;
    }
    /* Two windows can reach into this light day: yesterday's rest and today's. */
    int64_t today_s = begin_s + floor_mod(window->on_s - rules->start_s, UNITS_S_PER_DAY);
    int count = 0;
    for (int64_t on_s = today_s - UNITS_S_PER_DAY; on_s <= today_s; on_s += UNITS_S_PER_DAY) {
        int64_t off_s = on_s + window->length_s;
        int64_t from_s = on_s > wall_s ? on_s : wall_s;
        int64_t to_s = off_s < end_s ? off_s : end_s;
        if (from_s < to_s) {
            ret_pieces[count++] = (struct lightday_piece){from_s, to_s, on_s, off_s};
        }
    }
    return count;
}
