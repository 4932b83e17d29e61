/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The gpio driver on stand-ins for libgpiod that record every level of every pin. The libraries'
 * behaviour is that of their manuals (gpiod.h 1.6.3 and 2.1) and of the kernel's
 * include/uapi/linux/gpio.h. The program is built once for each library (LIBGPIOD).
 */
#include "driver.h"
#include "err.h"
#include "fake_gpiod.h"
#include "gpio_chip.h"
#include "prng.h"
#include "tmpsysfs.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

extern const struct driver driver_gpio;

static const char *folder;
static struct err err;

static int setup(void **state)
{
    (void)state;
    fake_gpiod_reset();
    folder = tmpsysfs_init();
    memset(&err, 0, sizeof err);
    return 0;
}

static int teardown(void **state)
{
    (void)state;
    tmpsysfs_finish();
    return 0;
}

static int add_chip(const char *device, const char *label, unsigned lines)
{
    tmpsysfs_file(device, "");
    return fake_gpiod_add_chip(device, label, lines);
}

static struct bus *new_bus(const char *label)
{
    struct option_value options[] = {{.text = label}, {.text = folder}};
    struct bus *bus = NULL;
    assert_int_equal(driver_gpio.create(options, &bus, &err), 0);
    return bus;
}

static int add_switch(struct bus *bus, const char *line, int offset, bool active_low)
{
    struct option_value options[] = {{.text = line}, {.integer = offset}, {.flag = active_low}};
    return driver_gpio.add_output(bus, OUTPUT_SWITCH, options, &err);
}

static int write_switch(struct bus *bus, int output, double value, double *ret_seen)
{
    *ret_seen = -1;
    return driver_gpio.write(bus, output, value, ret_seen, &err);
}

#define assert_says(part) assert_non_null(strstr(err.text, part))
#define assert_history(chip, offset, levels)                                                       \
    assert_string_equal(fake_gpiod_history(chip, offset), levels)

static void names_the_library_of_the_build(void **state)
{
    (void)state;
    assert_non_null(strstr(driver_gpio.help, LIBGPIOD == 1 ? "(libgpiod 1)" : "(libgpiod 2)"));
}

/* Without the one chip nothing is held, and without the line neither. */
static void a_failed_connect_leaves_nothing_open(void **state)
{
    (void)state;
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "SHELF", -1, false), 0);
    int chip = add_chip("gpiochip0", "pinctrl-bench", 8);
    double seen;
    assert_int_equal(driver_gpio.connect(bus, &err), -ENODEV);
    assert_int_equal(write_switch(bus, 0, 1, &seen), -ENOTCONN);
    chip = add_chip("gpiochip1", "relays", 8);
    fake_gpiod_name_line(chip, 2, "SHELV");
    assert_int_equal(driver_gpio.connect(bus, &err), -ENOENT);
    assert_says("is \"SHELV\" meant?");
    int twin = add_chip("gpiochip2", "relays", 8);
    assert_int_equal(driver_gpio.connect(bus, &err), -ENOTUNIQ);
    assert_int_equal(fake_gpiod_open_chips(), 0);
    assert_false(fake_gpiod_is_held(chip, 2) || fake_gpiod_is_held(twin, 2));
    driver_gpio.destroy(bus);
}

static void refuses_one_line_for_two_outputs(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    fake_gpiod_name_line(chip, 2, "SHELF");
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", -1, false), -EINVAL);
    assert_int_equal(add_switch(bus, "SHELF", -1, false), 0);
    assert_int_equal(add_switch(bus, "SHELF", -1, true), -ENOTUNIQ);
    assert_int_equal(add_switch(bus, "", 2, false),
                     0); /* the same line, but only the chip can tell */
    assert_int_equal(add_switch(bus, "", 2, false), -ENOTUNIQ);
    struct option_value none[3] = {{.text = ""}};
    assert_int_equal(driver_gpio.add_output(bus, OUTPUT_DIM, none, &err), -ENOTSUP);
    assert_int_equal(driver_gpio.add_sensor(bus, SENSOR_PPFD, none, &err), -ENOTSUP);
    assert_int_equal(driver_gpio.connect(bus, &err), 0); /* one output can run */
    double seen;
    assert_int_equal(write_switch(bus, 0, 1, &seen), 0);
    assert_int_equal(write_switch(bus, 1, 1, &seen), -ENOTUNIQ);
    assert_says("line 2 is used by two outputs");
    assert_history(chip, 2, "zLH");
    driver_gpio.destroy(bus);
}

/* From the request on a pin shows nothing but its open level until it is told to close, in both
 * polarities, and one request a polarity holds them all. */
