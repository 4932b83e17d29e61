/* SPDX-License-Identifier: Apache-2.0 */
#include "inputs.h"

#include "near.h"
#include "sim_config.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

/* sim_config's sensors: 0 PPFD, then heat and power of each fixture; here two more PPFD at the end.
 */
enum { PPFD = 0, HEAT = 1, POWER = 2, HEAT_TWO = 3, POWER_TWO = 4, SENSORS = 5 };
static const int64_t second = 1000000000;

struct rig {
    struct sim_config sim;
    struct config_sensor sensors[SENSORS + 2];
    struct inputs *inputs;
    struct sample samples[SENSORS + 2];
    struct space_state state;
    struct now now;
    struct recorder_air air;
    int64_t boot_ns;
};

static void begin(struct rig *rig)
{
    memset(rig, 0, sizeof *rig);
    sim_config_init(&rig->sim, 2);
    memcpy(rig->sensors, rig->sim.sensors, SENSORS * sizeof rig->sensors[0]);
    rig->sensors[SENSORS] = rig->sensors[SENSORS + 1] = rig->sensors[PPFD];
    for (int i = 0; i < SENSORS + 2; i++) {
        (void)snprintf(rig->sensors[i].name, CONFIG_NAME_MAX, "sensor-%d", i);
        rig->samples[i] = (struct sample){.value = (double)NAN, .error = -EAGAIN};
    }
    rig->sim.config.sensors = rig->sensors;
    rig->sim.config.sensor_count = SENSORS + 2;
    rig->sim.space.ppfd_sensors[1] = SENSORS;
    rig->sim.space.ppfd_sensors[2] = SENSORS + 1;
    rig->sim.space.ppfd_sensor_count = 3;
    rig->sim.space.canopy_factor = 0.8;
    rig->boot_ns = 500 * second;
    assert_int_equal(inputs_create(&rig->sim.config, NULL, &rig->inputs, NULL), 0);
}

static void say(struct rig *rig, int sensor, double value)
{
    rig->samples[sensor] = (struct sample){.value = value, .taken_ns = rig->boot_ns};
}

static void tick(struct rig *rig)
{
    inputs_step(rig->inputs, rig->samples, &rig->state, rig->boot_ns);
    inputs_fill(rig->inputs, 0, &rig->now, &rig->air);
    rig->boot_ns += second;
}

static void three_sensors_make_a_median(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig);
    tick(&rig);
    assert_int_equal(rig.now.ppfd.quality, READING_LOST);
    assert_true(isnan(rig.now.ppfd.value));
    say(&rig, PPFD, 100);
    tick(&rig);
    assert_near(rig.now.ppfd.value, 80, 1e-9); /* canopy factor 0.8 */
    say(&rig, SENSORS, 300);
    tick(&rig);
    assert_near(rig.now.ppfd.value, 0.8 * 200, 1e-9);
    assert_true(rig.now.ppfd.taken_ns == 501 * second); /* as old as its oldest part */
    say(&rig, SENSORS + 1, 120);
    tick(&rig);
    assert_near(rig.now.ppfd.value, 0.8 * 120, 1e-9);
    say(&rig, SENSORS + 1, 9999); /* out of range: the good value before ages on */
    tick(&rig);
    assert_near(rig.now.ppfd.value, 0.8 * 120, 1e-9);
    assert_int_equal(inputs_fault(rig.inputs, SENSORS + 1), QUALITY_RANGE);
    inputs_destroy(rig.inputs);
}

static void a_good_one_outranks_stale_ones(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig);
    say(&rig, PPFD, 100);
    say(&rig, SENSORS, 300);
    say(&rig, SENSORS + 1, 320);
    tick(&rig);
    rig.boot_ns += 20 * second; /* stale after 10 s */
    say(&rig, PPFD, 110);
    tick(&rig);
    assert_int_equal(rig.now.ppfd.quality, READING_GOOD);
    assert_near(rig.now.ppfd.value, 88, 1e-9);
    rig.boot_ns += 20 * second;
    tick(&rig);
    assert_int_equal(rig.now.ppfd.quality, READING_STALE);
    rig.boot_ns += 60 * second;
    tick(&rig);
    assert_int_equal(rig.now.ppfd.quality, READING_LOST);
    assert_true(isnan(rig.now.ppfd.value));
    inputs_destroy(rig.inputs);
}

