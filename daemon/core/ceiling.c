/* SPDX-License-Identifier: Apache-2.0 */
#include "ceiling.h"

#include "units.h"

enum sight { SIGHT_UNKNOWN, SIGHT_COLLAPSED, SIGHT_LIT };

void ceiling_reset(struct ceiling *ceiling, const struct ceiling_rules *rules)
{
    *ceiling = (struct ceiling){.drive_cap = rules->drive_max, .trip_drive = UNITS_NONE};
}

void ceiling_new_day(struct ceiling *ceiling, const struct ceiling_rules *rules)
{
    ceiling->drive_cap = rules->drive_max;
    ceiling->trips_today = 0;
}

void ceiling_acknowledge(struct ceiling *ceiling, const struct ceiling_rules *rules)
{
    int trips_today = ceiling->trips_today;

    ceiling_reset(ceiling, rules);
    ceiling->trips_today = trips_today;
}

static enum sight see_one(const struct ceiling_rules *rules, double ratio)
{
    if (!units_known(ratio)) {
        return SIGHT_UNKNOWN;
    }
    return ratio < rules->collapse ? SIGHT_COLLAPSED : SIGHT_LIT;
}

static enum sight see(const struct ceiling_rules *rules, const struct ceiling_evidence *evidence)
{
    enum sight light = see_one(rules, evidence->light_ratio);
    enum sight power = see_one(rules, evidence->power_ratio);

    if (light == SIGHT_UNKNOWN) {
        return power;
    }
    return power == SIGHT_UNKNOWN || power == light ? light : SIGHT_UNKNOWN;
}

static enum ceiling_event trip(const struct ceiling_rules *rules, struct ceiling *ceiling,
                               double drive)
{
    double lowered = fmin(drive, ceiling->drive_cap) - rules->step;
    bool is_broken = ++ceiling->trips_without_light >= rules->tries;

    /* A dead lamp "trips" at any drive: the floor keeps the fixture useful once it is repaired. */
    ceiling->drive_cap = fmin(fmax(lowered, rules->drive_floor), ceiling->drive_cap);
    ceiling->trip_drive = drive;
    ceiling->trips_today++;
    ceiling->rest_left_s = is_broken ? rules->long_rest_s : rules->rest_s;
    ceiling->collapsed_s = 0;
    ceiling->lit_s = 0;
    return ceiling->trips_without_light == rules->tries ? CEILING_GAVE_UP : CEILING_TRIPPED;
}

static enum ceiling_event rest(struct ceiling *ceiling, double dt_s)
{
    ceiling->rest_left_s -= dt_s;
    if (ceiling->rest_left_s > 0) {
        return CEILING_NOTHING;
    }
    ceiling->rest_left_s = 0;
    return CEILING_RESTRIKE;
}

/* Given up on the word of a light sensor alone: by now the sensor is as likely to be the broken
 * part, and darkness would help neither. */
static bool is_beyond_trust(const struct ceiling_rules *rules, const struct ceiling *ceiling,
                            const struct ceiling_evidence *evidence)
{
    return ceiling->trips_without_light >= rules->tries && !units_known(evidence->power_ratio);
}

static enum ceiling_event watch(const struct ceiling_rules *rules, struct ceiling *ceiling,
                                const struct ceiling_evidence *evidence, double dt_s)
{
    switch (see(rules, evidence)) {
    case SIGHT_UNKNOWN:
        break;
    case SIGHT_COLLAPSED:
        ceiling->lit_s = 0;
        ceiling->collapsed_s += dt_s;
        if (ceiling->collapsed_s >= rules->confirm_s &&
            !is_beyond_trust(rules, ceiling, evidence)) {
            return trip(rules, ceiling, evidence->drive);
        }
        break;
    case SIGHT_LIT:
        ceiling->lit_s += dt_s;
        ceiling->collapsed_s = fmax(0, ceiling->collapsed_s - dt_s);
        if (ceiling->trips_without_light > 0 && ceiling->lit_s >= rules->confirm_s) {
            ceiling->trips_without_light = 0;
            return CEILING_LIGHT_BACK;
        }
        break;
    }
    return CEILING_NOTHING;
}

enum ceiling_event ceiling_step(const struct ceiling_rules *rules, struct ceiling *ceiling,
                                const struct ceiling_evidence *evidence, double dt_s)
{
    double passed_s = dt_s > 0 ? dt_s : 0;

    if (ceiling_is_resting(ceiling)) {
        return rest(ceiling, passed_s);
    }
    if (!evidence->is_steady) {
        ceiling->collapsed_s = 0;
        ceiling->lit_s = 0;
        return CEILING_NOTHING;
    }
    return watch(rules, ceiling, evidence, passed_s);
}
