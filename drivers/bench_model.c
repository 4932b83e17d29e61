/* SPDX-License-Identifier: Apache-2.0 */
#include "bench_model.h"

#include "bench_fixture.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

#define DAY_S            86400.0
#define RUN_MAX_S        (10 * DAY_S)
#define RUN_STEPS        600.0
#define ROOM_LAG_S       600.0
#define AIR_NOISE_C      0.05
#define AIR_QUANTUM_C    0.1
#define HUMIDITY_NOISE   0.3
#define HUMIDITY_QUANTUM 0.1
#define HUMIDITY_PER_K   0.06 /* saturation pressure rises by about 6 % a kelvin near 20 °C */
#define HEAT_QUANTUM_C   0.25
#define POWER_NOISE      0.005 /* share of reading */
#define POWER_QUANTUM_W  0.1

struct canopy {
    double daylight_umol, lamp_umol;
    double shown_umol; /* after stuck and gain */
};

struct channel { /* one fixture and what its sensors show */
    struct bench_fixture fixture;
    double heat_c, power_w;
};

struct bench_model {
    struct bench_setup setup;
    double seconds;
    double warming_k; /* of the room's air by the fixtures */
    double air_c, humidity_percent;
    double shown_air_c, shown_humidity;
    uint64_t draws;
    int fault_count;
    struct bench_fault faults[BENCH_FAULTS_MAX];
    int active_count;
    int active[BENCH_FAULTS_MAX]; /* indices of the faults that hold now */
    struct canopy canopies[BENCH_CANOPIES_MAX];
    struct channel channels[BENCH_FIXTURES_MAX];
};

/* Counter-based: Steele, Lea, Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014.
 */
