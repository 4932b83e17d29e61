/* SPDX-License-Identifier: Apache-2.0 */
/* What is wrong now, of a picture that is made by hand. */
#include "status.h"

#include "near.h"
#include "scene.h"
#include "status_parts.h"
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
static struct picture_sensor sensors[8];
static struct outputs_view outputs[8];
static struct mailbox_health buses[2];
static struct picture picture;

static int begin(void **state)
{
    (void)state;
    scene_begin(&scene, 1, 12 * 3600);
    space = (struct picture_space){.now = scene.now, .state = scene.state};
    picture = (struct picture){.config = &scene.sim.config,
                               .is_ready = true,
                               .spaces = &space,
                               .sensors = sensors,
                               .outputs = outputs,
                               .buses = buses};
    return 0;
}

static bool says(const char *sentence)
{
    bool is_said = false;
    size_t i;
    json_t *fault;
    json_t *faults = status_space_faults(&picture, 0);
    json_array_foreach(faults, i, fault)
    {
        is_said = is_said || strcmp(json_string_value(fault), sentence) == 0;
    }
    json_decref(faults);
    return is_said;
}

static void heat_or_no_reading(void **state)
{
    (void)state;
    struct heat *heat = &space.state.fixtures[0].heat;
    const double rearm_c = scene.sim.space.rules.fixtures[0].heat.rearm_c;
    heat->is_tripped = true;
    heat->filtered_c = heat->last_c = rearm_c + 1;
    assert_true(says("fixture fixture 0 is off: too hot, or no heat reading"));
    heat->blind_s = 40; /* it was hot when it was seen last */
    assert_true(says("fixture fixture 0 is off: too hot, or no heat reading"));
    heat->filtered_c = heat->last_c = rearm_c - 1;
    assert_true(says("fixture fixture 0 is off: no heat reading"));
    heat->filtered_c = heat->last_c = UNITS_NONE;
    assert_true(says("fixture fixture 0 is off: no heat reading"));
}

/* Lit from 06:00 for 16 h, and it is noon: 6 of 16 h are over, at even level 6 of 16 mol. */
static void what_limits_say(void **state)
{
    (void)state;
    const struct space_rules *rules = &scene.sim.space.rules;
    space.verdict.stage = (struct stage_today){.phase = STAGE_RUNNING, .day = 3};
    space.verdict.account.target_mol = 16;
    json_t *status = status_json(&picture, 0);
    const json_t *its = json_array_get(json_object_get(status, "spaces"), 0);
    const json_t *fixture = json_array_get(json_object_get(its, "fixtures"), 0);
    assert_near(json_number_value(json_object_get(its, "even_pace_mol")), 6, 1e-9);
    assert_near(json_number_value(json_object_get(fixture, "heat_from_c")),
                rules->fixtures[0].heat.from_c, 1e-9);
    assert_near(json_number_value(json_object_get(fixture, "heat_trip_c")),
                rules->fixtures[0].heat.trip_c, 1e-9);
    json_decref(status);
    space.verdict.stage.phase = STAGE_WAITING;
    status = status_json(&picture, 0);
    its = json_array_get(json_object_get(status, "spaces"), 0);
    assert_true(json_is_null(json_object_get(its, "even_pace_mol")));
    json_decref(status);
}

static void a_switch_that_nobody_confirmed(void **state)
{
    (void)state;
    const char *sentence =
        "fixture fixture 0: its switch is not known: open asked, never confirmed; may be lit";
    assert_false(says(sentence));
    space.verdict.fixtures[0].is_unknown = true;
    assert_true(says(sentence));
}

static void the_age_of_the_lamps(void **state)
{
    (void)state;
    struct ageing_rules *rules = &scene.sim.space.rules.ageing;
    json_t *nothing = status_ageing(&scene.sim.space, &space.state);
    assert_true(json_is_null(nothing));
    json_decref(nothing);
    for (int day = 1; day < 10; day++) {
        const struct ageing_sample sample = {.ratio = 0.94, .heat_c = 45, .sensor_ratio = {0.94}};
        ageing_book(&space.state.ageing, rules, 420, &sample, 3600);
        (void)ageing_close(&space.state.ageing, rules, rules->commissioned + 200 + day);
    }
    json_t *ageing = status_ageing(&scene.sim.space, &space.state);
    assert_string_equal(json_string_value(json_object_get(ageing, "words")),
                        "94 % of commissioning after 209 days, ±1 %");
    assert_int_equal(json_integer_value(json_object_get(ageing, "days")), 209);
    assert_true(json_is_null(json_object_get(ageing, "sensor_fallen_share")));
    json_decref(ageing);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(heat_or_no_reading, begin),
        cmocka_unit_test_setup(what_limits_say, begin),
        cmocka_unit_test_setup(a_switch_that_nobody_confirmed, begin),
        cmocka_unit_test_setup(the_age_of_the_lamps, begin),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
