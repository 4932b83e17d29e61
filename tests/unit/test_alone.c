/* SPDX-License-Identifier: Apache-2.0 */
#include "alone.h"

#include "err.h"
#include "script_driver.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

struct rig {
    struct script script;
    struct option_value option;
    struct config_bus bus;
    struct config_sensor sensors[2];
    struct config_output output;
    struct config config;
    struct picture_sensor pictures[2];
};

/* The second bus's sensor stands first: indices of the bus and of the configuration differ. */
static void set_up(struct rig *rig)
{
    struct script *script = &rig->script;
    *rig = (struct rig){.bus = {.name = "shelf", .driver = &script_driver}};
    script_init(script);
    memcpy(&rig->option.text, &script, sizeof rig->option.text);
    rig->bus.options = &rig->option;
    for (int i = 0; i < 2; i++) {
        rig->sensors[i] = (struct config_sensor){
            .name = "par", .bus = 1 - i, .quality = {.low = 0, .high = 100, .jump_per_s = 1e9}};
        rig->sensors[i].quality.stale_ns = INT64_C(10000000000);
        rig->sensors[i].quality.lost_ns = INT64_C(20000000000);
        rig->sensors[i].quality.power_on_c = (double)NAN;
    }
    rig->output = (struct config_output){.name = "lamp", .kind = OUTPUT_SWITCH};
    rig->config = (struct config){.buses = &rig->bus,
                                  .bus_count = 1,
                                  .sensors = rig->sensors,
                                  .sensor_count = 2,
                                  .outputs = &rig->output,
                                  .output_count = 1};
}

static void reads_and_drives_nothing(void **state)
{
    (void)state;
    struct rig rig;
    struct alone *alone = NULL;
    set_up(&rig);
    rig.script.sensor[0] = 42;
    rig.script.output[0] = 1; /* a lamp that is lit */
    assert_int_equal(alone_open(&rig.config, 0, true, &alone, NULL), 0);
    assert_int_equal(rig.script.output_count, 0); /* so that connecting has nothing to make safe */
    assert_int_equal(alone_read(alone, rig.pictures, NULL), 0);
    assert_true(rig.pictures[1].reading.value == 42);
    assert_int_equal(rig.pictures[1].reading.quality, READING_GOOD);
    assert_int_equal(rig.pictures[1].fault, QUALITY_OK);
    rig.script.sensor[0] = 101;
    assert_int_equal(alone_read(alone, rig.pictures, NULL), 0);
    assert_int_equal(rig.pictures[1].fault, QUALITY_RANGE);
    assert_true(rig.pictures[1].sample.value == 101);
    alone_close(alone);
    alone_close(NULL);
    assert_int_equal(rig.script.log_count, 0);
    assert_int_equal(rig.script.make_safes, 0);
    assert_int_equal(rig.script.destroys, 1);
    script_finish(&rig.script);
}

static void a_line_that_does_not_open(void **state)
{
    (void)state;
    struct rig rig;
    struct alone *alone = NULL;
    struct err err = {""};
    set_up(&rig);
    rig.script.fail_connects = 1;
    rig.script.connect_error = -EBUSY;
    assert_int_equal(alone_open(&rig.config, 0, true, &alone, &err), -EBUSY);
    assert_string_equal(err.text, "the device does not open");
    rig.script.fail_connects = 1;
    assert_int_equal(alone_open(&rig.config, 0, false, &alone, &err), -EBUSY);
    rig.script.fail_connects = 1;
    rig.script.connect_error = -EIO;
    assert_int_equal(alone_open(&rig.config, 0, true, &alone, &err), -EIO);
    assert_null(alone);
    assert_int_equal(rig.script.destroys, 3);
    script_finish(&rig.script);
}

static void a_line_that_is_lost_opens_again(void **state)
{
    (void)state;
    struct rig rig;
    struct alone *alone = NULL;
    char words[64] = "";
    set_up(&rig);
    rig.script.is_there[7] = true;
    assert_int_equal(alone_open(&rig.config, 0, true, &alone, NULL), 0);
    rig.script.is_gone = true;
    assert_int_equal(alone_read(alone, rig.pictures, NULL), -EIO);
    assert_int_equal(rig.pictures[1].sample.error, -EIO);
    assert_int_equal(rig.pictures[1].reading.quality, READING_LOST);
    assert_int_equal(alone_probe(alone, 7, words, sizeof words, NULL), -EIO);
    rig.script.is_gone = false;
    assert_int_equal(alone_probe(alone, 7, words, sizeof words, NULL), 0);
    assert_string_equal(words, "register 0 holds 7");
    assert_int_equal(alone_probe(alone, 8, words, sizeof words, NULL), -ETIMEDOUT);
    assert_int_equal(rig.script.disconnects, 2);
    alone_close(alone);
    script_finish(&rig.script);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_and_drives_nothing),
        cmocka_unit_test(a_line_that_does_not_open),
        cmocka_unit_test(a_line_that_is_lost_opens_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
