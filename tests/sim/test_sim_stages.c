/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A week under an invented sun in a stage that asks for everything at once: a floor, a carry-over,
 * a slow rise, long runs and rests, and prices that change; with a kill in the middle.
 */
#include "sim_config.h"
#include "sim_day.h"

#include "near.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#define DAYS        7
#define FLOOR_UMOL  60.0
#define CARRY_MOL   2.0
#define RISE_UMOL_S (10.0 / 60)
#define RUN_S       2400.0
#define REST_S      3600.0

static struct sim_config sim;
static struct sim_watch watch;

/* Energy is cheap and dear by turns of twenty minutes: a lamp without patience would follow. */
static struct tariff_price series[(DAYS + 2) * 72];
static struct tariff zigzag = {.price_per_kwh = 0.16, .series = series};

static void invent_prices(void)
{
    const int count = (int)(sizeof series / sizeof *series);
    const int64_t from_s = (SIM_DAY - 1) * UNITS_S_PER_DAY;
    for (int i = 0; i < count; i++) {
        series[i] = (struct tariff_price){from_s + (int64_t)i * 1200, i % 2 ? 0.28 : 0.10};
    }
    zigzag.series_count = count;
    zigzag.series_end_s = from_s + (int64_t)count * 1200;
}

/* Half-sine days of 10 h, bright and dull ones by turns, a cloud every ten minutes. */
static void invented_sun(struct daylight *ret)
{
    static const double peaks[DAYS + 2] = {900, 950, 220, 1100, 350, 450, 1000, 260, 800};
    const size_t rows = (DAYS + 2) * 144;
    *ret = (struct daylight){
        .rows = {.wall_s = calloc(rows, sizeof(int64_t)), .value = calloc(rows, sizeof(double))},
        .hold_s = 600};
    if (!ret->rows.wall_s || !ret->rows.value) {
        fail_msg("no memory for %zu rows of daylight", rows);
        return;
    }
    uint32_t noise = 2026;
    for (size_t i = 0; i < rows; i++) {
        const double up = ((double)(i % 144) / 6 - 12) / 5;
        noise = noise * 1664525u + 1013904223u;
        const double cloud = 0.3 + 0.7 * (noise >> 8) / 16777216.0;
        ret->rows.wall_s[i] = (SIM_DAY - 1) * UNITS_S_PER_DAY + (int64_t)i * 600;
        ret->rows.value[i] = fabs(up) < 1 ? peaks[i / 144] * cos(up * 1.5707963) * cloud : 0;
        ret->rows.count++;
    }
}

static void begin(struct daylight *sun)
{
    sim_config_init(&sim, 2);
    invent_prices();
    sim.space.rules.sees_daylight = true;
    sim.space.rules.tariff = &zigzag;
    struct stage *stage = &sim.stages[0];
    stage->ceiling_umol = 900;
    stage->floor_umol = FLOOR_UMOL;
    stage->carry_over_mol = CARRY_MOL;
    stage->rise_umol_per_s = RISE_UMOL_S;
    stage->shortest_run_s = RUN_S;
    stage->shortest_rest_s = REST_S;
    for (int i = 0; i < 2; i++) {
        sim.rules[i].switching.min_off_s = 600; /* the floor waits for these alone */
        sim.rules[i].switching.min_on_s = 900;
    }
    const struct rehearsal_options options = {
        .from_day = SIM_DAY, .step_s = 10, .seed = 77, .daylight = sun};
    sim_watch_begin(&watch, &sim.config, &options);
}

struct seen {
    double lamp_umol, below_floor_s;
    bool was_lit, was_closed[2];
    double turned_s;
    int starts;
};

