/* SPDX-License-Identifier: Apache-2.0 */
#include "inputs.h"

#include "err.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

/* Sensors that have not answered by then will not hold up the light any longer. */
static const int64_t settle_ns = 10 * UNITS_NS_PER_S;

struct point { /* one sensor */
    struct quality quality;
    struct reading reading;
    int space, place; /* what moves it: a space, and a fixture of it; −1: nothing known */
};

struct inputs {
    const struct config *config;
    struct point *points;
    bool *is_settled; /* by space */
    int64_t begun_ns; /* of the first step */
    bool has_begun;
};

static void find_movers(struct inputs *inputs)
{
    const struct config *config = inputs->config;
    for (int i = 0; i < config->sensor_count; i++) {
        inputs->points[i].space = -1;
        inputs->points[i].place = -1;
    }
    for (int s = 0; s < config->space_count; s++) {
        const struct config_space *space = &config->spaces[s];
        for (int i = 0; i < space->ppfd_sensor_count; i++) {
            inputs->points[space->ppfd_sensors[i]].space = s;
        }
        for (int place = 0; place < space->rules.fixture_count; place++) {
            const struct config_fixture *fixture = &config->fixtures[space->fixtures[place]];
            for (int i = 0; i < fixture->heat_sensor_count; i++) {
                inputs->points[fixture->heat_sensors[i]].space = s;
                inputs->points[fixture->heat_sensors[i]].place = place;
            }
            if (fixture->power_sensor >= 0) {
                inputs->points[fixture->power_sensor].space = s;
                inputs->points[fixture->power_sensor].place = place;
            }
        }
    }
}

static void carry_over(struct inputs *inputs, const struct inputs *before)
{
    for (int i = 0; i < inputs->config->sensor_count; i++) {
        for (int k = 0; k < before->config->sensor_count; k++) {
            if (strcmp(inputs->config->sensors[i].name, before->config->sensors[k].name) == 0) {
                inputs->points[i].quality = before->points[k].quality;
                inputs->points[i].reading = before->points[k].reading;
            }
        }
    }
    for (int s = 0; s < inputs->config->space_count; s++) {
        inputs->is_settled[s] = true; /* the sensors had their first chance long ago */
    }
}

int inputs_create(const struct config *config, const struct inputs *before, struct inputs **ret,
                  struct err *err)
{
    struct inputs *inputs = calloc(1, sizeof *inputs);
    if (inputs) {
        inputs->config = config;
        inputs->points = calloc((size_t)config->sensor_count + 1, sizeof *inputs->points);
        inputs->is_settled = calloc((size_t)config->space_count + 1, sizeof *inputs->is_settled);
    }
    if (!inputs || !inputs->points || !inputs->is_settled) {
        inputs_destroy(inputs);
        return err_fail(err, ENOMEM, "no memory for the readings");
    }
    for (int i = 0; i < config->sensor_count; i++) {
        quality_reset(&inputs->points[i].quality);
        inputs->points[i].reading = READING_NONE;
    }
    find_movers(inputs);
    if (before) {
        carry_over(inputs, before);
    }
    *ret = inputs;
    return 0;
}

void inputs_destroy(struct inputs *inputs)
{
    if (inputs) {
        free(inputs->points);
        free(inputs->is_settled);
        free(inputs);
    }
}

static double stimulus(const struct point *point, const struct space_state *states)
{
    if (point->space < 0) {
        return UNITS_NONE;
    }
    const struct space_state *state = &states[point->space];
    return point->place < 0 ? state->level : state->fixtures[point->place].level;
}

/* The nearest good reading of the fixture's other heat sensors: what may back a doubtful value. */
static double neighbour(const struct inputs *inputs, int sensor, double value)
{
    const struct point *point = &inputs->points[sensor];
    double nearest = UNITS_NONE;
    if (point->place < 0) {
        return UNITS_NONE;
    }
    const struct config_space *space = &inputs->config->spaces[point->space];
    const struct config_fixture *fixture = &inputs->config->fixtures[space->fixtures[point->place]];
    for (int i = 0; i < fixture->heat_sensor_count; i++) {
        int other = fixture->heat_sensors[i];
        const struct reading *reading = &inputs->points[other].reading;
        if (other != sensor && reading_is_good(reading) &&
            !(fabs(reading->value - value) >= fabs(nearest - value))) {
            nearest = reading->value;
        }
    }
    return nearest;
}

static bool all_good(const struct inputs *inputs, const int *sensors, int count)
{
    for (int i = 0; i < count; i++) {
        if (!reading_is_good(&inputs->points[sensors[i]].reading)) {
            return false;
        }
    }
    return true;
}

