/* SPDX-License-Identifier: Apache-2.0 */
/* Every driver of this build keeps what driver.h promises of its tables, whatever it drives. */
#include "driver.h"
#include "parse.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

static void finds_drivers_by_name_and_nothing_else(void **state)
{
    (void)state;
    for (size_t i = 0; driver_registry[i]; i++) {
        assert_ptr_equal(driver_find(driver_registry[i]->name), driver_registry[i]);
    }
    assert_null(driver_find(""));
    assert_null(driver_find("Bench"));
    assert_null(driver_find("bench2"));
    assert_non_null(driver_find("bench"));
}

/* The contract in driver.h names these; the others leave the connection as it is. */
static void knows_what_ends_a_connection(void **state)
{
    (void)state;
    const int gone[] = {EIO, ENODEV, ENXIO, EBADF, ENOTCONN};
    const int stays[] = {0, EAGAIN, ETIMEDOUT, EINVAL, EBUSY, EBADMSG, EREMOTEIO};
    for (size_t i = 0; i < sizeof gone / sizeof gone[0]; i++) {
        assert_true(driver_is_gone(-gone[i]));
    }
    for (size_t i = 0; i < sizeof stays / sizeof stays[0]; i++) {
        assert_false(driver_is_gone(-stays[i]));
    }
}

static void check_fallback(const struct option *option)
{
    double real;
    int64_t integer;
    const char *text = option->fallback;
    switch (option->type) {
    case OPTION_TEXT:
        assert_in_range(strlen(text), (uintmax_t)option->low, (uintmax_t)option->high);
        break;
    case OPTION_INT:
        assert_int_equal(
            parse_int(text, (int64_t)option->low, (int64_t)option->high, &integer, NULL), 0);
        break;
    case OPTION_REAL:
        assert_int_equal(parse_real(text, option->low, option->high, &real, NULL), 0);
        break;
    case OPTION_BOOL:
        assert_true(strcmp(text, "true") == 0 || strcmp(text, "false") == 0);
        break;
    case OPTION_CHOICE: {
        size_t length = strlen(text);
        const char *found = option->choices ? strstr(option->choices, text) : NULL;
        assert_true(found && length > 0 && (found[length] == ' ' || found[length] == '\0'));
        break;
    }
    }
}

static void check_table(const struct option *table)
{
    for (size_t i = 0; i < option_count(table); i++) {
        const struct option *option = &table[i];
        assert_non_null(option->unit);
        assert_non_null(option->help);
        assert_true(option->help[0] != '\0');
        assert_true(option->low <= option->high);
        assert_true((option->type == OPTION_CHOICE) == (option->choices != NULL));
        assert_int_equal(strspn(option->name, "abcdefghijklmnopqrstuvwxyz0123456789_"),
                         strlen(option->name));
        for (size_t j = 0; j < i; j++) {
            assert_string_not_equal(table[j].name, option->name);
        }
        if (option->fallback) {
            check_fallback(option);
        }
    }
}

static void every_table_is_complete(void **state)
{
    (void)state;
    for (size_t i = 0; driver_registry[i]; i++) {
        const struct driver *driver = driver_registry[i];
        print_message("%s\n", driver->name);
        assert_non_null(driver->help);
        assert_true(driver->create && driver->add_sensor && driver->add_output && driver->connect);
        assert_true(driver->read && driver->write && driver->make_safe && driver->disconnect);
        assert_non_null(driver->destroy);
        assert_true(driver->sensor_options || driver->dim_options || driver->switch_options);
        check_table(driver->bus_options);
        check_table(driver->sensor_options);
        check_table(driver->dim_options);
        check_table(driver->switch_options);
        driver->destroy(NULL);
    }
}

static void counts_options_up_to_the_end(void **state)
{
    (void)state;
    static const struct option two[] = {{.name = "a"}, {.name = "b"}, {.name = NULL}};
    assert_int_equal(option_count(two), 2);
    assert_int_equal(option_count(two + 2), 0);
    assert_int_equal(option_count(NULL), 0);
}

static void says_what_this_build_lacks(void **state)
{
    (void)state;
    const char *missing = driver_missing();
    assert_true((driver_find("gpio") != NULL) == (strstr(missing, "libgpiod-dev") == NULL));
    assert_true((driver_find("modbus-tcp") != NULL) == (strstr(missing, "libmodbus-dev") == NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(finds_drivers_by_name_and_nothing_else),
        cmocka_unit_test(knows_what_ends_a_connection),
        cmocka_unit_test(every_table_is_complete),
        cmocka_unit_test(counts_options_up_to_the_end),
        cmocka_unit_test(says_what_this_build_lacks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