/* Contacts that rest and a lamp that climbs are all that the floor may wait for. */
static void check_floor(struct seen *seen, const struct verdict *verdict, double umol, double dt_s)
{
    const struct lightday_place *place = &verdict->place;
    const bool is_ramp = !place->is_lit || place->since_on_s < 1800 || place->until_off_s < 1800;
    seen->below_floor_s = is_ramp || umol >= FLOOR_UMOL - 3 ? 0 : seen->below_floor_s + dt_s;
    if (seen->below_floor_s > 600 + FLOOR_UMOL / RISE_UMOL_S) {
        fail_msg("%.1f µmol, below the floor for %.0f s", umol, seen->below_floor_s);
    }
}

/* A lamp that starts adds its lowest level; a warm one gives a little less than it promises. */
static void check_rise(struct seen *seen, const struct verdict *verdict, double dt_s)
{
    double lamp = 0;
    double starts = 0;
    for (int i = 0; i < 2; i++) {
        lamp += 210 * verdict->fixtures[i].level;
        if (verdict->fixtures[i].closed && !seen->was_closed[i]) {
            starts += 210 * dimcurve_min_level(&sim.rules[i].curve);
        }
        seen->was_closed[i] = verdict->fixtures[i].closed;
    }
    assert_true(lamp - seen->lamp_umol <= 1.1 * RISE_UMOL_S * dt_s + starts + 1e-6);
    seen->lamp_umol = lamp;
}

static void check_turns(struct seen *seen, const struct rehearsal_view *view)
{
    const bool is_lit = view->state->is_lit;
    if (is_lit == seen->was_lit) {
        return;
    }
    const double since_s = watch.seconds - seen->turned_s;
    const struct account *account = &view->verdict->account;
    const bool is_over =
        !view->verdict->place.is_lit || account->surplus_mol > 0 || account->to_come_mol < 0.05;
    const bool is_called = view->state->plan.by_guard || view->state->floor_ns != 0;
    if (!is_lit && !is_over) {
        assert_true(since_s >= RUN_S - 30);
    } else if (is_lit && seen->starts > 0 && !is_called) {
        assert_true(since_s >= REST_S - 30);
    }
    seen->starts += is_lit;
    seen->was_lit = is_lit;
    seen->turned_s = watch.seconds;
}

static void a_week_of_everything(void **state)
{
    (void)state;
    struct daylight sun;
    struct seen seen = {0};
    invented_sun(&sun);
    begin(&sun);
    bool was_killed = false;
    while (watch.day_count < DAYS) {
        const double before_s = watch.seconds;
        sim_tick(&watch);
        const struct rehearsal_view view = rehearsal_view(watch.rehearsal, 0);
        const double dt_s = watch.seconds - before_s;
        check_floor(&seen, view.verdict, bench_model_true_umol(rehearsal_model(watch.rehearsal), 0),
                    dt_s);
        check_rise(&seen, view.verdict, dt_s);
        check_turns(&seen, &view);
        if (!was_killed && watch.seconds > (1 * 24 + 13) * 3600) {
            assert_true(view.state->carried_mol > 0);
            sim_restart(&watch, 20);
            seen = (struct seen){.starts = 0};
            was_killed = true;
        }
    }
    int lowered = 0;
    for (int i = 0; i < DAYS; i++) {
        const struct account *account = &watch.days[i].summary.account;
        const double over = i > 0 ? watch.days[i - 1].summary.account.delivered_mol - 13 : 0;
        print_message("day %d: %.2f of %.2f mol, lamps %.2f\n", i, account->delivered_mol,
                      account->target_mol, watch.days[i].summary.integral.lamp_mol);
        assert_near(account->target_mol, 13 - fmin(fmax(over, 0), CARRY_MOL), 1e-6);
        assert_true(account->delivered_mol >= 0.98 * account->target_mol);
        lowered += account->target_mol < 13;
    }
    assert_int_equal(watch.events[EVENT_CARRIED_OVER], lowered);
    assert_in_range(lowered, 2, DAYS - 2);
    assert_in_range(seen.starts, DAYS - 2, 4 * DAYS);
    daylight_free(&sun);
    sim_watch_end(&watch);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_week_of_everything),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