static void the_hottest_sensor_speaks(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig);
    rig.sim.fixtures[0].heat_sensors[1] = HEAT_TWO;
    rig.sim.fixtures[0].heat_sensor_count = 2;
    say(&rig, HEAT, 41);
    say(&rig, HEAT_TWO, 63);
    say(&rig, POWER, 210);
    tick(&rig);
    assert_near(rig.now.fixtures[0].heat.value, 63, 1e-9);
    assert_near(rig.now.fixtures[0].power.value, 210, 1e-9);
    assert_int_equal(rig.now.fixtures[1].power.quality, READING_LOST);
    rig.samples[HEAT_TWO].error = -ETIMEDOUT;
    say(&rig, HEAT, 42);
    rig.boot_ns += 15 * second;
    say(&rig, HEAT, 42);
    tick(&rig);
    assert_near(rig.now.fixtures[0].heat.value, 42, 1e-9); /* stale 63 °C does not outrank */
    rig.sim.fixtures[0].power_sensor = -1;
    tick(&rig);
    assert_int_equal(rig.now.fixtures[0].power.quality, READING_LOST);
    inputs_destroy(rig.inputs);
}

/* A probe's power-on value is heat at once where the fixture's other sensor is nearly as hot. */
static void neighbours_back_a_power_on_value(void **state)
{
    (void)state;
    for (int other_c = 40; other_c <= 78; other_c += 38) {
        struct rig rig;
        begin(&rig);
        rig.sim.fixtures[0].heat_sensors[1] = HEAT_TWO;
        rig.sim.fixtures[0].heat_sensor_count = 2;
        rig.sensors[HEAT].quality.power_on_c = 85;
        say(&rig, HEAT_TWO, other_c);
        tick(&rig);
        say(&rig, HEAT_TWO, other_c);
        say(&rig, HEAT, 85);
        tick(&rig);
        assert_near(rig.now.fixtures[0].heat.value, other_c == 78 ? 85 : 40, 1e-9);
        assert_int_equal(inputs_fault(rig.inputs, HEAT),
                         other_c == 78 ? QUALITY_OK : QUALITY_POWER_ON);
        inputs_destroy(rig.inputs);
    }
}

static void settles_when_all_answered_or_time_is_up(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig);
    tick(&rig);
    assert_false(rig.now.inputs_settled);
    for (int i = 0; i < SENSORS + 2; i++) {
        say(&rig, i, 30);
    }
    tick(&rig);
    assert_true(rig.now.inputs_settled);
    inputs_destroy(rig.inputs);
    begin(&rig);
    for (int i = 0; i < 11; i++) {
        tick(&rig);
        assert_false(rig.now.inputs_settled);
    }
    tick(&rig);
    assert_true(rig.now.inputs_settled);
    inputs_destroy(rig.inputs);
}

static void no_sensor_at_all(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig);
    rig.sim.space.ppfd_sensor_count = 0;
    rig.sim.fixtures[0].heat_sensor_count = rig.sim.fixtures[1].heat_sensor_count = 0;
    tick(&rig);
    assert_true(rig.now.inputs_settled);
    assert_int_equal(rig.now.ppfd.quality, READING_LOST);
    assert_int_equal(rig.now.fixtures[0].heat.quality, READING_LOST);
    assert_int_equal(rig.air.humidity.quality, READING_LOST);
    inputs_destroy(rig.inputs);
}

static void a_reload_keeps_readings_by_name(void **state)
{
    (void)state;
    struct rig rig;
    struct inputs *fresh = NULL;
    begin(&rig);
    say(&rig, PPFD, 100);
    tick(&rig);
    struct config_sensor moved[SENSORS + 2];
    memcpy(moved, rig.sensors, sizeof moved);
    moved[PPFD] = rig.sensors[SENSORS];
    moved[SENSORS] = rig.sensors[PPFD];
    struct config after = rig.sim.config;
    after.sensors = moved;
    assert_int_equal(inputs_create(&after, rig.inputs, &fresh, NULL), 0);
    assert_near(inputs_reading(fresh, SENSORS).value, 100, 1e-9);
    assert_int_equal(inputs_reading(fresh, PPFD).quality, READING_LOST);
    inputs_destroy(fresh);
    inputs_destroy(rig.inputs);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_sensors_make_a_median),
        cmocka_unit_test(a_good_one_outranks_stale_ones),
        cmocka_unit_test(the_hottest_sensor_speaks),
        cmocka_unit_test(neighbours_back_a_power_on_value),
        cmocka_unit_test(settles_when_all_answered_or_time_is_up),
        cmocka_unit_test(no_sensor_at_all),
        cmocka_unit_test(a_reload_keeps_readings_by_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
