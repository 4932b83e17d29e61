/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The price of light. Outside values: DLI = PPFD × h × 0.0036 (Torres & Lopez, Purdue Extension
 * HO-238-W); cheapest hours first for a linear lamp (fractional knapsack, G. B. Dantzig, Operations
 * Research 5, 1957, 266–277); equal marginal cost for a convex one (Kuhn & Tucker 1951). The
 * comparison with a linear programming solver is in test_plan_glpk.c.
 */
#include "near.h"
#include "plan_case.h"
#include "plan_price.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define ROUNDS 1000

/* A random day with its lamp. */
struct day {
    struct lampcurve curve;
    struct plan_lamp lamp;
    struct plan_slots slots;
    double clearness, reach_mol, missing;
};

static void make_day(struct day *ret, struct prng *prng)
{
    plan_case_curve(&ret->curve, prng, prng_real(prng, 0.01, 0.3), prng_real(prng, 0, 60));
    ret->lamp = plan_case_lamp(&ret->curve, prng);
    plan_case_slots(&ret->slots, prng, (int)prng_int(prng, 1, 60), (int)prng_int(prng, 1, 12));
    ret->clearness = prng_real(prng, 0, 1.1);
    ret->reach_mol = plan_reach_mol(&ret->lamp, &ret->slots, ret->clearness);
    ret->missing = plan_missing_price(&ret->lamp, &ret->slots);
}

static double supply_at(const struct day *day, double price, double share)
{
    const struct plan_price at = {price, share};
    return plan_supply_mol(&day->lamp, &day->slots, day->clearness, &at, NULL);
}

static struct plan_slots hours(int count, const double *prices)
{
    struct plan_slots slots = {.count = count};
    for (int i = 0; i < count; i++) {
        slots.slot[i] =
            (struct plan_slot){.dt_s = 3600, .lit_s = 3600, .price_per_kwh = prices[i], .cap = 1};
    }
    return slots;
}

/* A lamp that dims along a line through off: 250 W for 250 µmol m⁻² s⁻¹, so 0.9 mol an hour. */
static struct plan_lamp linear_lamp(struct lampcurve *curve)
{
    const double level[] = {1e-6, 1};
    const double watts[] = {250e-6, 250};
    lampcurve_of(curve, level, watts, 2, 0);
    return (struct plan_lamp){curve, 250, 1, (double)INFINITY, false};
}

static void cheapest_hours_first(void **state)
{
    (void)state;
    struct lampcurve curve;
    const struct plan_lamp lamp = linear_lamp(&curve);
    const struct plan_slots slots = hours(4, (const double[]){0.3, 0.1, 0.2, 0.1});
    assert_near(plan_reach_mol(&lamp, &slots, 1), 3.6, 1e-12);
    const struct plan_price fill = plan_fill(&lamp, &slots, 1, 2.25, 1);
    double cost;
    assert_near(plan_supply_mol(&lamp, &slots, 1, &fill, &cost), 2.25, 1e-9);
    assert_near(cost, 0.25 * (0.1 + 0.1 + 0.5 * 0.2), 1e-9);
    assert_near(fill.price, 0.2 * 0.25 / 0.9, 1e-12); /* a mol of the 0.20 hour */
    assert_near(fill.share, 0.5, 1e-5);
    assert_near(plan_level_at(&lamp, &slots.slot[0], 0, &fill), 0, 0);
    assert_near(plan_level_at(&lamp, &slots.slot[1], 0, &fill), 1, 0);
    assert_near(plan_level_at(&lamp, &slots.slot[2], 0, &fill), 0.5, 1e-9);
}