static void moves_no_pin_before_it_is_told(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    struct bus *bus = new_bus("relays");
    for (int i = 0; i < 6; i++) {
        assert_int_equal(add_switch(bus, "", i, i % 2 == 1), 0);
    }
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    assert_int_equal(fake_gpiod_requests(), 2);
    for (unsigned i = 0; i < 6; i++) {
        assert_string_equal(fake_gpiod_consumer(chip, i), "lampwarden");
        assert_history(chip, i, i % 2 ? "zH" : "zL");
    }
    double seen;
    assert_int_equal(write_switch(bus, 0, 1, &seen), 0);
    assert_true(seen == 1);
    assert_int_equal(write_switch(bus, 4, 1, &seen), 0);
    assert_int_equal(write_switch(bus, 3, 1, &seen), 0);
    assert_true(seen == 1);
    assert_int_equal(write_switch(bus, 2, 0, &seen), 0);
    assert_true(seen == 0);
    assert_history(chip, 0, "zLH"); /* neighbours of one request keep their level */
    assert_history(chip, 1, "zH");
    assert_history(chip, 2, "zL");
    assert_history(chip, 3, "zHL");
    assert_history(chip, 4, "zLH");
    assert_history(chip, 5, "zH");
    assert_int_equal(driver_gpio.make_safe(bus, &err), 0);
    assert_history(chip, 0, "zLHL");
    assert_history(chip, 3, "zHLH");
    assert_history(chip, 4, "zLHL");
    driver_gpio.disconnect(bus);
    assert_history(chip, 0, "zLHLz");
    driver_gpio.destroy(bus);
}

static void random_writes_move_only_their_own_pin(void **state)
{
    (void)state;
    struct prng prng = prng_start("writes");
    int chip = add_chip("gpiochip0", "relays", 16);
    struct bus *bus = new_bus("relays");
    bool closed[16] = {false};
    size_t moves[16] = {0};
    for (int i = 0; i < 16; i++) {
        assert_int_equal(add_switch(bus, "", 15 - i, i % 3 == 0), 0);
    }
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    for (int n = 0; n < 1000; n++) {
        int output = (int)prng_int(&prng, 0, 15);
        bool close = prng_int(&prng, 0, 1);
        double seen;
        assert_int_equal(write_switch(bus, output, close, &seen), 0);
        assert_true(seen == close);
        moves[output] += closed[output] != close;
        closed[output] = close;
    }
    for (int i = 0; i < 16; i++) {
        assert_int_equal(strlen(fake_gpiod_history(chip, (unsigned)(15 - i))), 2 + moves[i]);
    }
    driver_gpio.destroy(bus);
}

static void a_busy_line_names_its_holder_and_spares_the_others(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    fake_gpiod_name_line(chip, 2, "SHELF");
    fake_gpiod_take(chip, 2, "gpioset");
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    assert_int_equal(add_switch(bus, "SHELF", -1, false), 0);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    double seen;
    assert_int_equal(write_switch(bus, 0, 1, &seen), 0);
    assert_int_equal(write_switch(bus, 1, 1, &seen), -EBUSY);
    assert_says("line \"SHELF\" is held by \"gpioset\"");
    assert_true(seen == -1); /* untouched */
    assert_int_equal(driver_gpio.make_safe(bus, &err), -EBUSY);
    assert_says("gpioset");
    assert_history(chip, 1, "zLHL"); /* safe although the other line is not ours */
    assert_history(chip, 2, "z");

    fake_gpiod_free(chip, 2);
    assert_int_equal(write_switch(bus, 1, 1, &seen), 0);
    assert_history(chip, 2, "zLH"); /* open first */
    driver_gpio.destroy(bus);
}

static void all_lines_busy_is_a_failed_connect(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    fake_gpiod_take(chip, 1, "");
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    assert_int_equal(driver_gpio.connect(bus, &err), -EBUSY);
    assert_says("an unnamed user");
    assert_int_equal(fake_gpiod_open_chips(), 0);
    fake_gpiod_free(chip, 1);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    driver_gpio.destroy(bus);
}

/* A pin that does not follow is never told to close before it was seen open. */
static void a_stuck_pin_is_seen_and_not_closed(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    assert_int_equal(add_switch(bus, "", 2, false), 0);
    fake_gpiod_stick(chip, 1, 1);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    double seen;
    assert_int_equal(write_switch(bus, 0, 1, &seen), -EPROTO);
    assert_says("line 1 was driven open and reads back closed");
    assert_history(chip, 1, "zL");
    assert_int_equal(driver_gpio.make_safe(bus, &err), -EPROTO);

    fake_gpiod_stick(chip, 1, -1);
    assert_int_equal(write_switch(bus, 0, 1, &seen), 0);
    fake_gpiod_stick(chip, 1, 0); /* later faults show in what was seen */
    assert_int_equal(write_switch(bus, 0, 1, &seen), 0);
    assert_true(seen == 0);
    driver_gpio.destroy(bus);
}

