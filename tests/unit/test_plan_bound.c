/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The cheapest possible in hindsight. Outside values: planner_testvectors.json, eight winter and
 * spring days of a typical meteorological year (NREL TMY3, Greensboro) whose optima a linear
 * programming and a mixed-integer solver have certified; weak duality: no schedule that meets the
 * need costs less. The comparison with GLPK is in test_plan_glpk.c.
 */
#include "near.h"
#include "plan_bound.h"
#include "plan_case.h"
#include "plan_price.h"

#include <jansson.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include <cmocka.h>

#define ROUNDS 300

struct day {
    struct lampcurve curve;
    struct plan_lamp lamp;
    struct plan_slots slots;
    double reach_mol;
};

static void make_day(struct day *ret, struct prng *prng)
{
    plan_case_curve(&ret->curve, prng, prng_real(prng, 0.01, 0.3), prng_real(prng, 0, 60));
    ret->lamp = plan_case_lamp(&ret->curve, prng);
    plan_case_slots(&ret->slots, prng, (int)prng_int(prng, 1, 60), (int)prng_int(prng, 1, 12));
    ret->reach_mol = plan_reach_mol(&ret->lamp, &ret->slots, 1);
}

static double slot_cost(const struct plan_lamp *lamp, const struct plan_slot *slot, double level)
{
    const double watts = lampcurve_watts(lamp->curve, level) - lamp->curve->off_w;
    return watts * lamp->full_share * slot->lit_s * slot->price_per_kwh / 3.6e6;
}

/* The vectors, from LAMPWARDEN_DATA or beside the source; NULL: they are not here. */
static json_t *load_vectors(void)
{
    const char *folder = getenv("LAMPWARDEN_DATA");
    char path[1024];
    (void)snprintf(path, sizeof(path), "%s/planner_testvectors.json",
                   folder ? folder : SOURCE_DIR "/../shared/data");
    if (access(path, F_OK) < 0) {
        print_message("skipped: no %s; LAMPWARDEN_DATA names the folder that holds it\n", path);
        return NULL;
    }
    json_t *root = json_load_file(path, 0, NULL);
    assert_non_null(root); /* a damaged file is no absent one */
    return root;
}

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    assert_true(json_is_number(value));
    return json_number_value(value);
}

static void read_slots(const json_t *day, double slot_s, struct plan_slots *ret)
{
    const json_t *caps = json_object_get(day, "hi");
    const json_t *prices = json_object_get(day, "price");
    ret->count = (int)json_array_size(caps);
    assert_true(ret->count > 0 && ret->count <= PLAN_SLOTS_MAX);
    assert_int_equal(json_array_size(prices), ret->count);
    for (int i = 0; i < ret->count; i++) {
        ret->slot[i] = (struct plan_slot){
            .dt_s = slot_s,
            .lit_s = slot_s,
            .price_per_kwh = json_number_value(json_array_get(prices, (size_t)i)),
            .cap = json_number_value(json_array_get(caps, (size_t)i)),
        };
    }
}

/* The file rounds costs to 8 and levels and mol to 6 digits. */
static void costs(const struct plan_lamp *lamp, const struct plan_slots *slots, double need,
                  double cost, double within)
{
    const struct plan_bound bound = plan_bound(lamp, slots, need);
    assert_true(bound.is_feasible);
    assert_near(bound.cost, cost, within * cost + 3e-8);
}

/* Runs and rests of half an hour cost up to 0.1 % more than the bound; where the lamp gives next to
 * nothing (0.23 mol on one of the days) one run is much of the day: 0.21 %. */
static void within_a_run(double bound, double with_runs, double need)
{
    assert_true(bound <= with_runs * (1 + 1e-5) + 1e-6);
    assert_true(with_runs <= bound * (1 + (need > 1 ? 1e-3 : 2.1e-3)));
}