static void marginal_costs_are_equal(void **state)
{
    (void)state;
    const struct plan_case_lamp shape = {120, 0.02, 0.83, 0.15, 0.1};
    struct lampcurve curve;
    plan_case_quadratic(&curve, &shape);
    const struct plan_lamp lamp = {&curve, 300, 1, (double)INFINITY, false};
    const struct plan_slots slots = hours(4, (const double[]){0.16, 0.15, 0.16, 0.15});
    const struct plan_price fill = plan_fill(&lamp, &slots, 1, 2.7, 1);
    assert_near(plan_supply_mol(&lamp, &slots, 1, &fill, NULL), 2.7, 1e-9);
    const double dear = plan_level_at(&lamp, &slots.slot[0], 0, &fill);
    const double cheap = plan_level_at(&lamp, &slots.slot[1], 0, &fill);
    assert_true(cheap > dear && dear > 0.4 && cheap < 1);
    assert_near(0.16 * (0.83 + 0.3 * dear), 0.15 * (0.83 + 0.3 * cheap), 0.16 * 0.3 / 64);
    assert_near(fill.price, 0.16 / 3.6 / 2.5 * (0.83 + 0.3 * dear), 2e-4);
}

static void the_ends(void **state)
{
    (void)state;
    struct lampcurve curve;
    struct plan_lamp lamp = linear_lamp(&curve);
    struct plan_slots slots = hours(4, (const double[]){0.3, 0.1, 0.2, 0.1});
    assert_true(plan_price_of(&lamp, &slots, 1, 0, 0.7) == 0);
    assert_true(plan_price_of(&lamp, &slots, 1, -3, 0.7) == 0);
    assert_true(plan_price_of(&lamp, &slots, 1, 3.61, 0.7) == 0.7);
    assert_true(plan_price_of(&lamp, &slots, 1, 3.6, 0.7) < 0.7);
    assert_near(plan_missing_price(&lamp, &slots), 6 * 0.3 * 0.25 / 0.9, 1e-9);
    const struct plan_price all = plan_fill(&lamp, &slots, 1, 99, 0.7);
    assert_near(plan_supply_mol(&lamp, &slots, 1, &all, NULL), 3.6, 1e-12);
    lamp.stays_lit = true; /* the floors alone suffice */
    assert_true(plan_price_of(&lamp, &slots, 1, 3e-6, 0.7) == 0);
    slots.count = 0;
    assert_true(plan_price_of(&lamp, &slots, 1, 1, 0.7) == 0.7);
    assert_true(plan_missing_price(&lamp, &slots) > 0);
    lamp.full_umol = 0; /* every fixture is out */
    slots.count = 4;
    assert_true(plan_reach_mol(&lamp, &slots, 1) == 0);
    assert_true(plan_price_of(&lamp, &slots, 1, 1, 0.7) == 0.7);
}

static void free_energy_fills_first(void **state)
{
    (void)state;
    struct lampcurve curve;
    const struct plan_lamp lamp = linear_lamp(&curve);
    const struct plan_slots slots = hours(3, (const double[]){0.2, -0.05, 0});
    const struct plan_price fill = plan_fill(&lamp, &slots, 1, 0.9, 1);
    double cost;
    assert_near(plan_supply_mol(&lamp, &slots, 1, &fill, &cost), 0.9, 1e-9);
    assert_near(plan_level_at(&lamp, &slots.slot[0], 0, &fill), 0, 0);
    assert_near(plan_level_at(&lamp, &slots.slot[1], 0, &fill),
                plan_level_at(&lamp, &slots.slot[2], 0, &fill), 0);
    assert_near(cost, 0.125 * -0.05, 1e-6);
}

static void limits_as_levels(void **state)
{
    (void)state;
    const struct plan_case_lamp shape = {120, 0.02, 0.83, 0.15, 0.1};
    struct lampcurve curve;
    plan_case_quadratic(&curve, &shape);
    struct plan_lamp lamp = {&curve, 200, 1, 500, false};
    const struct plan_slot slot = {.dt_s = 900, .lit_s = 900, .cap = 0.9, .floor_umol = 60};
    static const struct {
        double daylight, low, high;
    } cases[] = {{0, 0.3, 0.9}, {30, 0.15, 0.9}, {50, 0.1, 0.9}, {60, 0, 0.9},
                 {400, 0, 0.5}, {479, 0, 0.105}, {481, 0, 0},    {900, 0, 0}};
    double low;
    double high;
    for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++) {
        plan_limits(&lamp, &slot, cases[i].daylight, &low, &high);
        assert_near(low, cases[i].low, 1e-12);
        assert_near(high, cases[i].high, 1e-12);
    }
    plan_limits(&lamp, &slot, (double)NAN, &low, &high);
    assert_true(low == 0 && high == 0);
    lamp.stays_lit = true;
    plan_limits(&lamp, &slot, 300, &low, &high);
    assert_near(low, 0.1, 1e-12);
    plan_limits(&lamp, &slot, 481, &low, &high);
    assert_true(low == 0 && high == 0);
}

