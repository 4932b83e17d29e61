/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The light since the last tick: shares of lamp and daylight, the integral, the guarded night, and
 * the slow comparison of what the lamp gives with what its curve promises.
 */
#include "decide_parts.h"

#include "units.h"

#define GAIN_TIME_S      600.0 /* time constant of the lamp's gain */
#define LAMP_UMOL        5.0   /* less lamp light than this shows no gain */
#define LAMP_MOST        1.1   /* of its promise; what is more is a sun that should be down */
#define GAIN_LOW         0.5
#define GAIN_HIGH        1.5
#define DAYLIGHT_HOLD_NS (300 * UNITS_NS_PER_S) /* the last daylight stands in for so long */
#define STEPS_S          10.0 /* a rehearsal that ticks more seldom sees clouds where it looks for steps */
/* a sample this close behind an opening contact may still show the lamp */
#define AFTERGLOW_S 3.0

double decide_expected_umol(const struct space_state *state, int64_t boot_ns)
{
    for (int back = 1; back <= SPACE_HISTORY; back++) {
        const int i = (state->history_next + SPACE_HISTORY - back) % SPACE_HISTORY;
        if (state->history[i].boot_ns == 0) {
            break;
        }
        if (state->history[i].boot_ns <= boot_ns) {
            return state->history[i].lamp_umol;
        }
    }
    return 0;
}

void decide_remember(struct tick *tick)
{
    struct space_state *state = tick->state;
    double umol = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        umol += space_full_umol(tick->rules, state, i) * state->fixtures[i].level;
    }
    state->history[state->history_next].boot_ns = tick->now->boot_ns;
    state->history[state->history_next].lamp_umol = umol;
    state->history_next = (state->history_next + 1) % SPACE_HISTORY;
}

/* Every closed fixture has stood still long enough for the sample to show it. */
static bool lamp_is_steady(const struct tick *tick, double sample_age_s)
{
    bool any = false;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct fixture_state *fixture = &tick->state->fixtures[i];
        if (fixture->level > 0) {
            any = true;
            if (fixture->steady_s < tick->rules->fixtures[i].ceiling.settle_s + sample_age_s) {
                return false;
            }
        }
    }
    return any;
}

/* All contacts open for so long that the sample cannot show the lamp any more. */
static bool is_dark(const struct tick *tick, double sample_age_s)
{
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        const struct fixture_state *fixture = &tick->state->fixtures[i];
        if (fixture->level > 0 || fixture->dark_s < sample_age_s + AFTERGLOW_S) {
            return false;
        }
    }
    return true;
}

static void watch_steps(struct tick *tick, double expected_umol)
{
    if (tick->now->step_s > STEPS_S) {
        return;
    }
    const struct reading *ppfd = &tick->now->ppfd;
    const double age_s = units_seconds(tick->now->boot_ns - ppfd->taken_ns);
    const bool is_still = lamp_is_steady(tick, age_s);
    const struct lampstep_sample sample = {
        .taken_ns = ppfd->taken_ns,
        .seen_umol = ppfd->value,
        .lamp_umol = expected_umol,
        .light_day = tick->state->light_day,
        .lamp = is_dark(tick, age_s) ? LAMPSTEP_DARK
                : is_still           ? LAMPSTEP_LIT
                                     : LAMPSTEP_MOVING,
    };
    struct lampstep *steps = &tick->state->lampstep;
    const int newest = steps->next;
    if (lampstep_step(steps, &tick->state->lampstep_sight, &sample)) {
        decide_say(tick, EVENT_LIGHT_DRIFT, -1, steps->told, LAMPSTEP_KEPT);
    }
    if (steps->next != newest && sample.lamp == LAMPSTEP_DARK) {
        decide_note_step(tick, (double)steps->ratio[newest]);
    }
}

static void learn_gain(struct tick *tick, double expected_umol)
{
    const struct reading *ppfd = &tick->now->ppfd;
    const double age_s = units_seconds(tick->now->boot_ns - ppfd->taken_ns);
    if (!(expected_umol > LAMP_UMOL) || !lamp_is_steady(tick, age_s)) {
        return;
    }
    const double ratio = ppfd->value / expected_umol;
    if (!(ratio >= GAIN_LOW && ratio <= GAIN_HIGH)) {
        return; /* a trip or a fault, not ageing */
    }
    const double share = units_clamp(tick->dt_s / GAIN_TIME_S, 0, 1);
    tick->state->light_gain += share * (ratio - tick->state->light_gain);
}

/* All that is seen is the lamp's: no sun reaches the sensor, or it is far down. Where nobody said
 * where the house stands nobody knows when that is. */
static bool is_alone(const struct tick *tick, double expected_umol)
{
    return !tick->rules->sees_daylight ||
           (expected_umol > LAMP_UMOL && tick->now->ppfd.value <= LAMP_MOST * expected_umol &&
            tick->now->clock != CLOCK_UNTRUSTED && !tick->state->sky_is_astray &&
            tick->state->sun_is_down);
}

