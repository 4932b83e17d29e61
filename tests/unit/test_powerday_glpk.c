/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Spaces that share one supply against GLPK (GNU Linear Programming Kit): the day of all of them
 * together as one linear programme of weights on the corners of the lamp curves.
 */
#include "glpk_model.h"
#include "near.h"
#include "plan_case.h"
#include "plan_price.h"
#include "powerday.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>

#include <cmocka.h>

#define SPACES_MAX 3

struct bed {
    struct powerday day;
    struct powerday_space space[SPACES_MAX];
    struct powerday_cell cell[SPACES_MAX][POWERDAY_SLOTS_MAX];
    struct lampcurve lamp[SPACES_MAX];
    struct powercurve curve[SPACES_MAX];
};

static struct bed bed;

static struct glpk_model model;

static void add_cell(int space, int slot, int need_row, int power_row)
{
    const struct powerday_space *its = &bed.space[space];
    const struct powerday_cell *cell = &bed.cell[space][slot];
    const struct lampcurve *lamp = &bed.lamp[space];
    if (!(cell->lit_s > 0)) {
        return;
    }
    const int sum = glpk_add_row(&model, cell->limits.low > 0 ? GLP_FX : GLP_UP, 1, 1);
    for (int i = 0; i <= lamp->count; i++) {
        const double level = i < lamp->count ? lamp->level[i] : cell->limits.high;
        if (level > cell->limits.high) {
            continue;
        }
        const double watts = lampcurve_watts(lamp, level);
        const int weight = glp_add_cols(model.lp, 1);
        glp_set_col_bnds(model.lp, weight, GLP_LO, 0, 0);
        glp_set_obj_coef(model.lp, weight,
                         watts * cell->lit_s * bed.day.slot[slot].price_per_kwh / 3.6e6);
        glpk_put(&model, sum, weight, 1);
        glpk_put(&model, need_row, weight, level * its->full_umol * cell->lit_s * 1e-6);
        glpk_put(&model, power_row, weight, watts * cell->on_s / bed.day.slot[slot].dt_s / 1000);
    }
}

/* The least cost; with is_least_limit the lowest hard limit under which the needs can be met, W.
 * INFINITY: they cannot. */
static double solve(bool is_least_limit)
{
    const struct power_limit *limit = &bed.day.limit;
    glpk_begin(&model);
    int need[SPACES_MAX] = {0};
    for (int s = 0; s < bed.day.space_count; s++) {
        need[s] = glpk_add_row(&model, GLP_LO, bed.space[s].need_mol, 0);
    }
    const int whole = is_least_limit ? glp_add_cols(model.lp, 1) : 0;
    for (int t = 0; t < bed.day.slot_count; t++) {
        const struct powerday_slot *slot = &bed.day.slot[t];
        const int power =
            glpk_add_row(&model, GLP_UP, 0, is_least_limit ? 0 : limit->hard_w / 1000);
        for (int s = 0; s < bed.day.space_count; s++) {
            add_cell(s, t, need[s], power);
        }
        if (is_least_limit) {
            glpk_put(&model, power, whole, -1);
        } else if (limit->soft_w < limit->hard_w) {
            const int above = glp_add_cols(model.lp, 1); /* kW above the soft limit */
            glp_set_col_bnds(model.lp, above, GLP_DB, 0, (limit->hard_w - limit->soft_w) / 1000);
            glp_set_obj_coef(model.lp, above, limit->soft_price_per_kwh * slot->dt_s / 3600);
            glp_set_row_bnds(model.lp, power, GLP_UP, 0, limit->soft_w / 1000);
            glpk_put(&model, power, above, -1);
        }
    }
    if (is_least_limit) {
        for (int i = 1; i <= glp_get_num_cols(model.lp); i++) {
            glp_set_obj_coef(model.lp, i, i == whole ? 1 : 0);
        }
        glp_set_col_bnds(model.lp, whole, GLP_LO, 0, 0);
    }
    glpk_load(&model);
    glp_smcp options;
    glp_init_smcp(&options);
    options.msg_lev = GLP_MSG_ERR;
    options.presolve = GLP_ON;
    const int code = glp_simplex(model.lp, &options);
    const bool is_solved = code == 0 && glp_get_status(model.lp) == GLP_OPT;
    const double answer = is_solved ? glp_get_obj_val(model.lp) : (double)INFINITY;
    glp_delete_prob(model.lp);
    return is_least_limit ? answer * 1000 : answer;
}

/* Half hours of a tariff in blocks; windows that begin and end apart; lamps that droop, and such
 * as draw in proportion to their light; spaces that stay lit, and such as may be dark. */
