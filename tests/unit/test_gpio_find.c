/* SPDX-License-Identifier: Apache-2.0 */
/* Chips by label and lines by name, on a stand-in for libgpiod (fake_gpiod.h). */
#include "err.h"
#include "fake_gpiod.h"
#include "gpio_chip.h"
#include "gpio_find.h"
#include "tmpsysfs.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

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

static struct gpio_chip *find_relays(void)
{
    struct gpio_chip *chip = NULL;
    assert_int_equal(gpio_find_chip(folder, "relays", &chip, &err), 0);
    return chip;
}

#define assert_says(part) assert_non_null(strstr(err.text, part))

/* Chip numbers depend on board and kernel: the label finds the same chip in both orders. */
static void finds_the_chip_by_label_in_either_order(void **state)
{
    (void)state;
    for (int order = 0; order < 2; order++) {
        fake_gpiod_reset();
        (void)add_chip(order ? "gpiochip1" : "gpiochip0", "pinctrl-bench", 54);
        (void)add_chip(order ? "gpiochip0" : "gpiochip1", "relays", 8);
        struct gpio_chip *chip = find_relays();
        assert_string_equal(gpio_chip_info(chip)->name, order ? "gpiochip0" : "gpiochip1");
        assert_string_equal(gpio_chip_info(chip)->label, "relays");
        assert_int_equal(gpio_chip_info(chip)->line_count, 8);
        assert_int_equal(fake_gpiod_open_chips(), 1);
        gpio_chip_close(chip);
        assert_int_equal(fake_gpiod_open_chips(), 0);
    }
}

static void refuses_what_is_not_one_chip(void **state)
{
    (void)state;
    struct gpio_chip *chip = NULL;
    assert_int_equal(gpio_find_chip("/nowhere", "relays", &chip, &err), -ENOENT);
    assert_says("/nowhere: ");
    assert_int_equal(gpio_find_chip(folder, "relays", &chip, &err), -ENODEV);
    assert_says("there is: nothing");

    (void)add_chip("gpiochip0", "pinctrl-bench", 8);
    int hidden = add_chip("gpiochip2", "relays", 8);
    fake_gpiod_fail_open(hidden, EACCES);
    assert_int_equal(gpio_find_chip(folder, "relays", &chip, &err), -EACCES);
    assert_says("gpiochip0 \"pinctrl-bench\", gpiochip2 (Permission denied)");
    fake_gpiod_fail_open(hidden, 0);
    assert_int_equal(gpio_find_chip(folder, "relay", &chip, &err), -ENODEV); /* a part is not it */

    (void)add_chip("gpiochip3", "relays", 8);
    assert_int_equal(gpio_find_chip(folder, "relays", &chip, &err), -ENOTUNIQ);
    assert_says("2 GPIO chips are labelled \"relays\"");
    assert_says("gpiochip2 \"relays\", gpiochip3 \"relays\"");
    assert_int_equal(fake_gpiod_open_chips(), 0);
    assert_null(chip);
}

/* Some boards keep a link under the number that a chip once had. */
static void takes_a_link_for_the_chip_it_names(void **state)
{
    (void)state;
    int relays = add_chip("gpiochip0", "relays", 8);
    tmpsysfs_file("gpiochip4", "");
    fake_gpiod_add_link("gpiochip4", relays);
    gpio_chip_close(find_relays());
    assert_int_equal(fake_gpiod_open_chips(), 0);
}

static void resolves_lines_by_name_or_offset(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        int offset;
        int found; /* or the error */
        const char *says;
    } cases[] = {
        {"SHELF_A", -1, 2, ""},
        {"", 5, 5, ""},
        {"SHELF_A", 2, 2, ""},
        {"SHELF_A", 3, -ENOENT, "line 3 is named \"TWIN\", not \"SHELF_A\""},
        {"SHELF_A", 5, -ENOENT, "line 5 is named \"\", not \"SHELF_A\""},
        {"TWIN", -1, -ENOTUNIQ, "lines 3 and 4 are both named \"TWIN\""},
        {"TWIN", 4, 4, ""},
        {"SHLEF_A", -1, -ENOENT, "is named \"SHLEF_A\"; is \"SHELF_A\" meant?"},
        {"shelf a", -1, -ENOENT, "is named \"shelf a\"; is \"SHELF_A\" meant?"},
        {"BENCH", -1, -ENOENT, "there is: SHELF_A, TWIN, TWIN"},
        {"", 8, -ENOENT, "line 8 is out of range (0 … 7)"},
    };
    int relays = add_chip("gpiochip0", "relays", 8);
    fake_gpiod_name_line(relays, 2, "SHELF_A");
    fake_gpiod_name_line(relays, 3, "TWIN");
    fake_gpiod_name_line(relays, 4, "TWIN");
    struct gpio_chip *chip = find_relays();
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        unsigned place = 77;
        err.text[0] = '\0';
        int rc = gpio_find_line(chip, cases[i].line, cases[i].offset, &place, &err);
        assert_int_equal(rc, cases[i].found < 0 ? cases[i].found : 0);
        assert_int_equal(place, cases[i].found < 0 ? 77 : cases[i].found);
        assert_says(cases[i].says);
    }
    fake_gpiod_unplug(relays);
    unsigned place = 77;
    assert_int_equal(gpio_find_line(chip, "SHELF_A", -1, &place, &err), -ENODEV);
    assert_int_equal(gpio_find_line(chip, "", 2, &place, &err), -ENODEV);
    assert_says("line 2: ");
    gpio_chip_close(chip);
}

#define TEST(function) cmocka_unit_test_setup_teardown(function, setup, teardown)

int main(void)
{
    const struct CMUnitTest tests[] = {
        TEST(finds_the_chip_by_label_in_either_order),
        TEST(refuses_what_is_not_one_chip),
        TEST(takes_a_link_for_the_chip_it_names),
        TEST(resolves_lines_by_name_or_offset),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