static bool all_answered(const struct inputs *inputs, const struct config_space *space)
{
    bool answered = all_good(inputs, space->ppfd_sensors, space->ppfd_sensor_count);
    for (int place = 0; answered && place < space->rules.fixture_count; place++) {
        const struct config_fixture *fixture = &inputs->config->fixtures[space->fixtures[place]];
        answered = all_good(inputs, fixture->heat_sensors, fixture->heat_sensor_count);
    }
    return answered;
}

void inputs_step(struct inputs *inputs, const struct sample *samples,
                 const struct space_state *states, int64_t boot_ns)
{
    const struct config *config = inputs->config;
    if (!inputs->has_begun) {
        inputs->has_begun = true;
        inputs->begun_ns = boot_ns;
    }
    for (int i = 0; i < config->sensor_count; i++) {
        struct point *point = &inputs->points[i];
        const struct quality_sample sample = {samples[i].value, samples[i].taken_ns,
                                              samples[i].error,
                                              neighbour(inputs, i, samples[i].value)};
        point->reading = quality_step(&config->sensors[i].quality, &point->quality, &sample,
                                      stimulus(point, states), boot_ns);
    }
    for (int s = 0; s < config->space_count; s++) {
        inputs->is_settled[s] = inputs->is_settled[s] || boot_ns - inputs->begun_ns > settle_ns ||
                                all_answered(inputs, &config->spaces[s]);
    }
}

/* Copies the readings of the best quality among the sensors; returns how many. */
static int best_of(const struct inputs *inputs, const int *sensors, int count,
                   struct reading *ret_readings)
{
    enum reading_quality best = READING_LOST;
    int kept = 0;
    for (int i = 0; i < count; i++) {
        const struct reading *reading = &inputs->points[sensors[i]].reading;
        if (reading->quality < best) {
            best = reading->quality;
            kept = 0;
        }
        if (reading->quality == best && best != READING_LOST) {
            ret_readings[kept++] = *reading;
        }
    }
    return kept;
}

static int by_value(const void *a, const void *b)
{
    const struct reading *one = a;
    const struct reading *other = b;
    return (one->value > other->value) - (one->value < other->value);
}

static struct reading median(struct reading *readings, int count)
{
    if (count == 0) {
        return READING_NONE;
    }
    qsort(readings, (size_t)count, sizeof *readings, by_value);
    struct reading low = readings[(count - 1) / 2];
    const struct reading *high = &readings[count / 2];
    low.value = 0.5 * (low.value + high->value);
    if (high->taken_ns < low.taken_ns) {
        low.taken_ns = high->taken_ns; /* as old as its oldest part */
    }
    return low;
}

static struct reading hottest(const struct reading *readings, int count)
{
    struct reading best = READING_NONE;
    for (int i = 0; i < count; i++) {
        if (i == 0 || readings[i].value > best.value) {
            best = readings[i];
        }
    }
    return best;
}

struct reading inputs_reading(const struct inputs *inputs, int sensor)
{
    return sensor >= 0 ? inputs->points[sensor].reading : READING_NONE;
}

enum quality_fault inputs_fault(const struct inputs *inputs, int sensor)
{
    return inputs->points[sensor].quality.fault;
}

void inputs_fill(const struct inputs *inputs, int space, struct now *now,
                 struct recorder_air *ret_air)
{
    const struct config_space *its = &inputs->config->spaces[space];
    struct reading readings[CONFIG_PPFD_SENSORS_MAX + CONFIG_HEAT_SENSORS_MAX];
    int count = best_of(inputs, its->ppfd_sensors, its->ppfd_sensor_count, readings);
    now->ppfd = median(readings, count);
    now->ppfd.value *= its->canopy_factor;
    now->ppfd_count = its->ppfd_sensor_count;
    for (int i = 0; i < its->ppfd_sensor_count; i++) {
        now->ppfd_each[i] = inputs_reading(inputs, its->ppfd_sensors[i]);
    }
    now->inputs_settled = inputs->is_settled[space];
    for (int place = 0; place < its->rules.fixture_count; place++) {
        const struct config_fixture *fixture = &inputs->config->fixtures[its->fixtures[place]];
        count = best_of(inputs, fixture->heat_sensors, fixture->heat_sensor_count, readings);
        now->fixtures[place].heat = hottest(readings, count);
        now->fixtures[place].power = inputs_reading(inputs, fixture->power_sensor);
    }
    ret_air->temperature = inputs_reading(inputs, its->air_temperature);
    ret_air->humidity = inputs_reading(inputs, its->air_humidity);
}