double decide_promised_umol(const struct tick *tick)
{
    const struct reading *ppfd = &tick->now->ppfd;
    const bool is_good = tick->rules->has_ppfd && reading_is_good(ppfd);
    return decide_expected_umol(tick->state, is_good ? ppfd->taken_ns : tick->now->boot_ns);
}

static void split_reading(struct tick *tick)
{
    struct space_state *state = tick->state;
    struct verdict *verdict = tick->verdict;
    const struct reading *ppfd = &tick->now->ppfd;
    const bool is_good = tick->rules->has_ppfd && reading_is_good(ppfd);
    const double expected = decide_promised_umol(tick);
    verdict->light_is_measured = is_good;
    if (!is_good) {
        const bool is_fresh =
            state->daylight_ns != 0 && tick->now->boot_ns - state->daylight_ns <= DAYLIGHT_HOLD_NS;
        verdict->lamp_umol = expected * state->light_gain;
        verdict->daylight_umol = is_fresh ? state->daylight_umol : 0;
        return;
    }
    watch_steps(tick, expected);
    const double seen = ppfd->value > 0 ? ppfd->value : 0;
    if (is_alone(tick, expected)) {
        verdict->lamp_umol = seen;
        verdict->daylight_umol = 0;
        learn_gain(tick, expected);
        return;
    }
    const double lamp = expected * state->light_gain;
    verdict->lamp_umol = lamp < seen ? lamp : seen;
    verdict->daylight_umol = seen - verdict->lamp_umol;
    state->daylight_umol = verdict->daylight_umol;
    state->daylight_ns = ppfd->taken_ns;
}

void decide_night(struct tick *tick)
{
    struct space_state *state = tick->state;
    const struct verdict *verdict = tick->verdict;
    const struct reading *ppfd = &tick->now->ppfd;
    const double age_s = units_seconds(tick->now->boot_ns - ppfd->taken_ns);
    bool shows_dark = verdict->light_is_measured;
    double commanded = 0;
    for (int i = 0; i < tick->rules->fixture_count; i++) {
        commanded += space_full_umol(tick->rules, state, i) * state->fixtures[i].level;
        if (state->fixtures[i].dark_s < age_s + AFTERGLOW_S) {
            shows_dark = false;
        }
    }
    const struct nightguard_light light = {
        .is_night = tick->stage && !verdict->place.is_lit,
        .seen_umol = shows_dark ? ppfd->value : UNITS_NONE,
        .commanded_umol = commanded,
        .under_daylight = tick->rules->sees_daylight,
    };
    const double before = state->nightguard.in_night ? state->nightguard.dose_umol_m2 : 0;
    const enum nightguard_event event =
        nightguard_step(&tick->rules->nightguard, &state->nightguard, &light, tick->dt_s);
    if (light.is_night && state->nightguard.dose_umol_m2 > before) {
        state->night_dose += state->nightguard.dose_umol_m2 - before;
    }
    if (state->nightguard.longest_s > state->night_longest_s) {
        state->night_longest_s = state->nightguard.longest_s;
    }
    if (event == NIGHTGUARD_BREAK_BEGINS) {
        state->night_breaks++;
        decide_say(tick, EVENT_NIGHT_BREAK, -1, state->nightguard.peak_umol, UNITS_NONE);
    } else if (event == NIGHTGUARD_BREAK_ENDS) {
        decide_say(tick, EVENT_NIGHT_BREAK_ENDS, -1, state->nightguard.dose_umol_m2,
                   state->nightguard.longest_s);
    }
}

static void watch_sensor(struct tick *tick)
{
    struct space_state *state = tick->state;
    if (!tick->rules->has_ppfd || !tick->now->inputs_settled) {
        return;
    }
    if (!state->sensor_is_lost && tick->now->ppfd.quality == READING_LOST) {
        state->sensor_is_lost = true;
        decide_say(tick, EVENT_SENSOR_LOST, -1, UNITS_NONE, UNITS_NONE);
    } else if (state->sensor_is_lost && reading_is_good(&tick->now->ppfd)) {
        state->sensor_is_lost = false;
        decide_say(tick, EVENT_SENSOR_BACK, -1, tick->now->ppfd.value, UNITS_NONE);
    }
}

bool decide_lamp_alone(const struct tick *tick, double expected_umol)
{
    const double age_s = units_seconds(tick->now->boot_ns - tick->now->ppfd.taken_ns);
    return is_alone(tick, expected_umol) && lamp_is_steady(tick, age_s);
}

void decide_light(struct tick *tick)
{
    split_reading(tick);
    const struct integral_step step = {
        .lamp_umol = tick->verdict->lamp_umol,
        .daylight_umol = tick->verdict->daylight_umol,
        .origin = tick->verdict->light_is_measured ? INTEGRAL_MEASURED : INTEGRAL_ESTIMATED,
        .dt_s = tick->dt_s,
    };
    integral_step(&tick->state->integral, &tick->rules->integral, &step);
    watch_sensor(tick);
}
