/* SPDX-License-Identifier: Apache-2.0 */
/* The plan as JSON, of a picture that is made by hand. */
#include "outlook_json.h"

#include "near.h"
#include "outlook_words.h"
#include "scene.h"
#include "status.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static struct scene scene;
static struct picture_space space;
static struct picture picture;
static struct outputs_view outputs[8];
static struct picture_sensor sensors[8];
static struct mailbox_health buses[2];
static json_t *plan;

static const struct tariff_rule dear_evening[] = {{0x7f, 0xfff, 16 * 3600, 20 * 3600, 0.40}};
static const struct tariff tariff = {
    .civil = {.offset_s = 3600}, .price_per_kwh = 0.16, .rule_count = 1, .rules = dear_evening};

static void take(void)
{
    scene_run(&scene, 3);
    space.now = scene.now;
    space.state = scene.state;
    space.verdict = scene.verdict;
    picture.wall_ns = scene.now.wall_s * INT64_C(1000000000);
    plan = outlook_json(&picture, 0);
    assert_non_null(plan);
}

static int begin(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * 3600);
    scene.sim.space.rules.tariff = &tariff;
    space = (struct picture_space){0};
    picture = (struct picture){.config = &scene.sim.config, .is_ready = true, .spaces = &space};
    return 0;
}

static int end(void **state)
{
    (void)state;
    json_decref(plan);
    plan = NULL;
    return 0;
}

static const json_t *its(const char *key)
{
    return json_object_get(json_array_get(json_object_get(plan, "spaces"), 0), key);
}

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static void hours_add_up(void **state)
{
    (void)state;
    take();
    const json_t *hours = its("hours");
    double lamp_mol = 0;
    double cost = 0;
    double length_s = 0;
    size_t i;
    json_t *hour;
    json_array_foreach(hours, i, hour)
    {
        lamp_mol += number(hour, "lamp_mol");
        cost += number(hour, "cost");
        length_s += number(hour, "length_s");
    }
    assert_near(lamp_mol, json_number_value(its("lamp_mol")), 1e-9);
    assert_near(cost, json_number_value(its("cost")), 1e-9);
    assert_near(length_s, 12 * 3600 - 3, 0);
    assert_near(json_number_value(its("expected_mol")),
                json_number_value(its("delivered_mol")) + json_number_value(its("to_come_mol")),
                1e-9);
    assert_true(json_number_value(its("even_cost")) > cost);
    const json_t *first = json_array_get(hours, 0);
    assert_string_equal(json_string_value(json_object_get(first, "from")),
                        "2026-01-01T12:00:03+01:00");
    assert_string_equal(json_string_value(json_object_get(first, "to")),
                        "2026-01-01T13:00:00+01:00");
    assert_string_equal(json_string_value(json_object_get(json_array_get(hours, 11), "limiter")),
                        "night");
    assert_string_equal(json_string_value(its("light_day")), "2026-01-01");
    assert_true(json_is_false(its("is_tomorrow")));
    assert_true(json_is_null(its("clearness")));
    assert_true(json_is_null(its("last_day")));
}

/* A plan of all spaces that leaves it 20 W: the gap is told, and by everybody alike. */
static void status_expects_the_same(void **state)
{
    (void)state;
    struct allotment *power = &scene.now.power;
    *power = (struct allotment){.is_shared = true,
                                .budget_w = (double)INFINITY,
                                .begin_s = scene.now.wall_s,
                                .count = ALLOTMENT_SLOTS_MAX,
                                .reach_mol = (double)INFINITY};
    for (int i = 0; i < ALLOTMENT_SLOTS_MAX; i++) {
        power->slot[i] = (struct allotment_slot){0, UNITS_NONE, 20};
    }
    take();
    const double expected_mol = json_number_value(its("expected_mol"));
    const double target_mol = json_number_value(its("target_mol"));
    picture.outputs = outputs;
    picture.sensors = sensors;
    picture.buses = buses;
    json_t *status = status_json(&picture, 0);
    const json_t *space_now = json_array_get(json_object_get(status, "spaces"), 0);
    assert_true(expected_mol < target_mol - 1);
    assert_near(json_number_value(its("short_mol")), target_mol - expected_mol, 1e-9);
    assert_near(number(space_now, "forecast_mol"), expected_mol, 1e-9);
    json_decref(status);
}

static void without_a_stage(void **state)
{
    (void)state;
    scene.sim.space.rules.first_day = SIM_DAY + 3;
    take();
    assert_int_equal(json_array_size(its("hours")), 0);
    assert_true(json_is_null(its("light_day")));
    assert_string_equal(json_string_value(its("state")), "dark: the first stage begins in 3 days");
}

static void the_day_before(void **state)
{
    (void)state;
    space.has_last_day = true;
    space.last_day = (struct day_summary){.light_day = SIM_DAY - 1,
                                          .cost = 1.9,
                                          .lamp_cost = 1.8,
                                          .bound_cost = 1.7,
                                          .even_cost = UNITS_NONE,
                                          .account = {.target_mol = 13, .delivered_mol = 12}};
    take();
    const json_t *day = its("last_day");
    assert_true(json_is_true(json_object_get(day, "is_yesterday")));
    assert_string_equal(json_string_value(json_object_get(day, "light_day")), "2025-12-31");
    assert_near(number(day, "cost"), 1.9, 1e-12);
    assert_near(number(day, "lamp_cost"), 1.8, 1e-12);
    assert_near(number(day, "bound_cost"), 1.7, 1e-12);
    assert_true(json_is_null(json_object_get(day, "even_cost")));
    assert_near(number(day, "delivered_mol"), 12, 1e-12);
    json_decref(plan);
    space.last_day.light_day = SIM_DAY - 3; /* the daemon was away meanwhile */
    take();
    assert_false(json_is_true(json_object_get(its("last_day"), "is_yesterday")));
}

static void names_alone_are_quick(void **state)
{
    (void)state;
    take();
    json_decref(plan);
    plan = outlook_json(&picture, -1);
    assert_int_equal(json_array_size(json_object_get(plan, "spaces")), 0);
    assert_string_equal(json_string_value(json_array_get(json_object_get(plan, "names"), 0)),
                        scene.sim.space.name);
}

static void not_ready_yet(void **state)
{
    (void)state;
    picture.is_ready = false;
    take();
    assert_int_equal(json_array_size(json_object_get(plan, "spaces")), 0);
    assert_true(json_is_false(json_object_get(plan, "is_ready")));
}

/* Whatever rules, there is something to say, and it fits a line. */
static void every_reason_has_words(void **state)
{
    (void)state;
    for (int lit = 0; lit < 2; lit++) {
        for (int why = 0; why < OUTLOOK_WHY_COUNT; why++) {
            for (int limiter = 0; limiter < LIMITER_COUNT; limiter++) {
                const struct outlook_row row = {.level = lit,
                                                .daylight_mol = lit,
                                                .limiter = (enum limiter)limiter,
                                                .why = (enum outlook_why)why};
                assert_in_range(strlen(outlook_words(&row)), 3, 60);
            }
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(hours_add_up, begin, end),
        cmocka_unit_test_setup_teardown(status_expects_the_same, begin, end),
        cmocka_unit_test_setup_teardown(without_a_stage, begin, end),
        cmocka_unit_test_setup_teardown(the_day_before, begin, end),
        cmocka_unit_test_setup_teardown(names_alone_are_quick, begin, end),
        cmocka_unit_test_setup_teardown(not_ready_yet, begin, end),
        cmocka_unit_test(every_reason_has_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
