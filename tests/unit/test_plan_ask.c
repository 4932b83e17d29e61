/* SPDX-License-Identifier: Apache-2.0 */
/* The price of light under a sky that nobody knows, against sums done by hand. */
#include "plan_ask.h"

#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Ten hours of a lamp of 300 µmol: 10.8 mol. Cheap ones first, then dear ones. */
static struct plan_slots slots;
static struct lampcurve curve;
static struct scenarios sky;
static struct plan_question question;

static void begin(void)
{
    const double level[] = {0.1, 0.4, 0.7, 1};
    const double watts[] = {13, 45, 81, 120};
    lampcurve_of(&curve, level, watts, 4, 0);
    slots.count = 20;
    for (int i = 0; i < slots.count; i++) {
        slots.slot[i] = (struct plan_slot){.dt_s = 1800,
                                           .lit_s = 1800,
                                           .price_per_kwh = i < 10 ? 0.10 : 0.28,
                                           .cap = 1,
                                           .clear_umol = 400};
    }
    sky = (struct scenarios){.count = CLEARNESS_SCENARIOS, .mean = 0.55, .pessimistic = 0.05};
    for (int i = 0; i < sky.count; i++) {
        sky.clearness[i] = 0.1 + 0.1 * i;
    }
    question = (struct plan_question){
        .lamp = {&curve, 300, 1, (double)INFINITY, false},
        .slots = &slots,
        .sky = &sky,
        .clear_mol = 14.4, /* 400 µmol for ten hours */
        .need_mol = 9,
    };
}

/* Slots of the planner's own allowance. */
static struct plan_slots allowed(void)
{
    struct plan_slots ret = slots;
    for (int i = 0; i < ret.count; i++) {
        ret.slot[i].cap *= 0.98;
    }
    return ret;
}

static void the_mean_of_ten_prices(void **state)
{
    (void)state;
    begin();
    const struct plan_slots with = allowed();
    const double missing = plan_missing_price(&question.lamp, &slots);
    double sum = 0;
    for (int i = 0; i < sky.count; i++) {
        sum += plan_price_of(&question.lamp, &with, sky.clearness[i], 9 - sky.clearness[i] * 14.4,
                             missing);
    }
    const struct plan_reply reply = plan_ask(&question);
    assert_false(reply.by_guard);
    assert_near(reply.price.price, sum / 10, 1e-12);
    assert_true(sum > 0);
    assert_near(reply.daylight_mol, 0.55 * 14.4, 1e-12);
    assert_near(reply.reach_mol, 10.8, 1e-9);
    assert_false(reply.is_full);
}

/* Under the pessimistic sky 0.72 mol come; the lamp gives 10.584 under the allowance. */
static void the_guard_buys_everything(void **state)
{
    (void)state;
    begin();
    question.need_mol = 11.2;
    assert_false(plan_ask(&question).by_guard);
    question.need_mol = 11.4;
    const struct plan_reply reply = plan_ask(&question);
    assert_true(reply.by_guard);
    assert_near(reply.price.price, plan_missing_price(&question.lamp, &slots), 1e-12);
    assert_false(reply.is_full);
    question.need_mol = 10.8 + 0.55 * 14.4 + 0.1;
    assert_true(plan_ask(&question).is_full);
}

static void no_need_no_price(void **state)
{
    (void)state;
    begin();
    question.need_mol = 0;
    assert_near(plan_ask(&question).price.price, 0, 1e-12);
    question.need_mol = 0.1 * 14.4 * 0.9; /* the darkest case gives more */
    assert_near(plan_ask(&question).price.price, 0, 1e-12);
    question.need_mol = 9;
    slots.count = 0; /* nothing is left to light */
    const struct plan_reply reply = plan_ask(&question);
    assert_near(reply.price.price, 0, 1e-12);
    assert_near(reply.reach_mol, 0, 1e-12);
}

static void without_a_sky_the_need_is_met_exactly(void **state)
{
    (void)state;
    begin();
    question.sky = NULL;
    question.clear_mol = 0;
    for (double need = 0.5; need < 10; need += 0.5) {
        question.need_mol = need;
        const struct plan_slots with = allowed();
        const struct plan_reply reply = plan_ask(&question);
        const double supply = plan_supply_mol(&question.lamp, &with, 0, &reply.price, NULL);
        assert_true(supply >= need - 1e-9);
        question.lamp.stays_lit = true; /* no jump from off: to the last photon */
        const struct plan_reply lit = plan_ask(&question);
        const double least = 0.1 * 300 * 36000e-6;
        assert_near(plan_supply_mol(&question.lamp, &with, 0, &lit.price, NULL), fmax(need, least),
                    1e-6);
        question.lamp.stays_lit = false;
    }
}

/* A darker sky, a higher need and a dearer evening never lower the price. */
static void the_price_never_falls(void **state)
{
    (void)state;
    struct prng prng = prng_start("the_price_never_falls");
    for (int round = 0; round < 300; round++) {
        begin();
        question.need_mol = prng_real(&prng, 0, 20);
        const double price = plan_ask(&question).price.price;
        question.need_mol += prng_real(&prng, 0, 2);
        assert_true(plan_ask(&question).price.price >= price - 1e-12);
        const double more = plan_ask(&question).price.price;
        for (int i = 0; i < sky.count; i++) {
            sky.clearness[i] *= 0.9;
        }
        sky.mean *= 0.9;
        sky.pessimistic *= 0.9;
        assert_true(plan_ask(&question).price.price >= more - 1e-12);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_mean_of_ten_prices),
        cmocka_unit_test(the_guard_buys_everything),
        cmocka_unit_test(no_need_no_price),
        cmocka_unit_test(without_a_sky_the_need_is_met_exactly),
        cmocka_unit_test(the_price_never_falls),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