static void a_chip_that_cannot_be_read_back_gives_nan(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    fake_gpiod_fail_get(chip, EIO);
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    double seen;
    assert_int_equal(write_switch(bus, 0, 1, &seen), 0);
    assert_true(isnan(seen));
    driver_gpio.destroy(bus);
}

/* An expander that answered once and does not now has a fault, and is no chip without read-back. */
static void a_chip_that_stops_answering_has_a_fault(void **state)
{
    (void)state;
    static const int errors[] = {EIO, EINVAL, EREMOTEIO, ETIMEDOUT};
    int chip = add_chip("gpiochip0", "relays", 8);
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    fake_gpiod_fail_get(chip, EREMOTEIO); /* what a chip without read-back never says */
    assert_int_equal(driver_gpio.connect(bus, &err), -EREMOTEIO);
    assert_says("line 1 cannot be read back");
    assert_int_equal(fake_gpiod_open_chips(), 0);
    for (size_t i = 0; i < sizeof errors / sizeof errors[0]; i++) {
        fake_gpiod_fail_get(chip, 0);
        assert_int_equal(driver_gpio.connect(bus, &err), 0);
        fake_gpiod_fail_get(chip, errors[i]);
        double seen;
        assert_int_equal(write_switch(bus, 0, 1, &seen), -errors[i]);
        assert_true(seen == -1);
        driver_gpio.disconnect(bus);
    }
    driver_gpio.destroy(bus);
}

/* Whether the contact closed is unknown: it is told to open once, and does not chatter. */
static void after_a_failed_closing_a_line_opens_and_is_not_closed_blindly(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    double seen;
    fake_gpiod_fail_get(chip, EREMOTEIO);
    for (int i = 0; i < 5; i++) {
        assert_int_equal(write_switch(bus, 0, 1, &seen), -EREMOTEIO);
        assert_history(chip, 1, "zLHL");
    }
    fake_gpiod_fail_get(chip, 0);
    assert_int_equal(write_switch(bus, 0, 1, &seen), 0);
    assert_history(chip, 1, "zLHLH");
    driver_gpio.destroy(bus);
}

static void a_failed_write_leaves_the_neighbours_and_counts_as_open(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    assert_int_equal(add_switch(bus, "", 2, false), 0);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    double seen;
    fake_gpiod_fail_set(chip, EREMOTEIO);
    assert_int_equal(write_switch(bus, 0, 1, &seen), -EREMOTEIO);
    assert_says("line 1 cannot be closed");
    assert_int_equal(driver_gpio.make_safe(bus, &err), -EREMOTEIO);
    fake_gpiod_fail_set(chip, 0);
    assert_int_equal(write_switch(bus, 1, 1, &seen), 0);
    assert_history(chip, 1, "zL");
    assert_history(chip, 2, "zLH");
    driver_gpio.destroy(bus);
}

static void finds_the_chip_again_after_a_replug(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip1", "relays", 8);
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    assert_int_equal(driver_gpio.read(bus, NULL, &err), 0);
    fake_gpiod_unplug(chip);
    assert_int_equal(driver_gpio.read(bus, NULL, &err), -ENODEV); /* a standing lamp notices too */
    assert_says("the chip \"relays\" is gone");
    double seen;
    assert_int_equal(write_switch(bus, 0, 1, &seen), -ENODEV);
    assert_int_equal(driver_gpio.make_safe(bus, &err), -ENODEV);
    assert_int_equal(driver_gpio.connect(bus, &err), -ENODEV);
    driver_gpio.disconnect(bus);
    chip = add_chip("gpiochip1", "relays", 8);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    assert_int_equal(write_switch(bus, 0, 1, &seen), 0);
    assert_history(chip, 1, "zLH");
    driver_gpio.destroy(bus);
}

/* Nobody disconnected: the stop step may come between the replug and the next write. */
static void the_stop_step_finds_a_chip_that_was_replugged(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip1", "relays", 8);
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, true), 0);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    fake_gpiod_unplug(chip);
    chip = add_chip("gpiochip3", "relays", 8);
    assert_int_equal(driver_gpio.make_safe(bus, &err), 0);
    assert_history(chip, 1, "zH");
    assert_int_equal(fake_gpiod_open_chips(), 1);
    driver_gpio.destroy(bus);
    assert_int_equal(fake_gpiod_open_chips(), 0);
}

