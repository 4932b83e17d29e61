/* SPDX-License-Identifier: Apache-2.0 */
/* What a space's rules make of the rest of its light day. */
#include "plan_day.h"

#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const struct stage stage = {.window = {6 * 3600, 16 * 3600},
                                   .target_mol = 13,
                                   .ceiling_umol = 900,
                                   .ramp = {RAMP_COSINE, 1800, 1800}};

/* 56° N on the zero meridian, midsummer: day 20625 is 2026-06-21. */
static const struct space_rules under_glass = {
    .sees_daylight = true, .sun = {.has_place = true, .latitude = 56, .daylight_share = 0.6}};
static const struct space_rules indoors = {.sees_daylight = false};

static void the_sky_is_in_the_slots_under_glass_only(void **state)
{
    (void)state;
    struct plan_slots slots;
    struct learned learned;
    learned_init(&learned);
    const int64_t begin_s = INT64_C(20625) * 86400;
    plan_day_slots(&indoors, &stage, &learned, 0.7, begin_s, &slots);
    assert_int_equal(slots.count, 32);
    for (int i = 0; i < slots.count; i++) {
        assert_near(slots.slot[i].clear_umol, 0, 0);
        assert_near(slots.slot[i].cap, 0.7, 0);
        assert_near(slots.slot[i].price_per_kwh, 1, 0); /* no tariff: ratios alone matter */
    }
    plan_day_slots(&under_glass, &stage, &learned, 0.7, begin_s, &slots);
    const int64_t noon_s = begin_s + 12 * 3600 + 900; /* the middle of the slot from 12:00 */
    assert_near(slots.slot[12].clear_umol, sun_clear_umol(&under_glass.sun, noon_s), 1e-9);
    assert_true(slots.slot[12].clear_umol > slots.slot[0].clear_umol);
}

/* What heat usually takes in an hour is left out of it; what is less than usual now lowers all. */
static void heat_has_its_hours(void **state)
{
    (void)state;
    struct plan_slots slots;
    struct learned learned;
    learned_init(&learned);
    for (int hour = 16; hour < 20; hour++) {
        learned.heat_cap[hour] = 0.5F;
    }
    const int64_t noon_s = INT64_C(20625) * 86400 + 12 * 3600;
    static const struct {
        int64_t after_s;
        double cap_now, early, warm, late; /* before 16:00, until 20:00, after it */
    } cases[] = {
        {0, 1, 1, 0.5, 1},       {0, 0.8, 0.8, 0.4, 0.8},     {18000, 1, 1, 0.5, 1},
        {18000, 0.5, 1, 0.5, 1}, {18000, 0.25, 1, 0.25, 0.5}, {0, 0, 0, 0, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        plan_day_slots(&indoors, &stage, &learned, cases[i].cap_now, noon_s + cases[i].after_s,
                       &slots);
        assert_true(slots.count > 0);
        for (int k = 0; k < slots.count; k++) {
            const int64_t hour = (slots.slot[k].from_s - noon_s) / 3600 + 12;
            const double want = hour < 16   ? cases[i].early
                                : hour < 20 ? cases[i].warm
                                            : cases[i].late;
            assert_near(slots.slot[k].cap, want, 1e-6);
        }
    }
}

static void the_lamp_keeps_the_plants_day_indoors(void **state)
{
    (void)state;
    const struct plan_lamp inside = plan_day_lamp(&indoors, &stage, 310);
    const struct plan_lamp outside = plan_day_lamp(&under_glass, &stage, 310);
    assert_true(inside.stays_lit);
    assert_false(outside.stays_lit);
    assert_near(outside.full_umol, 310, 0);
    assert_near(outside.ceiling_umol, 900, 0);
    assert_ptr_equal(outside.curve, &under_glass.lamp);
}

/* Mol at level 1 = 1 µmol, beside the climb followed second by second. */
static double caps_s(const struct plan_slots *slots)
{
    double sum = 0;
    for (int i = 0; i < slots->count; i++) {
        sum += slots->slot[i].cap * slots->slot[i].lit_s;
    }
    return sum;
}

static void a_slow_start_takes_its_share(void **state)
{
    (void)state;
    static const struct plan_climb climbs[] = {
        {0, 0.1, 0, 0},           {0, 0.1, 0, 0.9 / 3600}, {0.5, 0.1, 0, 0.9 / 7200},
        {0, 0.1, 1200, 1e-4},     {0, 0.1, 5000, 0.0002},  {0.95, 0.1, 0, 1e-4},
        {0, 0.1, 1200, 0.8 / 60},
    };
    struct learned learned;
    learned_init(&learned);
    struct stage block = stage;
    block.ramp = (struct ramp){RAMP_LINEAR, 0, 0};
    const int64_t now_s = INT64_C(20625) * 86400 + 10 * 3600 + 700;
    for (size_t c = 0; c < sizeof climbs / sizeof *climbs; c++) {
        const struct plan_climb *climb = &climbs[c];
        struct plan_slots slots;
        plan_day_slots(&indoors, &block, &learned, 0.9, now_s, &slots);
        plan_day_climb(&slots, climb, now_s);
        double sum = 0;
        for (int s = 0; s < 12 * 3600 - 700; s++) {
            const double climbing_s = s + 0.5 - climb->rest_s;
            const double level = fmax(climb->level, climb->least) +
                                 (climb->rise_per_s > 0 ? climb->rise_per_s : 1e9) * climbing_s;
            sum += climbing_s < 0 ? 0 : fmin(level, 0.9);
        }
        assert_near(caps_s(&slots), sum, 2);
    }
}

/* From 20:00 on, light day from 20:00: after the night the lamp climbs anew. */
static void a_morning_behind_the_night_climbs_too(void **state)
{
    (void)state;
    struct learned learned;
    learned_init(&learned);
    struct space_rules rules = indoors;
    rules.day.start_s = 20 * 3600;
    struct stage block = stage;
    block.ramp = (struct ramp){RAMP_LINEAR, 0, 0};
    const int64_t now_s = INT64_C(20625) * 86400 + 20 * 3600;
    const struct plan_climb climb = {1, 0.1, 0, 0.9 / 3600};
    struct plan_slots slots;
    plan_day_slots(&rules, &block, &learned, 1, now_s, &slots);
    plan_day_climb(&slots, &climb, now_s);
    assert_near(slots.slot[3].cap, 1, 1e-12);
    assert_near(slots.slot[4].cap, 0.1 + 0.45 / 2, 1e-9); /* 06:00 to 06:30 */
    assert_near(caps_s(&slots), 16 * 3600 - 0.45 * 3600, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_sky_is_in_the_slots_under_glass_only),
        cmocka_unit_test(heat_has_its_hours),
        cmocka_unit_test(the_lamp_keeps_the_plants_day_indoors),
        cmocka_unit_test(a_slow_start_takes_its_share),
        cmocka_unit_test(a_morning_behind_the_night_climbs_too),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