static void certified_days(void **state)
{
    (void)state;
    json_t *root = load_vectors();
    if (!root) {
        skip();
        return;
    }
    const json_t *params = json_object_get(root, "params");
    const double full_umol = number(params, "Lmax");
    struct plan_case_lamp shape = {full_umol / number(params, "eta"), 0, 1, 0, 1e-6};
    struct lampcurve linear;
    plan_case_quadratic(&linear, &shape);
    shape.p1 = number(params, "p1");
    shape.p2 = number(params, "p2");
    struct lampcurve convex;
    plan_case_quadratic(&convex, &shape);
    shape.p0 = number(params, "p0");
    shape.min_level = number(params, "umin");
    struct lampcurve fixedloss;
    plan_case_quadratic(&fixedloss, &shape);
    struct plan_lamp lamp = {&linear, full_umol, 1, (double)INFINITY, false};
    size_t index;
    const json_t *day;
    json_t *days = json_object_get(root, "days");
    assert_int_equal(json_array_size(days), 8);
    json_array_foreach(days, index, day)
    {
        struct plan_slots slots;
        read_slots(day, number(params, "slot_min") * 60, &slots);
        const double need = number(day, "need_mol");
        lamp.curve = &linear;
        costs(&lamp, &slots, need, number(day, "linear_greedy_cost"), 1e-6);
        const struct plan_price fill =
            plan_fill(&lamp, &slots, 1, need, plan_missing_price(&lamp, &slots));
        double cost;
        assert_near(plan_supply_mol(&lamp, &slots, 1, &fill, &cost), need, 1e-9);
        assert_near(cost, number(day, "linear_greedy_cost"), 1e-6 * cost + 3e-8);
        lamp.curve = &convex;
        costs(&lamp, &slots, need, number(day, "convex_cost"), 1e-4);
        lamp.curve = &fixedloss;
        costs(&lamp, &slots, need, number(day, "fixedloss_bound"), 1e-4);
        within_a_run(plan_bound(&lamp, &slots, need).cost, number(day, "milp_minonoff30"), need);
    }
    json_decref(root);
}

/* Levels drawn at random within the limits that happen to meet a need never beat the bound. */
static void no_schedule_is_cheaper(void **state)
{
    (void)state;
    struct prng prng = prng_start("no_schedule_is_cheaper");
    struct day day;
    for (int round = 0; round < 3 * ROUNDS; round++) {
        make_day(&day, &prng);
        const double shift = prng_int(&prng, 0, 1) ? 0 : prng_real(&prng, 0, 0.4);
        const double eager = prng_real(&prng, 0, 1);
        double mol = 0;
        double cost = 0;
        for (int i = 0; i < day.slots.count; i++) {
            struct plan_slot *slot = &day.slots.slot[i];
            slot->price_per_kwh -= shift; /* every other day has negative prices */
            double low;
            double high;
            plan_limits(&day.lamp, slot, slot->clear_umol, &low, &high);
            const bool is_lit = high > 0 && (low > 0 || prng_real(&prng, 0, 1) < eager);
            const double least = fmin(fmax(low, day.curve.level[0]), high);
            const double level =
                is_lit ? least + (high - least) * prng_real(&prng, 0, 1) * eager : 0;
            mol += day.lamp.full_umol * level * slot->lit_s * 1e-6;
            cost += slot_cost(&day.lamp, slot, level);
        }
        const struct plan_bound bound = plan_bound(&day.lamp, &day.slots, mol);
        assert_true(bound.is_feasible);
        assert_true(bound.cost <= cost + 1e-9);
        assert_true(bound.cost <= plan_even_cost(&day.lamp, &day.slots, mol) + 1e-9);
    }
}

static void more_costs_more(void **state)
{
    (void)state;
    struct prng prng = prng_start("more_costs_more");
    struct day day;
    for (int round = 0; round < ROUNDS; round++) {
        make_day(&day, &prng);
        double before = 0;
        for (int i = 0; i <= 20; i++) {
            const double need = day.reach_mol * i / 20;
            const struct plan_bound bound = plan_bound(&day.lamp, &day.slots, need);
            assert_true(bound.is_feasible && bound.price >= 0);
            assert_true(bound.cost >= before - 1e-12);
            before = bound.cost;
        }
        const double need = prng_real(&prng, 0, 1) * day.reach_mol;
        const double cost = plan_bound(&day.lamp, &day.slots, need).cost;
        for (int i = 0; i < day.slots.count; i++) {
            day.slots.slot[i].price_per_kwh += prng_real(&prng, 0, 0.1);
        }
        assert_true(plan_bound(&day.lamp, &day.slots, need).cost >= cost - 1e-12);
    }
}

static void splitting_changes_nothing(void **state)
{
    (void)state;
    struct prng prng = prng_start("splitting_changes_nothing");
    struct day day;
    for (int round = 0; round < ROUNDS; round++) {
        make_day(&day, &prng);
        const double need = prng_real(&prng, 0, 1) * day.reach_mol;
        const double cost = plan_bound(&day.lamp, &day.slots, need).cost;
        struct plan_slot *slot = &day.slots.slot[prng_int(&prng, 0, day.slots.count - 1)];
        struct plan_slot rest = *slot;
        slot->lit_s *= 0.3;
        slot->dt_s *= 0.3;
        rest.lit_s -= slot->lit_s;
        rest.dt_s -= slot->dt_s;
        day.slots.slot[day.slots.count++] = rest;
        assert_near(plan_bound(&day.lamp, &day.slots, need).cost, cost, 1e-9 * (1 + cost));
    }
}