static void random_bed(struct prng *prng, int spaces)
{
    bed.day = (struct powerday){
        .limit = {(double)INFINITY, (double)INFINITY, 0},
        .slot_count = (int)prng_int(prng, 24, POWERDAY_SLOTS_MAX - 1),
        .space_count = spaces,
        .space = bed.space,
        .cell = bed.cell,
    };
    double price = 0;
    for (int t = 0; t < bed.day.slot_count; t++) {
        if (t % 8 == 0) {
            price = prng_real(prng, 0.08, 0.4);
        }
        bed.day.slot[t] = (struct powerday_slot){.dt_s = 1800, .price_per_kwh = price};
    }
    for (int s = 0; s < spaces; s++) {
        const bool is_straight = prng_int(prng, 0, 2) == 0;
        const double p2 = is_straight ? 0 : prng_real(prng, 0.08, 0.3);
        const double p0 = prng_real(prng, 0.0, 0.03);
        const struct plan_case_lamp lamp = {.full_w = prng_real(prng, 200, 900),
                                            .min_level = prng_real(prng, 0.05, 0.2),
                                            .p0 = p0,
                                            .p1 = 1 - p0 - p2,
                                            .p2 = p2};
        plan_case_quadratic(&bed.lamp[s], &lamp);
        powercurve_init(&bed.curve[s], &bed.lamp[s]);
        const int from = (int)prng_int(prng, 0, bed.day.slot_count / 3);
        const int to = (int)prng_int(prng, 2 * bed.day.slot_count / 3, bed.day.slot_count);
        const bool stays_lit = prng_int(prng, 0, 1);
        const double cap = prng_real(prng, 0.5, 1.2);
        const double full_umol = prng_real(prng, 200, 700);
        double least = 0;
        double most = 0;
        for (int t = 0; t < bed.day.slot_count; t++) {
            const double high = fmin(t % 12 < 6 ? cap : 1, 1);
            const bool is_lit = t >= from && t < to;
            bed.cell[s][t] = (struct powerday_cell){
                .lit_s = is_lit ? 1800 : 0,
                .on_s = is_lit ? 1800 : 0,
                .limits = {stays_lit ? lamp.min_level : 0, high},
            };
            least += is_lit && stays_lit ? lamp.min_level * full_umol * 1800e-6 : 0;
            most += is_lit ? high * full_umol * 1800e-6 : 0;
        }
        bed.space[s] = (struct powerday_space){
            .curve = &bed.curve[s],
            .full_umol = full_umol,
            .need_mol = least + prng_real(prng, 0.3, 0.95) * (most - least),
            .missing_price = 6 * 0.4 * lamp.full_w / (3.6 * full_umol),
        };
    }
}

static double cost_above_soft(void)
{
    double cost = 0;
    for (int t = 0; t < bed.day.slot_count; t++) {
        const struct powerday_slot *slot = &bed.day.slot[t];
        double watts = 0;
        for (int s = 0; s < bed.day.space_count; s++) {
            const struct power_user user = powerday_user(&bed.day, s, t);
            watts += powershare_watts(
                &user, fmax(slot->price_per_kwh, PLAN_PRICE_LEAST) + slot->extra_per_kwh,
                POWERDAY_SPREAD);
        }
        if (watts > bed.day.limit.hard_w + 1e-6) {
            fail_msg("slot %d: %.3f of %.3f W", t, watts, bed.day.limit.hard_w);
        }
        cost += fmax(0, watts - bed.day.limit.soft_w) * bed.day.limit.soft_price_per_kwh *
                slot->dt_s / 3.6e6;
    }
    return cost;
}

struct gap {
    double cost, need; /* largest: over the optimum, under the need */
};

static void compare(struct gap *gap)
{
    powerday_begin(&bed.day, false);
    while (!powerday_work(&bed.day, 1)) {
    }
    double cost = cost_above_soft();
    double met = 1;
    for (int s = 0; s < bed.day.space_count; s++) {
        double its_cost;
        const double mol = powerday_supply_mol(&bed.day, s, &its_cost);
        met = fmin(met, mol / bed.space[s].need_mol);
        cost += its_cost;
    }
    const double best = solve(false);
    gap->need = fmax(gap->need, 1 - met);
    gap->cost = fmax(gap->cost, cost / best - 1);
}

static void hard_limits_cost_what_they_must(void **state)
{
    (void)state;
    struct prng prng = prng_start("hard_limits_cost_what_they_must");
    struct gap gap = {0, 0};
    for (int round = 0; round < 12; round++) {
        random_bed(&prng, 2 + round % 2);
        const double least_w = solve(true);
        bed.day.limit.hard_w = least_w * (round % 4 == 0 ? 1.02 : prng_real(&prng, 1.05, 1.4));
        compare(&gap);
    }
    print_message("hard: cost %.3f %% above the optimum, %.3f %% of a need missing\n",
                  100 * gap.cost, 100 * gap.need);
    assert_true(gap.cost < 0.01);
    assert_true(gap.need < 0.005);
}

static void soft_limits_are_crossed_where_it_pays(void **state)
{
    (void)state;
    struct prng prng = prng_start("soft_limits_are_crossed_where_it_pays");
    struct gap gap = {0, 0};
    for (int round = 0; round < 12; round++) {
        random_bed(&prng, 2 + round % 2);
        const double least_w = solve(true);
        bed.day.limit.soft_w = least_w * prng_real(&prng, 0.8, 1.3);
        bed.day.limit.hard_w =
            round % 3 == 0 ? (double)INFINITY : fmax(1.05 * least_w, 1.1 * bed.day.limit.soft_w);
        bed.day.limit.soft_price_per_kwh = prng_real(&prng, 0.02, 0.3);
        if (isinf(bed.day.limit.hard_w)) {
            bed.day.limit.hard_w = 1e6;
        }
        compare(&gap);
    }
    print_message("soft: cost %.3f %% above the optimum, %.3f %% of a need missing\n",
                  100 * gap.cost, 100 * gap.need);
    assert_true(gap.cost < 0.01);
    assert_true(gap.need < 0.005);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hard_limits_cost_what_they_must),
        cmocka_unit_test(soft_limits_are_crossed_where_it_pays),
    };
    return cmocka_run_group_tests(tests, NULL, glpk_close);
}
