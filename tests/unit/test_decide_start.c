/* SPDX-License-Identifier: Apache-2.0 */
/* Another start of the light day in the middle of one: every light day closes once, under a name of
 * its own, met and with all its light. */
#include "scene.h"

#include "near.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define HOUR INT64_C(3600)
#define STEP 10

static struct scene scene;

struct closings {
    int count;
    int64_t day[4];
    int64_t second[4]; /* of SIM_DAY, local */
    double delivered_mol[4];
    double lamp_mol; /* all that fell, counted by this test */
    bool out_of_reach;
    struct day_summary last;
};

static int64_t second_now(void)
{
    return scene.now.wall_s + scene.sim.space.rules.day.utc_offset_s - SIM_DAY * UNITS_S_PER_DAY;
}

static void run_to(struct closings *closings, int64_t second)
{
    while (second_now() < second) {
        scene_tick(&scene, STEP);
        closings->lamp_mol += units_mol(420 * scene.state.level, STEP);
        closings->out_of_reach =
            closings->out_of_reach || scene_said(&scene, EVENT_TARGET_OUT_OF_REACH);
        if (scene.verdict.day_closed) {
            const int i = closings->count++;
            assert_true(i < 4);
            closings->last = scene.verdict.closed;
            closings->day[i] = closings->last.light_day;
            closings->second[i] = second_now();
            closings->delivered_mol[i] = closings->last.account.delivered_mol;
        }
    }
}

/* A stage that is lit from 04:00 to 20:00, under the first start from its begin on. */
static struct closings begin(int first_start_h)
{
    struct closings closings = {.count = 0};
    scene_begin(&scene, 1, 0);
    scene.sim.stages[0].window.on_s = 4 * 3600;
    scene.sim.space.rules.day.start_s = first_start_h * 3600;
    scene.now.wall_s = lightday_begin(&scene.sim.space.rules.day, SIM_DAY);
    scene_tick(&scene, STEP);
    return closings;
}

struct change {
    int from_h, to_h;
    int64_t at;        /* second of SIM_DAY */
    int64_t end, end2; /* when the open light day closes, and the next one */
};

static void check(const struct change *change)
{
    print_message("from %d to %d h at %d h\n", change->from_h, change->to_h,
                  (int)(change->at / HOUR));
    struct closings closings = begin(change->from_h);
    run_to(&closings, change->at);
    scene.sim.space.rules.day.start_s = change->to_h * 3600;
    run_to(&closings, change->end2);
    assert_false(closings.out_of_reach);
    assert_int_equal(closings.count, 2);
    assert_int_equal(closings.second[0], change->end);
    assert_int_equal(closings.second[1], change->end2);
    double sum = 0;
    for (int i = 0; i < 2; i++) {
        assert_int_equal(closings.day[i], SIM_DAY + i);
        assert_true(closings.delivered_mol[i] >= 13);
        sum += closings.delivered_mol[i];
    }
    sum += integral_delivered_mol(&scene.state.integral);
    assert_near(sum, closings.lamp_mol, 0.05);
    assert_int_equal(scene.state.day_start_s, change->to_h * 3600);
}

static void no_light_day_is_lost_or_doubled(void **state)
{
    (void)state;
    static const struct change changes[] = {
        {0, 6, 3 * HOUR, 30 * HOUR, 54 * HOUR},  /* names differ until 06:00 */
        {0, 6, 14 * HOUR, 30 * HOUR, 54 * HOUR}, /* longer by 6 h */
        {6, 0, 14 * HOUR, 24 * HOUR, 48 * HOUR}, /* shorter */
        {6, 0, 27 * HOUR, 30 * HOUR, 48 * HOUR}, /* … the next one, as this one nearly ended */
        {6, 7, 5 * HOUR + 24 * HOUR, 30 * HOUR + HOUR, 55 * HOUR},
    };
    for (size_t i = 0; i < sizeof changes / sizeof *changes; i++) {
        check(&changes[i]);
    }
}

/* From midnight to 06:00 at two in the afternoon: the open light day gains the window's hours from
 * 04:00 to 06:00, 2 h less a quarter of an hour of dawn, to its 16 h less dawn and dusk. */
static void a_later_end_has_more_to_give(void **state)
{
    (void)state;
    struct closings closings = begin(0);
    run_to(&closings, 14 * HOUR);
    const double before_mol = scene.state.reach_static_mol;
    assert_true(daylog_seen_s(&scene.state.daylog) > 13 * HOUR);
    assert_true(before_mol > 0);
    scene.state.clearness.is_broken = false;
    scene.sim.space.rules.day.start_s = 6 * 3600;
    run_to(&closings, 14 * HOUR + STEP);
    assert_near(scene.state.reach_static_mol, before_mol * (1 + 1.75 / 15.5), 1e-6 * before_mol);
    assert_true(daylog_seen_s(&scene.state.daylog) <= STEP); /* it has another beginning now */
    assert_true(scene.state.clearness.is_broken);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_light_day_is_lost_or_doubled),
        cmocka_unit_test(a_later_end_has_more_to_give),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
