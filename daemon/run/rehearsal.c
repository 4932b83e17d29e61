/* SPDX-License-Identifier: Apache-2.0 */
#include "rehearsal_parts.h"

#include "err.h"
#include "rehearsal_bench.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FLUSH_TICKS 600 /* simulated ticks between waits for the journal's thread */

static int allocate(struct rehearsal *rehearsal, struct err *err)
{
    const size_t spaces = (size_t)rehearsal->config->space_count;
    rehearsal->samples =
        calloc((size_t)rehearsal->config->sensor_count + 1, sizeof *rehearsal->samples);
    rehearsal->states = calloc(spaces, sizeof *rehearsal->states);
    rehearsal->nows = calloc(spaces, sizeof *rehearsal->nows);
    rehearsal->verdicts = calloc(spaces, sizeof *rehearsal->verdicts);
    rehearsal->recorders = calloc(spaces, sizeof *rehearsal->recorders);
    rehearsal->airs = calloc(spaces, sizeof *rehearsal->airs);
    rehearsal->obedience = calloc(spaces, sizeof *rehearsal->obedience);
    const bool whole = rehearsal->samples && rehearsal->states && rehearsal->nows &&
                       rehearsal->verdicts && rehearsal->recorders && rehearsal->airs &&
                       rehearsal->obedience;
    return whole ? 0 : err_fail(err, ENOMEM, "no memory for %zu spaces", spaces);
}

/* The first moment at which any space's first light day begins. */
static int64_t first_wall_s(const struct config *config, int64_t day)
{
    int64_t first = INT64_MAX;
    for (int s = 0; s < config->space_count; s++) {
        const int64_t begin = lightday_begin(&config->spaces[s].rules.day, day);
        first = begin < first ? begin : first;
    }
    return first;
}

int rehearsal_create(const struct config *config, const struct rehearsal_options *options,
                     struct rehearsal **ret, struct err *err)
{
    if (!(options->step_s >= 0.1 && options->step_s <= 60)) {
        return err_fail(err, EINVAL, "step of %g s is out of range (0.1 … 60, s)", options->step_s);
    }
    struct rehearsal *rehearsal = calloc(1, sizeof *rehearsal);
    if (!rehearsal) {
        return err_fail(err, ENOMEM, "no memory for the rehearsal");
    }
    rehearsal->config = config;
    rehearsal->options = *options;
    rehearsal->trust = CLOCK_SYNCHRONISED;
    rehearsal->boot_ns = 1000 * UNITS_NS_PER_S;
    rehearsal->wall_ns = first_wall_s(config, options->from_day) * UNITS_NS_PER_S;
    int rc = allocate(rehearsal, err);
    if (rc == 0) {
        rc = rehearsal_bench(config, options, &rehearsal->model, err);
    }
    if (rc == 0) {
        rc = inputs_create(config, NULL, &rehearsal->inputs, err);
    }
    if (rc == 0) {
        rc = powerplan_create(config, &rehearsal->power, err);
    }
    if (rc < 0) {
        rehearsal_destroy(rehearsal);
        return rc;
    }
    for (int s = 0; s < config->space_count; s++) {
        space_init(&rehearsal->states[s], &config->spaces[s].rules);
        recorder_init(&rehearsal->recorders[s], config, s, rehearsal_wall_s(rehearsal));
    }
    *ret = rehearsal;
    return 0;
}

void rehearsal_destroy(struct rehearsal *rehearsal)
{
    if (!rehearsal) {
        return;
    }
    inputs_destroy(rehearsal->inputs);
    powerplan_destroy(rehearsal->power);
    bench_model_destroy(rehearsal->model);
    free(rehearsal->samples);
    free(rehearsal->states);
    free(rehearsal->nows);
    free(rehearsal->verdicts);
    free(rehearsal->recorders);
    free(rehearsal->airs);
    free(rehearsal->obedience);
    free(rehearsal);
}

static void put_sample(struct rehearsal *rehearsal, int sensor, double value, int error)
{
    if (sensor >= 0) {
        rehearsal->samples[sensor] =
            (struct sample){.value = value, .taken_ns = rehearsal->boot_ns, .error = error};
    }
}

static void sense_fixture(struct rehearsal *rehearsal, const struct config_fixture *fixture,
                          int unit)
{
    double value = UNITS_NONE;
    int error = bench_model_heat(rehearsal->model, unit, &value);
    for (int i = 0; i < fixture->heat_sensor_count; i++) {
        put_sample(rehearsal, fixture->heat_sensors[i], value, error);
    }
    if (fixture->power_sensor < 0) {
        return;
    }
    struct sample *power = &rehearsal->samples[fixture->power_sensor];
    error = bench_model_power(rehearsal->model, unit, &value);
    if (power->taken_ns == rehearsal->boot_ns && power->error == 0) {
        value += power->value; /* one meter for several fixtures */
    }
    put_sample(rehearsal, fixture->power_sensor, value, error);
}