static void never_above_cap_or_ceiling(void **state)
{
    (void)state;
    struct prng prng = prng_start("never_above_cap_or_ceiling");
    struct day day;
    for (int round = 0; round < ROUNDS; round++) {
        make_day(&day, &prng);
        const struct plan_price price = {prng_real(&prng, 0, day.missing), prng_real(&prng, 0, 1)};
        for (int i = 0; i < day.slots.count; i++) {
            const struct plan_slot *slot = &day.slots.slot[i];
            const double sun = slot->clear_umol * day.clearness;
            const double level = plan_level_at(&day.lamp, slot, sun, &price);
            assert_true(level == 0 || level >= day.curve.level[0]);
            assert_true(level <= slot->cap);
            assert_true(level == 0 ||
                        level * day.lamp.full_umol + sun <= day.lamp.ceiling_umol + 1e-9);
            const bool may_burn = slot->cap >= day.curve.level[0] &&
                                  sun + slot->floor_umol + day.lamp.full_umol * day.curve.level[0] <
                                      day.lamp.ceiling_umol;
            if (may_burn && sun < slot->floor_umol) {
                assert_true(level * day.lamp.full_umol + sun >=
                            fmin(slot->floor_umol, slot->cap * day.lamp.full_umol) - 1e-9);
            }
        }
    }
}

static void supply_rises_with_the_price(void **state)
{
    (void)state;
    struct prng prng = prng_start("supply_rises_with_the_price");
    struct day day;
    for (int round = 0; round < ROUNDS; round++) {
        make_day(&day, &prng);
        double before = 0;
        for (int i = 0; i <= 40; i++) {
            const double mol = supply_at(&day, day.missing * i / 40, prng_int(&prng, 0, 1) ? 1 : 0);
            assert_true(mol >= before - 1e-12);
            before = mol;
        }
        assert_near(before, day.reach_mol, 1e-9);
    }
}

static void the_price_is_the_smallest(void **state)
{
    (void)state;
    struct prng prng = prng_start("the_price_is_the_smallest");
    struct day day;
    for (int round = 0; round < ROUNDS; round++) {
        make_day(&day, &prng);
        const double need = prng_real(&prng, 0, 1.2) * day.reach_mol;
        const double price = plan_price_of(&day.lamp, &day.slots, day.clearness, need, day.missing);
        if (need > day.reach_mol) {
            assert_true(price == day.missing);
            continue;
        }
        assert_true(supply_at(&day, price, 1) >= need - 1e-9);
        if (price > 0) {
            assert_true(supply_at(&day, price * (1 - 1e-7), 1) < need);
        }
    }
}

static void the_need_is_met(void **state)
{
    (void)state;
    struct prng prng = prng_start("the_need_is_met");
    struct day day;
    int exact = 0;
    for (int round = 0; round < ROUNDS; round++) {
        make_day(&day, &prng);
        const double need = prng_real(&prng, 0, 1) * day.reach_mol;
        const struct plan_price fill =
            plan_fill(&day.lamp, &day.slots, day.clearness, need, day.missing);
        assert_true(fill.share >= 0 && fill.share <= 1);
        const double mol = supply_at(&day, fill.price, fill.share);
        if (fabs(mol - need) <= 1e-9) {
            exact++;
            continue;
        }
        assert_true(mol > need); /* then it jumped, or the floors give more */
        assert_true(fill.price == 0 || supply_at(&day, fill.price * (1 - 1e-7), 1) < need);
        assert_true(supply_at(&day, fill.price, 0) > need);
    }
    assert_true(exact > ROUNDS / 4);
}

