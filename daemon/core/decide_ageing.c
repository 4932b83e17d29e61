/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The moments in which the lamps can be compared with the record of their commissioning: warm and
 * alone, or under a sun the steps by which they go out.
 */
#include "decide_parts.h"

#include "units.h"

#define WARM_S      1800.0 /* lit for so long (common practice, no source) */
#define LEAST_UMOL  20.0
#define STEP_S      600.0 /* a step that was seen counts like so much light of the lamp alone */
#define LEAST_SHARE 0.1   /* of full light: below, errors of the sensor's zero count */

/* Nobody moves them, nothing is wrong with them. */
static bool lamps_obey(const struct tick *tick)
{
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        if (tick->state->fixtures[i].is_stuck || tick->now->fixtures[i].output_fault ||
            decide_is_tried(tick, i)) {
            return false;
        }
    }
    return true;
}

static bool lamps_are_warm(const struct tick *tick)
{
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct fixture_state *state = &tick->state->fixtures[i];
        if (!(state->level > 0) || state->switching.since_change_s < WARM_S) {
            return false;
        }
    }
    return true;
}

/* Mean of the heatsinks, *ret_c NaN where none is measured; false: one that is measured is not
 * known now. */
static bool heatsinks_c(const struct tick *tick, double *ret_c)
{
    double heat_c = 0;
    int watched = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        if (tick->rules->fixtures[i].heat.is_watched) {
            heat_c += tick->state->fixtures[i].heat.filtered_c;
            watched++;
        }
    }
    *ret_c = watched > 0 ? heat_c / watched : UNITS_NONE;
    return watched == 0 || units_known(heat_c);
}

void decide_note_ageing(struct tick *tick)
{
    const struct ageing_rules *rules = &tick->rules->ageing;
    const struct reading *ppfd = &tick->now->ppfd;
    if (rules->commissioned == 0) {
        return;
    }
    const double expected = decide_promised_umol(tick);
    const double full = space_configured_umol(tick->rules);
    struct ageing_sample sample;
    if (!tick->knows_time || !tick->verdict->light_is_measured ||
        tick->dt_s > tick->rules->integral.gap_s || !decide_lamp_alone(tick, expected) ||
        !lamps_obey(tick) || !lamps_are_warm(tick) || !heatsinks_c(tick, &sample.heat_c)) {
        return;
    }
    /* What a person accepted of the lamp is part of its age. */
    const double promised = expected / tick->state->correction.lamp;
    if (!(promised >= LEAST_UMOL && promised >= LEAST_SHARE * full)) {
        return;
    }
    sample.ratio = ppfd->value / promised;
    for (int i = 0; i < AGEING_SENSORS; i++) {
        const struct reading *one = &tick->now->ppfd_each[i];
        const bool is_good = i < tick->now->ppfd_count && reading_is_good(one);
        sample.sensor_ratio[i] = is_good ? one->value / promised : UNITS_NONE;
    }
    ageing_book(&tick->state->ageing, rules, full, &sample, tick->dt_s);
}

/* Where the sun leaves the lamp no moment alone. A lamp that lights up is cold. */
void decide_note_step(struct tick *tick, double ratio)
{
    const struct ageing_rules *rules = &tick->rules->ageing;
    struct ageing_sample sample = {.ratio = ratio * tick->state->correction.lamp};
    if (rules->commissioned == 0 || !tick->rules->sees_daylight || !tick->knows_time ||
        !lamps_obey(tick) || !heatsinks_c(tick, &sample.heat_c)) {
        return;
    }
    for (int i = 0; i < AGEING_SENSORS; i++) {
        sample.sensor_ratio[i] = UNITS_NONE; /* the step is that of the space's reading */
    }
    ageing_book(&tick->state->ageing, rules, space_configured_umol(tick->rules), &sample, STEP_S);
}

void decide_close_ageing(struct tick *tick)
{
    struct space_state *state = tick->state;
    const struct ageing_rules *rules = &tick->rules->ageing;
    if (rules->commissioned == 0) {
        return;
    }
    const struct ageing_news news = ageing_close(&state->ageing, rules, state->light_day);
    const struct ageing_view view = ageing_view(&state->ageing, rules);
    if (news.has_loss) {
        decide_say(tick, EVENT_LIGHT_AGED, -1, view.share,
                   (double)(state->light_day - rules->commissioned));
    }
    if (news.sensor >= 0) {
        decide_say(tick, EVENT_SENSOR_FALLEN, -1, view.fallen_share, news.sensor);
    }
}