static void sense(struct rehearsal *rehearsal)
{
    const struct config *config = rehearsal->config;
    double air_c = UNITS_NONE;
    double humidity = UNITS_NONE;
    const int air_error = bench_model_air(rehearsal->model, &air_c, &humidity);
    for (int s = 0; s < config->space_count; s++) {
        const struct config_space *space = &config->spaces[s];
        double umol = UNITS_NONE;
        const int error = bench_model_ppfd(rehearsal->model, s, &umol);
        for (int i = 0; i < space->ppfd_sensor_count; i++) {
            put_sample(rehearsal, space->ppfd_sensors[i], umol / space->canopy_factor, error);
        }
        put_sample(rehearsal, space->air_temperature, air_c, air_error);
        put_sample(rehearsal, space->air_humidity, humidity, air_error);
        for (int i = 0; i < space->rules.fixture_count; i++) {
            const int unit = space->fixtures[i];
            sense_fixture(rehearsal, &config->fixtures[unit], unit);
        }
    }
}

static void advance(struct rehearsal *rehearsal)
{
    const double dt_s = rehearsal->options.step_s;
    const int64_t dt_ns = (int64_t)(dt_s * 1e9 + 0.5);
    const struct config *config = rehearsal->config;
    if (rehearsal->ticks > 0) {
        rehearsal->boot_ns += dt_ns;
        rehearsal->wall_ns += dt_ns;
        rehearsal->seconds += dt_s;
    }
    for (int s = 0; rehearsal->options.daylight && s < config->space_count; s++) {
        if (config->spaces[s].rules.sees_daylight) {
            const double umol =
                daylight_umol(rehearsal->options.daylight, rehearsal_wall_s(rehearsal));
            bench_model_set_daylight(rehearsal->model, s, units_known(umol) ? umol : 0);
        }
    }
    bench_model_step(rehearsal->model, dt_s);
    rehearsal->ticks++;
}

static void drive_model(struct rehearsal *rehearsal, int space)
{
    const struct config_space *its = &rehearsal->config->spaces[space];
    const struct verdict *verdict = &rehearsal->verdicts[space];
    for (int i = 0; i < its->rules.fixture_count; i++) {
        bench_model_set_drive(rehearsal->model, its->fixtures[i], verdict->fixtures[i].drive);
        bench_model_set_switch(rehearsal->model, its->fixtures[i], verdict->fixtures[i].closed);
    }
}

static void tick_space(struct rehearsal *rehearsal, int space, bool *may_close)
{
    const struct space_rules *rules = &rehearsal->config->spaces[space].rules;
    struct now *now = &rehearsal->nows[space];
    struct space_state *state = &rehearsal->states[space];
    enum switching_phase phases[SPACE_FIXTURES_MAX] = {SWITCHING_OPEN};
    now->boot_ns = rehearsal->boot_ns;
    now->wall_s = rehearsal_wall_s(rehearsal);
    now->clock = rehearsal->trust;
    now->may_close = *may_close;
    now->step_s = rehearsal->options.step_s;
    now->price_per_kwh = rehearsal->price_per_kwh;
    now->hand.is_active = now->hand.is_active && now->boot_ns < now->hand.until_ns;
    inputs_fill(rehearsal->inputs, space, now, &rehearsal->airs[space]);
    now->ppfd = correction_reading(&state->correction, now->ppfd);
    rehearsal_look_at_outputs(rehearsal, space);
    powerplan_fill(rehearsal->power, space, &now->power);
    for (int i = 0; i < rules->fixture_count; i++) {
        phases[i] = state->fixtures[i].switching.phase;
    }
    decide(rules, state, now, &rehearsal->verdicts[space]);
    for (int i = 0; i < rules->fixture_count; i++) {
        if (phases[i] == SWITCHING_OPEN && state->fixtures[i].switching.phase != SWITCHING_OPEN) {
            *may_close = false;
        }
    }
    powerplan_see(rehearsal->power, space,
                  &(struct powerplan_sight){now, state, &rehearsal->verdicts[space]});
    drive_model(rehearsal, space);
    now->acknowledged = false;
    recorder_tick(&rehearsal->recorders[space], rehearsal->options.journal,
                  &(struct recorder_tick){.now = now,
                                          .air = &rehearsal->airs[space],
                                          .state = state,
                                          .verdict = &rehearsal->verdicts[space],
                                          .dt_s = rehearsal->options.step_s});
}