static uint64_t draw(struct bench_model *model)
{
    uint64_t z = model->setup.seed + UINT64_C(0x9E3779B97F4A7C15) * ++model->draws;
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

/* Standard normal, near enough for sensors: the sum of four uniform 16-bit numbers, scaled to
 * variance 1. No logarithm, so that every machine gives the same bytes. */
static double gaussian(struct bench_model *model)
{
    uint64_t bits = draw(model);
    double sum = 0;
    for (int i = 0; i < 4; i++, bits >>= 16) {
        sum += (double)(bits & 0xFFFF);
    }
    return (sum - 4 * 32767.5) / 65536 * 1.7320508075688772;
}

static double quantise(double value, double quantum)
{
    return quantum > 0 ? round(value / quantum) * quantum : value;
}

/* A daily wave of height 1 from two parabolas, within 6 % of a cosine; −1 at 0 h, +1 at 12 h. */
static double daily_wave(double seconds)
{
    double x = seconds / DAY_S - 0.25;
    x -= floor(x);
    return x < 0.5 ? 16 * x * (0.5 - x) : -16 * (x - 0.5) * (1 - x);
}

static void step_room(struct bench_model *model, double watts, double dt_s)
{
    const struct bench_setup *setup = &model->setup;
    model->warming_k +=
        (setup->room_k_per_w * watts - model->warming_k) * dt_s / (ROOM_LAG_S + dt_s);
    model->air_c =
        setup->room_c + setup->room_swing_c * daily_wave(model->seconds) + model->warming_k;
    double drier = 1 + HUMIDITY_PER_K * fmax(model->air_c - setup->room_c, -10);
    model->humidity_percent = fmin(fmax(setup->humidity_percent / drier, 1), 100);
    model->shown_air_c = quantise(model->air_c + AIR_NOISE_C * gaussian(model), AIR_QUANTUM_C);
    double humidity = model->humidity_percent + HUMIDITY_NOISE * gaussian(model);
    model->shown_humidity = fmin(fmax(quantise(humidity, HUMIDITY_QUANTUM), 0), 100);
}

static void find_active(struct bench_model *model)
{
    model->active_count = 0;
    for (int i = 0; i < model->fault_count; i++) {
        const struct bench_fault *fault = &model->faults[i];
        double since = model->seconds - fault->from_s;
        if (since >= 0 && since < fault->length_s) {
            model->active[model->active_count++] = i;
        }
    }
}

bool bench_model_has_fault(const struct bench_model *model, enum bench_fault_kind kind, int unit,
                           double *ret_value)
{
    for (int i = 0; i < model->active_count; i++) {
        const struct bench_fault *fault = &model->faults[model->active[i]];
        bool is_common = kind == BENCH_BUS_DOWN || kind == BENCH_LATE;
        if (fault->kind == kind && (is_common || fault->unit == unit)) {
            if (ret_value) {
                *ret_value = fault->value;
            }
            return true;
        }
    }
    return false;
}

static bool has(const struct bench_model *model, enum bench_fault_kind kind, int unit)
{
    return model->active_count > 0 && bench_model_has_fault(model, kind, unit, NULL);
}

static void step_channel(struct bench_model *model, int index, double dt_s)
{
    struct channel *channel = &model->channels[index];
    struct bench_fixture_faults faults = {.trip_drive = (double)NAN};
    if (model->active_count > 0) {
        faults.is_dead = has(model, BENCH_DEAD, index);
        faults.is_welded = has(model, BENCH_WELDED, index);
        faults.is_open = has(model, BENCH_SWITCH_OPEN, index);
        (void)bench_model_has_fault(model, BENCH_TRIP, index, &faults.trip_drive);
        (void)bench_model_has_fault(model, BENCH_HEAT_STEP, index, &faults.heat_step_k);
    }
    bench_fixture_step(&channel->fixture, &faults, model->air_c, dt_s);

    /* drawn whether shown or not: a fault leaves the noise of everything else as it was */
    double heat = channel->fixture.sensor_c + model->setup.heat_noise_c * gaussian(model);
    double power = channel->fixture.watts * (1 + POWER_NOISE * gaussian(model));
    if (!has(model, BENCH_HEAT_STUCK, index)) {
        channel->heat_c = quantise(heat, HEAT_QUANTUM_C);
    }
    channel->power_w = quantise(power, POWER_QUANTUM_W);
}

static void step_canopy(struct bench_model *model, int index)
{
    struct canopy *canopy = &model->canopies[index];
    double light = canopy->lamp_umol + canopy->daylight_umol;
    double gain = 1;
    (void)bench_model_has_fault(model, BENCH_PPFD_GAIN, index, &gain);
    light *= gain * (1 + model->setup.ppfd_noise * gaussian(model));
    if (!has(model, BENCH_PPFD_STUCK, index)) {
        canopy->shown_umol = quantise(fmax(light, 0), model->setup.ppfd_quantum);
    }
}

void bench_model_step(struct bench_model *model, double dt_s)
{
    if (!(dt_s > 0)) {
        return;
    }
    model->seconds += dt_s;
    find_active(model);
    for (int i = 0; i < model->setup.canopy_count; i++) {
        model->canopies[i].lamp_umol = 0;
    }
    double watts = 0;
    for (int i = 0; i < model->setup.fixture_count; i++) {
        step_channel(model, i, dt_s);
        const struct bench_fixture *fixture = &model->channels[i].fixture;
        model->canopies[fixture->setup.canopy].lamp_umol += fixture->umol;
        watts += fixture->watts;
    }
    for (int i = 0; i < model->setup.canopy_count; i++) {
        step_canopy(model, i);
    }
    step_room(model, watts, dt_s);
}

void bench_model_run(struct bench_model *model, double seconds)
{
    double left = fmin(seconds, RUN_MAX_S);
    double step = fmin(fmax(left / RUN_STEPS, 1), 60);
    while (left > 1e-6) {
        bench_model_step(model, fmin(left, step));
        left -= step;
    }
}

struct bench_model *bench_model_create(const struct bench_setup *setup)
{
    struct bench_model *model = bench_setup_is_usable(setup) ? calloc(1, sizeof *model) : NULL;
    if (!model) {
        return NULL;
    }
    model->setup = *setup;
    model->air_c = setup->room_c + setup->room_swing_c * daily_wave(0);
    model->shown_air_c = quantise(model->air_c, AIR_QUANTUM_C);
    model->humidity_percent = model->shown_humidity = setup->humidity_percent;
    for (int i = 0; i < setup->fixture_count; i++) {
        struct channel *channel = &model->channels[i];
        bench_fixture_init(&channel->fixture, &setup->fixtures[i], model->air_c);
        channel->heat_c = quantise(model->air_c, HEAT_QUANTUM_C);
    }
    return model;
}

void bench_model_destroy(struct bench_model *model)
{
    free(model);
}

int bench_model_add_fault(struct bench_model *model, const struct bench_fault *fault)
{
    if (model->fault_count == BENCH_FAULTS_MAX) {
        return -ENOSPC;
    }
    model->faults[model->fault_count++] = *fault;
    find_active(model);
    return 0;
}

int bench_model_fault_count(const struct bench_model *model)
{
    return model->fault_count;
}

void bench_model_cut_faults(struct bench_model *model, int count)
{
    if (count >= 0 && count < model->fault_count) {
        model->fault_count = count;
        find_active(model);
    }
}

static bool is_fixture(const struct bench_model *model, int fixture)
{
    return fixture >= 0 && fixture < model->setup.fixture_count;
}

static bool is_canopy(const struct bench_model *model, int canopy)
{
    return canopy >= 0 && canopy < model->setup.canopy_count;
}

void bench_model_set_drive(struct bench_model *model, int fixture, double drive)
{
    if (is_fixture(model, fixture) && !has(model, BENCH_DIM_STUCK, fixture) &&
        !has(model, BENCH_BUS_DOWN, 0)) {
        bench_fixture_set_drive(&model->channels[fixture].fixture, drive);
    }
}

void bench_model_set_switch(struct bench_model *model, int fixture, bool closed)
{
    if (is_fixture(model, fixture) && !has(model, BENCH_BUS_DOWN, 0)) {
        model->channels[fixture].fixture.is_commanded_closed = closed;
    }
}

void bench_model_set_daylight(struct bench_model *model, int canopy, double ppfd_umol)
{
    if (is_canopy(model, canopy) && ppfd_umol >= 0) {
        model->canopies[canopy].daylight_umol = ppfd_umol;
    }
}

int bench_model_ppfd(struct bench_model *model, int canopy, double *ret_umol)
{
    if (!is_canopy(model, canopy)) {
        return -EINVAL;
    }
    if (has(model, BENCH_BUS_DOWN, 0) || has(model, BENCH_PPFD_SILENT, canopy)) {
        return -ETIMEDOUT;
    }
    *ret_umol =
        has(model, BENCH_PPFD_NAN, canopy) ? (double)NAN : model->canopies[canopy].shown_umol;
    return 0;
}

/* 0 when this fixture's electronics answer. */
static int ask(const struct bench_model *model, int fixture)
{
    if (!is_fixture(model, fixture)) {
        return -EINVAL;
    }
    return has(model, BENCH_BUS_DOWN, 0) ? -ETIMEDOUT : 0;
}

int bench_model_heat(struct bench_model *model, int fixture, double *ret_c)
{
    int error = ask(model, fixture);
    if (error == 0 && has(model, BENCH_HEAT_SILENT, fixture)) {
        error = -ETIMEDOUT;
    }
    if (error == 0) {
        *ret_c = model->channels[fixture].heat_c;
    }
    return error;
}

int bench_model_power(struct bench_model *model, int fixture, double *ret_w)
{
    int error = ask(model, fixture);
    if (error == 0) {
        *ret_w = model->channels[fixture].power_w;
    }
    return error;
}

int bench_model_air(struct bench_model *model, double *ret_c, double *ret_humidity_percent)
{
    if (has(model, BENCH_BUS_DOWN, 0)) {
        return -ETIMEDOUT;
    }
    *ret_c = model->shown_air_c;
    *ret_humidity_percent = model->shown_humidity;
    return 0;
}

int bench_model_drive(struct bench_model *model, int fixture, double *ret_drive)
{
    int error = ask(model, fixture);
    if (error == 0) {
        *ret_drive = model->channels[fixture].fixture.drive;
    }
    return error;
}

int bench_model_switch(struct bench_model *model, int fixture, bool *ret_closed)
{
    int error = ask(model, fixture);
    if (error == 0) {
        *ret_closed = model->channels[fixture].fixture.is_commanded_closed;
    }
    return error;
}

int bench_model_fixtures(const struct bench_model *model)
{
    return model->setup.fixture_count;
}

int bench_model_canopies(const struct bench_model *model)
{
    return model->setup.canopy_count;
}

int bench_model_canopy_of(const struct bench_model *model, int fixture)
{
    return is_fixture(model, fixture) ? model->setup.fixtures[fixture].canopy : -1;
}

double bench_model_true_umol(const struct bench_model *model, int canopy)
{
    return is_canopy(model, canopy)
               ? model->canopies[canopy].lamp_umol + model->canopies[canopy].daylight_umol
               : (double)NAN;
}

double bench_model_true_lamp_umol(const struct bench_model *model, int canopy)
{
    return is_canopy(model, canopy) ? model->canopies[canopy].lamp_umol : (double)NAN;
}

double bench_model_true_heatsink_c(const struct bench_model *model, int fixture)
{
    return is_fixture(model, fixture) ? bench_fixture_board_c(&model->channels[fixture].fixture)
                                      : (double)NAN;
}

double bench_model_seconds(const struct bench_model *model)
{
    return model->seconds;
}