/* The kernel frees the lines of a process that has died, and they are anybody's then. */
static void a_new_process_takes_the_lines_of_a_dead_one(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    fake_gpiod_take(chip, 1, "lampwarden");
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    assert_int_equal(driver_gpio.make_safe(bus, &err), -EBUSY); /* it still runs */
    assert_says("line 1 is held by \"lampwarden\"");
    fake_gpiod_free(chip, 1);
    assert_int_equal(driver_gpio.make_safe(bus, &err), 0);
    assert_history(chip, 1, "zL");
    driver_gpio.destroy(bus);
}

/* As many as one request of the kernel takes, from a chip that has more. */
static void holds_sixty_four_lines(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 128);
    struct bus *bus = new_bus("relays");
    for (int i = 0; i < GPIO_CHIP_LINES_MAX; i++) {
        assert_int_equal(add_switch(bus, "", 127 - i, false), 0);
    }
    assert_int_equal(add_switch(bus, "", 3, false), -ENOSPC);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    assert_int_equal(fake_gpiod_requests(), 1);
    double seen;
    assert_int_equal(write_switch(bus, GPIO_CHIP_LINES_MAX - 1, 1, &seen), 0);
    assert_history(chip, 64, "zLH");
    assert_history(chip, 65, "zL");
    assert_history(chip, 63, "z");
    driver_gpio.destroy(bus);
}

/* The stop step: a bus that was never connected acquires its lines, drives them open, and can be
 * asked twice. */
static void make_safe_works_in_every_state(void **state)
{
    (void)state;
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, true), 0);
    assert_int_equal(driver_gpio.make_safe(bus, &err), -ENODEV); /* no chip */
    int chip = add_chip("gpiochip0", "relays", 8);
    assert_int_equal(driver_gpio.make_safe(bus, &err), 0); /* never connected */
    assert_int_equal(driver_gpio.make_safe(bus, &err), 0);
    assert_history(chip, 1, "zH");
    assert_int_equal(driver_gpio.connect(bus, &err), 0); /* after make_safe */
    double seen;
    assert_int_equal(write_switch(bus, 0, 1, &seen), 0);
    driver_gpio.disconnect(bus);
    driver_gpio.disconnect(bus);
    assert_int_equal(driver_gpio.make_safe(bus, &err), 0); /* after disconnect */
    assert_history(chip, 1, "zHLzH");
    driver_gpio.destroy(bus);
    driver_gpio.destroy(NULL);
}

static void refuses_values_that_are_no_switch_position(void **state)
{
    (void)state;
    int chip = add_chip("gpiochip0", "relays", 8);
    struct bus *bus = new_bus("relays");
    assert_int_equal(add_switch(bus, "", 1, false), 0);
    assert_int_equal(driver_gpio.read(bus, NULL, &err), -ENOTCONN);
    assert_int_equal(driver_gpio.connect(bus, &err), 0);
    assert_int_equal(driver_gpio.read(bus, NULL, &err), 0);
    static const double values[] = {(double)NAN, 0.5, -1, 2, (double)INFINITY};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++) {
        double seen;
        assert_int_equal(write_switch(bus, 0, values[i], &seen), -EINVAL);
    }
    double seen;
    assert_int_equal(write_switch(bus, 1, 0, &seen), -EINVAL);
    assert_int_equal(write_switch(bus, -1, 0, &seen), -EINVAL);
    assert_history(chip, 1, "zL");
    driver_gpio.destroy(bus);
}

#define TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(names_the_library_of_the_build),
        TEST(a_failed_connect_leaves_nothing_open),
        TEST(refuses_one_line_for_two_outputs),
        TEST(moves_no_pin_before_it_is_told),
        TEST(random_writes_move_only_their_own_pin),
        TEST(a_busy_line_names_its_holder_and_spares_the_others),
        TEST(all_lines_busy_is_a_failed_connect),
        TEST(a_stuck_pin_is_seen_and_not_closed),
        TEST(a_chip_that_cannot_be_read_back_gives_nan),
        TEST(a_chip_that_stops_answering_has_a_fault),
        TEST(after_a_failed_closing_a_line_opens_and_is_not_closed_blindly),
        TEST(a_failed_write_leaves_the_neighbours_and_counts_as_open),
        TEST(finds_the_chip_again_after_a_replug),
        TEST(the_stop_step_finds_a_chip_that_was_replugged),
        TEST(a_new_process_takes_the_lines_of_a_dead_one),
        TEST(holds_sixty_four_lines),
        TEST(make_safe_works_in_every_state),
        TEST(refuses_values_that_are_no_switch_position),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