/* A year has as many seconds as it has, and few prices. */
static void look_at_price(struct rehearsal *rehearsal)
{
    const struct tariff *tariff = &rehearsal->config->site.tariff;
    const int64_t wall_s = rehearsal_wall_s(rehearsal);
    if (wall_s < rehearsal->price_from_s || wall_s >= rehearsal->price_to_s) {
        rehearsal->price_per_kwh = tariff_price(tariff, wall_s);
        rehearsal->price_from_s = wall_s;
        rehearsal->price_to_s = tariff_next_change(tariff, wall_s, wall_s + UNITS_S_PER_DAY);
    }
}

void rehearsal_step(struct rehearsal *rehearsal)
{
    advance(rehearsal);
    sense(rehearsal);
    inputs_step(rehearsal->inputs, rehearsal->samples, rehearsal->states, rehearsal->boot_ns);
    look_at_price(rehearsal);
    bool may_close = true;
    powerplan_share(rehearsal->power,
                    &(struct powerplan_moment){.boot_ns = rehearsal->boot_ns,
                                               .wall_s = rehearsal_wall_s(rehearsal),
                                               .knows_time = rehearsal->trust != CLOCK_UNTRUSTED,
                                               .price_per_kwh = rehearsal->price_per_kwh});
    for (int s = 0; s < rehearsal->config->space_count; s++) {
        tick_space(rehearsal, s, &may_close);
    }
    if (rehearsal->options.journal && rehearsal->ticks % FLUSH_TICKS == 0) {
        (void)journal_flush(rehearsal->options.journal, 10); /* its health tells of failures */
    }
}

struct rehearsal_view rehearsal_view(const struct rehearsal *rehearsal, int space)
{
    return (struct rehearsal_view){&rehearsal->nows[space], &rehearsal->states[space],
                                   &rehearsal->verdicts[space]};
}

struct bench_model *rehearsal_model(struct rehearsal *rehearsal)
{
    return rehearsal->model;
}

int64_t rehearsal_wall_s(const struct rehearsal *rehearsal)
{
    const int64_t s = rehearsal->wall_ns / UNITS_NS_PER_S;
    return s - (rehearsal->wall_ns % UNITS_NS_PER_S < 0);
}

double rehearsal_seconds(const struct rehearsal *rehearsal)
{
    return rehearsal->seconds;
}

void rehearsal_set_clock(struct rehearsal *rehearsal, int64_t wall_s, enum clock_trust trust)
{
    rehearsal->wall_ns = wall_s * UNITS_NS_PER_S;
    rehearsal->trust = trust;
}

void rehearsal_set_hand(struct rehearsal *rehearsal, int space, const struct hand *hand)
{
    rehearsal->nows[space].hand = *hand;
}

void rehearsal_try(struct rehearsal *rehearsal, int space, int fixture, const struct trial *drive,
                   const struct trial *contact)
{
    struct fixture_now *now = &rehearsal->nows[space].fixtures[fixture];
    now->try_drive = *drive;
    now->try_contact = *contact;
}

bool rehearsal_correct(struct rehearsal *rehearsal, int space, enum correction_of of)
{
    return space_correct(&rehearsal->states[space], of, 1, rehearsal_wall_s(rehearsal));
}

void rehearsal_acknowledge(struct rehearsal *rehearsal, int space)
{
    rehearsal->nows[space].acknowledged = true;
}

int rehearsal_restart(struct rehearsal *rehearsal, double down_s, struct err *err)
{
    struct inputs *fresh = NULL;
    struct powerplan *power = NULL;
    int rc = inputs_create(rehearsal->config, NULL, &fresh, err);
    if (rc == 0) {
        rc = powerplan_create(rehearsal->config, &power, err);
    }
    if (rc < 0) {
        inputs_destroy(fresh);
        return rc;
    }
    powerplan_destroy(rehearsal->power);
    rehearsal->power = power;
    inputs_destroy(rehearsal->inputs);
    rehearsal->inputs = fresh;
    const struct config *config = rehearsal->config;
    for (int i = 0; i < config->fixture_count; i++) {
        bench_model_set_switch(rehearsal->model, i, false);
    }
    double left_s = down_s;
    while (left_s > 0) {
        const double step_s = left_s < 1 ? left_s : 1;
        bench_model_step(rehearsal->model, step_s);
        left_s -= step_s;
    }
    rehearsal->boot_ns += (int64_t)(down_s * 1e9);
    rehearsal->wall_ns += (int64_t)(down_s * 1e9);
    rehearsal->seconds += down_s;
    memset(rehearsal->obedience, 0, (size_t)config->space_count * sizeof *rehearsal->obedience);
    for (int s = 0; s < config->space_count; s++) {
        space_resume(&rehearsal->states[s], &config->spaces[s].rules);
        rehearsal->nows[s].hand.is_active = false;
        memset(rehearsal->nows[s].fixtures, 0, sizeof rehearsal->nows[s].fixtures);
        recorder_init(&rehearsal->recorders[s], config, s, rehearsal_wall_s(rehearsal));
    }
    return 0;
}
