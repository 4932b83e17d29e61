/* SPDX-License-Identifier: Apache-2.0 */
#include "heat.h"

#include "units.h"

/* Samples running at or above trip_c: one or two may be disturbances on the line, three are heat.
 */
#define HOT_SAMPLES_TO_TRIP 3

void heat_reset(struct heat *heat)
{
    *heat = (struct heat){
        .filtered_c = UNITS_NONE,
        .cap = 1,
        .max_c = UNITS_NONE,
        .seen_ns = INT64_MIN,
        .last_c = UNITS_NONE,
        .doubted_c = UNITS_NONE,
    };
}

void heat_new_day(struct heat *heat)
{
    heat->trips_today = 0;
    heat->max_c = UNITS_NONE;
}

void heat_acknowledge(struct heat *heat)
{
    heat->is_latched = false;
    heat->trips_today = 0;
}

static bool is_near(const struct heat_rules *rules, double a_c, double b_c, int64_t apart_ns)
{
    return fabs(a_c - b_c) <= rules->max_k_per_s * units_seconds(apart_ns);
}

/* Takes in one new sample. A step too fast for heat waits for a second sample that agrees. */
static void take_sample(const struct heat_rules *rules, struct heat *heat,
                        const struct reading *sample)
{
    double value_c = sample->value;
    bool is_good = reading_is_good(sample);

    heat->seen_ns = sample->taken_ns;
    if (value_c >= rules->trip_c) {
        heat->hot_samples += heat->hot_samples < HOT_SAMPLES_TO_TRIP;
    }
    if (!is_good && !(value_c > heat->filtered_c)) {
        return; /* a doubtful reading may heat, never cool */
    }
    /* While a step is in doubt the sensor contradicts itself: no long time to have changed in. */
    int64_t from_ns = units_known(heat->doubted_c) ? heat->doubted_ns : heat->last_ns;
    int64_t apart_ns = sample->taken_ns - from_ns;
    bool follows = !units_known(heat->last_c) || is_near(rules, value_c, heat->last_c, apart_ns) ||
                   is_near(rules, value_c, heat->doubted_c, apart_ns);
    if (!follows) {
        heat->doubted_c = value_c;
        heat->doubted_ns = sample->taken_ns;
        return;
    }
    heat->last_c = value_c;
    heat->last_ns = sample->taken_ns;
    heat->doubted_c = UNITS_NONE;
    if (is_good && value_c < rules->trip_c) {
        heat->hot_samples = 0;
    }
    if (is_good && !(value_c <= heat->max_c)) {
        heat->max_c = value_c;
    }
}

static void filter(const struct heat_rules *rules, struct heat *heat, bool may_cool, double dt_s)
{
    double step_c = heat->last_c - heat->filtered_c;

    if (!units_known(heat->filtered_c)) {
        heat->filtered_c = heat->last_c;
    } else if (may_cool || step_c > 0) {
        double share = rules->filter_s > 0 ? 1 - exp(-dt_s / rules->filter_s) : 1;
        heat->filtered_c += share * step_c;
    }
}

static double cap_at(const struct heat_rules *rules, double temperature_c)
{
    double into_band = (temperature_c - rules->from_c) / (rules->to_c - rules->from_c);

    return units_clamp(1 - (1 - rules->low_level) * into_band, rules->low_level, 1);
}

static void move_cap(const struct heat_rules *rules, struct heat *heat, bool is_first, double dt_s)
{
    if (heat->is_tripped || !units_known(heat->filtered_c)) {
        heat->cap = rules->low_level; /* after a trip the light returns slowly, from here */
        return;
    }
    double aim = cap_at(rules, heat->filtered_c);
    double highest = is_first ? 1 : heat->cap + rules->rise_per_s * dt_s;

    heat->cap = fmin(aim, highest);
}

static enum heat_event trip(const struct heat_rules *rules, struct heat *heat,
                            enum heat_event event)
{
    heat->is_tripped = true;
    heat->hot_samples = 0;
    heat->trips_today++;
    if (heat->trips_today >= rules->trips_to_latch) {
        heat->is_latched = true;
        return HEAT_LATCHED;
    }
    return event;
}

static enum heat_event judge(const struct heat_rules *rules, struct heat *heat, bool is_valid)
{
    if (!heat->is_tripped) {
        if (heat->hot_samples >= HOT_SAMPLES_TO_TRIP) {
            return trip(rules, heat, HEAT_TRIPPED);
        }
        if (heat->blind_s >= rules->lost_s) {
            return trip(rules, heat, HEAT_TRIPPED_BLIND);
        }
        return HEAT_NOTHING;
    }
    bool is_cool = heat->filtered_c < rules->rearm_c && heat->last_c < rules->rearm_c;
    if (is_valid && is_cool && !heat->is_latched) {
        heat->is_tripped = false;
        heat->hot_samples = 0;
        return HEAT_REARMED;
    }
    return HEAT_NOTHING;
}

enum heat_event heat_step(const struct heat_rules *rules, struct heat *heat,
                          const struct reading *hottest, double dt_s)
{
    if (!rules->is_watched) {
        heat->cap = 1;
        heat->is_tripped = heat->is_latched = false;
        return HEAT_NOTHING;
    }
    double passed_s = dt_s > 0 ? dt_s : 0;
    bool is_fresh = hottest->quality == READING_GOOD || hottest->quality == READING_SUSPECT;

    if (is_fresh && isfinite(hottest->value) && hottest->taken_ns > heat->seen_ns) {
        take_sample(rules, heat, hottest);
    }
    bool is_valid =
        reading_is_good(hottest) && units_known(heat->last_c) && !units_known(heat->doubted_c);
    bool is_first = !units_known(heat->filtered_c) && !heat->is_tripped;

    heat->blind_s = is_valid ? 0 : heat->blind_s + passed_s;
    if (is_fresh && units_known(heat->last_c)) {
        filter(rules, heat, is_valid, passed_s);
    }
    enum heat_event event = judge(rules, heat, is_valid);
    move_cap(rules, heat, is_first, passed_s);
    return event;
}