static void dearer_when_more_is_asked(void **state)
{
    (void)state;
    struct prng prng = prng_start("dearer_when_more_is_asked");
    struct day day;
    for (int round = 0; round < ROUNDS; round++) {
        make_day(&day, &prng);
        const double need = prng_real(&prng, 0, 1) * day.reach_mol;
        const double more = need + prng_real(&prng, 0, 0.3) * day.reach_mol;
        const double price = plan_price_of(&day.lamp, &day.slots, day.clearness, need, day.missing);
        assert_true(plan_price_of(&day.lamp, &day.slots, day.clearness, more, day.missing) >=
                    price);
        for (int i = 0; i < day.slots.count; i++) {
            day.slots.slot[i].price_per_kwh *= prng_real(&prng, 1, 1.5);
        }
        assert_true(plan_price_of(&day.lamp, &day.slots, day.clearness, need, 2 * day.missing) >=
                    fmin(price, day.missing) * (1 - 1e-9));
    }
}

static void splitting_changes_nothing(void **state)
{
    (void)state;
    struct prng prng = prng_start("splitting_changes_nothing");
    struct day day;
    for (int round = 0; round < ROUNDS; round++) {
        make_day(&day, &prng);
        const double need = prng_real(&prng, 0, 0.99) * day.reach_mol;
        const struct plan_price fill =
            plan_fill(&day.lamp, &day.slots, day.clearness, need, day.missing);
        double cost;
        const double mol = plan_supply_mol(&day.lamp, &day.slots, day.clearness, &fill, &cost);
        struct plan_slots split = {.count = 0};
        for (int i = 0; i < day.slots.count; i++) {
            const double part = prng_real(&prng, 0, 1);
            struct plan_slot first = day.slots.slot[i];
            struct plan_slot second = first;
            first.dt_s *= part;
            first.lit_s *= part;
            second.dt_s -= first.dt_s;
            second.lit_s -= first.lit_s;
            split.slot[split.count++] = first;
            split.slot[split.count++] = second;
        }
        const struct plan_price again =
            plan_fill(&day.lamp, &split, day.clearness, need, day.missing);
        assert_near(again.price, fill.price, 1e-9 * day.missing);
        double cost_again;
        assert_near(plan_supply_mol(&day.lamp, &split, day.clearness, &again, &cost_again), mol,
                    1e-9);
        assert_near(cost_again, cost, 1e-9 * (1 + cost));
    }
}

static void one_price_one_level(void **state)
{
    (void)state;
    struct prng prng = prng_start("one_price_one_level");
    struct day day;
    for (int round = 0; round < ROUNDS; round++) {
        make_day(&day, &prng);
        const struct plan_price fill = plan_fill(
            &day.lamp, &day.slots, 0, prng_real(&prng, 0, 1) * day.reach_mol, day.missing);
        for (int i = 0; i < day.slots.count; i++) {
            day.slots.slot[i].cap = 1;
        }
        for (int i = 1; i < day.slots.count; i++) {
            const double a = plan_level_at(&day.lamp, &day.slots.slot[i - 1], 0, &fill);
            const double b = plan_level_at(&day.lamp, &day.slots.slot[i], 0, &fill);
            const double dearer =
                day.slots.slot[i].price_per_kwh - day.slots.slot[i - 1].price_per_kwh;
            assert_true(dearer > 0 ? b <= a : dearer < 0 ? b >= a : b == a);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cheapest_hours_first),
        cmocka_unit_test(marginal_costs_are_equal),
        cmocka_unit_test(the_ends),
        cmocka_unit_test(free_energy_fills_first),
        cmocka_unit_test(limits_as_levels),
        cmocka_unit_test(never_above_cap_or_ceiling),
        cmocka_unit_test(supply_rises_with_the_price),
        cmocka_unit_test(the_price_is_the_smallest),
        cmocka_unit_test(the_need_is_met),
        cmocka_unit_test(dearer_when_more_is_asked),
        cmocka_unit_test(splitting_changes_nothing),
        cmocka_unit_test(one_price_one_level),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
