/* SPDX-License-Identifier: Apache-2.0 */
/* The tables themselves: what they say of a key must be true of its own default. */
#include "schema.h"

#include "config_section.h"
#include "space.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

static void check_default(const struct key *key, const char *text)
{
    struct value value;
    print_message("%s: default \"%s\"\n", key->name, text);
    assert_true(value_fallback(key, text, &value));
    assert_true(value.is_set && !value.is_bad && value.line == 0);
}

static void check_names(const struct key *keys)
{
    for (int i = 0; keys[i].name; i++) {
        for (int k = 0; k < i; k++) {
            assert_string_not_equal(keys[i].name, keys[k].name);
        }
        for (const char *p = keys[i].name; *p; p++) {
            assert_true((*p >= 'a' && *p <= 'z') || *p == '_');
        }
    }
}

static void check_keys(const struct key *keys)
{
    check_names(keys);
    for (const struct key *key = keys; key->name; key++) {
        char text[256];
        assert_non_null(key->help);
        assert_true(strlen(key->help) > 5);
        schema_describe(key, text, sizeof text);
        assert_true(strlen(text) > 0 && strlen(text) < sizeof text - 1);
        assert_true(key->low <= key->high);
        if (key->fallback && key->fallback[0] != '\0') {
            check_default(key, key->fallback);
        }
        int kinds = key->by_kind ? 4 : 0;
        for (int i = 0; i < kinds; i++) {
            check_default(key, key->by_kind[i]);
        }
        if (key->type == KEY_GROUP || key->type == KEY_LIST) {
            assert_non_null(key->inner);
            check_keys(key->inner);
        }
        if (key->type == KEY_CHOICE) {
            assert_non_null(key->choices);
        }
    }
}

static void own_tables(void **state)
{
    (void)state;
    check_keys(schema_root);
    assert_int_equal(schema_count(schema_root), ROOT_ALARM + 1);
}

static void check_options(const struct option *options, const struct key *own)
{
    for (const struct option *option = options; option && option->name; option++) {
        const struct key key = schema_from_option(option);
        print_message("option %s\n", option->name);
        assert_true(key.is_hardware && !key.inner);
        for (const struct key *other = own; other->name; other++) {
            assert_string_not_equal(option->name, other->name);
        }
        if (key.fallback && key.fallback[0] != '\0') {
            check_default(&key, key.fallback);
        }
    }
}

static void options_of_drivers_fit_beside_them(void **state)
{
    (void)state;
    for (size_t i = 0; driver_registry[i]; i++) {
        const struct driver *driver = driver_registry[i];
        print_message("driver %s\n", driver->name);
        check_options(driver->bus_options, schema_root[ROOT_BUSES].inner);
        check_options(driver->sensor_options, schema_root[ROOT_SENSORS].inner);
        check_options(driver->dim_options, schema_root[ROOT_OUTPUTS].inner);
        check_options(driver->switch_options, schema_root[ROOT_OUTPUTS].inner);
        assert_non_null(strstr(schema_root[ROOT_BUSES].inner[BUS_DRIVER].help, driver->name));
    }
}

static void choices(void **state)
{
    (void)state;
    assert_int_equal(schema_choice("dim switch", "dim"), 0);
    assert_int_equal(schema_choice("dim switch", "switch"), 1);
    assert_int_equal(schema_choice("dim switch", "swit"), -1);
    assert_int_equal(schema_choice("dim switch", ""), -1);
    assert_int_equal(schema_choice("dim switch", "dim switch"), -1);
    assert_int_equal(schema_choice("", "dim"), -1);
}

/* Enumerations of core that the tables' words stand for. */
static void words_stand_in_the_order_of_the_code(void **state)
{
    (void)state;
    const char *kinds = schema_root[ROOT_SENSORS].inner[SENSOR_KIND].choices;
    assert_int_equal(schema_choice(kinds, "ppfd"), SENSOR_PPFD);
    assert_int_equal(schema_choice(kinds, "temperature"), SENSOR_TEMPERATURE);
    assert_int_equal(schema_choice(kinds, "humidity"), SENSOR_HUMIDITY);
    assert_int_equal(schema_choice(kinds, "power"), SENSOR_POWER);
    const char *outputs = schema_root[ROOT_OUTPUTS].inner[OUTPUT_KIND].choices;
    assert_int_equal(schema_choice(outputs, "dim"), OUTPUT_DIM);
    assert_int_equal(schema_choice(outputs, "switch"), OUTPUT_SWITCH);
    const char *ramps = schema_root[ROOT_STAGES].inner[STAGE_RAMP].choices;
    assert_int_equal(schema_choice(ramps, "linear"), RAMP_LINEAR);
    assert_int_equal(schema_choice(ramps, "cosine"), RAMP_COSINE);
    const char *policies = schema_root[ROOT_SPACES].inner[SPACE_CLOCK_POLICY].choices;
    assert_int_equal(schema_choice(policies, "dark"), CLOCK_POLICY_DARK);
    assert_int_equal(schema_choice(policies, "low"), CLOCK_POLICY_LOW);
    assert_int_equal(schema_choice(policies, "carry-on"), CLOCK_POLICY_CARRY_ON);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(own_tables),
        cmocka_unit_test(options_of_drivers_fit_beside_them),
        cmocka_unit_test(choices),
        cmocka_unit_test(words_stand_in_the_order_of_the_code),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