static void the_ends(void **state)
{
    (void)state;
    const double level[] = {0.5, 1};
    const double watts[] = {150, 300};
    struct lampcurve curve;
    lampcurve_of(&curve, level, watts, 2, 10);
    struct plan_lamp lamp = {&curve, 500, 1, (double)INFINITY, false};
    struct plan_slots slots = {
        .count = 2,
        .slot = {{.dt_s = 3600, .lit_s = 3600, .price_per_kwh = 0.2, .cap = 1},
                 {.dt_s = 3600, .lit_s = 3600, .price_per_kwh = 0.1, .cap = 1}},
    };
    struct plan_bound bound = plan_bound(&lamp, &slots, 0);
    assert_true(bound.is_feasible && bound.cost == 0 && bound.price == 0);
    assert_near(bound.reach_mol, 3.6, 1e-12);
    bound = plan_bound(&lamp, &slots, 5);
    assert_true(!bound.is_feasible);
    assert_near(bound.cost, 0.29 * 0.3, 1e-9); /* all there is */
    assert_near(plan_even_cost(&lamp, &slots, 5), bound.cost, 1e-9);
    assert_near(plan_bound(&lamp, &slots, 1.8).cost, 0.28 * 0.1 + 0.01 * 0.1, 1e-9);
    assert_near(plan_even_cost(&lamp, &slots, 1.8), 0.14 * 0.3, 1e-9);
    assert_near(plan_even_cost(&lamp, &slots, 0.9), 0.07 * 0.3, 1e-9);
    assert_near(plan_even_cost(&lamp, &slots, 2.7), 0.215 * 0.3, 1e-9);
    lamp.stays_lit = true;
    assert_near(plan_bound(&lamp, &slots, -1).cost, 0.14 * 0.3, 1e-9);
    assert_near(plan_even_cost(&lamp, &slots, -1), 0.14 * 0.3, 1e-9);
    lamp.stays_lit = false;
    lamp.full_share = 0.5;
    assert_near(plan_bound(&lamp, &slots, 1.8).cost, 0.145 * 0.1, 1e-9);
    slots.slot[1].price_per_kwh = -0.1; /* paid for burning */
    lamp.full_share = 1;
    assert_near(plan_bound(&lamp, &slots, 0).cost, 0, 1e-9); /* but nothing is burned for that */
    assert_near(plan_bound(&lamp, &slots, 2.7).cost, -0.29 * 0.1 + 0.14 * 0.2, 1e-9);
    assert_near(plan_bound(&lamp, &slots, 1.8).cost, -0.29 * 0.1, 1e-9);
    assert_near(plan_bound(&lamp, &slots, 0.9).cost, -0.145 * 0.1, 1e-9);
    assert_true(plan_bound(&lamp, &slots, 0.9).price < 0);
    slots.slot[1].price_per_kwh = 0;
    assert_near(plan_bound(&lamp, &slots, 1.8).cost, 0, 1e-9);
    slots.count = 0;
    bound = plan_bound(&lamp, &slots, 1);
    assert_true(!bound.is_feasible && bound.cost == 0);
}

/* At one energy price and above the cheapest photon nothing beats one level all day. */
static void a_flat_price_is_an_even_day(void **state)
{
    (void)state;
    const struct plan_case_lamp shape = {120, 0.02, 0.83, 0.15, 0.1};
    struct lampcurve curve;
    plan_case_quadratic(&curve, &shape);
    const struct plan_lamp lamp = {&curve, 300, 1, (double)INFINITY, false};
    struct plan_slots slots = {.count = 36};
    for (int i = 0; i < slots.count; i++) {
        slots.slot[i] = (struct plan_slot){
            .dt_s = 1800, .lit_s = 1800, .price_per_kwh = 0.15, .cap = i < 9 ? 0.6 : 1};
    }
    for (int i = 0; i < 36; i++) {
        const double need = 8 + 0.25 * i;
        const double cost = plan_bound(&lamp, &slots, need).cost;
        assert_near(plan_even_cost(&lamp, &slots, need), cost, 1e-9 * cost);
    }
    assert_true(plan_even_cost(&lamp, &slots, 4) > plan_bound(&lamp, &slots, 4).cost * 1.001);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(certified_days),  cmocka_unit_test(no_schedule_is_cheaper),
        cmocka_unit_test(more_costs_more), cmocka_unit_test(splitting_changes_nothing),
        cmocka_unit_test(the_ends),        cmocka_unit_test(a_flat_price_is_an_even_day),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
