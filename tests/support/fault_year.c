/* SPDX-License-Identifier: Apache-2.0 */
#include "fault_year.h"

#include "invented_sun.h"
#include "sim_config.h"
#include "sim_day.h"

#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define DAY_S      86400.0
#define HOT_K      25.0 /* at full light the foldback leaves about half */
#define DRIFT      0.05
#define DRIFT_PART 12
#define YEAR_DAYS  365

static struct sim_config sim;
static struct sim_watch watch;
static struct tariff_price prices[24 * YEAR_DAYS];

/* An invented tariff with a cheap night and a dear evening. */
static const struct tariff_rule three_prices[] = {
    {0x7f, 0xfff, 22 * 3600, 6 * 3600, 0.10},
    {0x7f, 0xfff, 16 * 3600, 20 * 3600, 0.28},
};

const char *fault_year_name(enum fault_year_kind kind)
{
    static const char *const names[FAULT_YEAR_KINDS] = {"none",   "heat",   "gain", "gain_accepted",
                                                        "sensor", "prices", "clock"};
    return (unsigned)kind < FAULT_YEAR_KINDS ? names[kind] : "unknown";
}

static void set_up(enum fault_year_kind kind, bool has_sun, int days)
{
    sim_config_init(&sim, 2);
    sim.stages[0].days = 0;
    sim.stages[0].target_mol = 17;
    sim.stages[0].ceiling_umol = has_sun ? 900 : 430;
    sim.space.rules.stage_count = 1;
    sim.space.rules.sees_daylight = has_sun;
    sim.space.rules.sun = (struct sun_site){true, 52, 0, 3600, 0.6};
    sim.space.rules.day.start_s = 6 * 3600;
    struct tariff *tariff = &sim.config.site.tariff;
    *tariff = (struct tariff){
        .civil = {.offset_s = 3600}, .price_per_kwh = 0.16, .rule_count = 2, .rules = three_prices};
    if (kind == FAULT_YEAR_PRICES) {
        const int64_t begin_s = lightday_begin(&sim.space.rules.day, SIM_DAY);
        tariff->series_count = 24 * (days - 1);
        tariff->series = prices;
        tariff->series_end_s = begin_s + (int64_t)(days - 1) * 86400;
        for (int i = 0; i < tariff->series_count; i++) {
            prices[i] = (struct tariff_price){begin_s + i * INT64_C(3600), 0.2 + 0.1 * sin(i % 24)};
        }
    }
}

static void add(enum bench_fault_kind kind, int unit, double from_day, double length_days,
                double value)
{
    const struct bench_fault fault = {from_day * DAY_S, length_days * DAY_S, kind, unit, value};
    assert_int_equal(bench_model_add_fault(rehearsal_model(watch.rehearsal), &fault), 0);
}

/* A fifth of the days for the drift and a tenth for the heat, but 60 and 30 at most. */
static void add_faults(enum fault_year_kind kind, int days)
{
    const int first = days / 6;
    const double drift_days = fmin(60, days / 5.0);
    switch (kind) {
    case FAULT_YEAR_HEAT:
        for (int day = first; day < first + (days < 300 ? 4 : 30); day++) {
            for (int unit = 0; unit < 2; unit++) {
                add(BENCH_HEAT_STEP, unit, day + 11 / 24.0, 5 / 24.0, HOT_K);
            }
        }
        break;
    case FAULT_YEAR_GAIN:
    case FAULT_YEAR_GAIN_ACCEPTED:
        for (int part = 0; part < DRIFT_PART; part++) {
            add(BENCH_PPFD_GAIN, 0, first + part * drift_days / DRIFT_PART, drift_days / DRIFT_PART,
                1 + DRIFT * (part + 1) / DRIFT_PART);
        }
        add(BENCH_PPFD_GAIN, 0, first + drift_days, days, 1 + DRIFT);
        break;
    case FAULT_YEAR_SENSOR:
        add(BENCH_PPFD_SILENT, 0, first + 0.3, 2, 0);
        break;
    case FAULT_YEAR_NONE:
    case FAULT_YEAR_PRICES:
    case FAULT_YEAR_CLOCK:
    case FAULT_YEAR_KINDS:
        break;
    }
}

/* What happens from outside when so many light days have closed. */
static void happen(enum fault_year_kind kind, int days)
{
    const int first = days / 6;
    if (kind == FAULT_YEAR_CLOCK) {
        sim_until_day(&watch, first);
        for (int forward = 1; forward >= 0; forward--) {
            sim_for(&watch, 6 * 3600);
            rehearsal_set_clock(watch.rehearsal,
                                rehearsal_wall_s(watch.rehearsal) + (forward ? 3600 : -3600),
                                CLOCK_SYNCHRONISED);
            watch.truth_is_partial = true;
            sim_until_day(&watch, first + 4);
        }
    } else if (kind == FAULT_YEAR_GAIN_ACCEPTED) {
        sim_until_day(&watch, first + (int)fmin(60, days / 5.0) + 9);
        assert_true(rehearsal_correct(watch.rehearsal, 0, CORRECTION_SENSOR));
    }
    sim_until_day(&watch, days);
}

static bool is_usual(int kind)
{
    return kind == EVENT_DAY_BEGINS || kind == EVENT_DAY_ENDS || kind == EVENT_STAGE_BEGINS ||
           kind == EVENT_LIGHTS_ON || kind == EVENT_LIGHTS_OFF || kind == EVENT_TARGET_MET;
}

static struct fault_year sum_up(void)
{
    struct fault_year sum = {.days = watch.day_count};
    double cost = 0;
    double bound = 0;
    for (int i = 0; i < watch.day_count; i++) {
        const struct day_summary *day = &watch.days[i].summary;
        const double target = day->account.target_mol;
        sum.night_breaks += (int)day->night_breaks;
        if (day->is_feasible) {
            sum.missed += watch.days[i].truth_mol < 0.98 * target;
            sum.short_mol += fmax(0, target - watch.days[i].truth_mol);
        }
        if (units_known(day->bound_cost) && units_known(day->lamp_cost)) {
            sum.bounded++;
            cost += day->lamp_cost;
            bound += day->bound_cost;
        }
    }
    sum.ratio = bound > 0 ? cost / bound : UNITS_NONE;
    for (int kind = 0; kind < EVENT_KIND_COUNT; kind++) {
        sum.events += is_usual(kind) ? 0 : watch.events[kind];
    }
    return sum;
}

/* The lamps' steps are looked at on ticks of 10 s at most. */
static bool is_of_gain(enum fault_year_kind kind)
{
    return kind == FAULT_YEAR_GAIN || kind == FAULT_YEAR_GAIN_ACCEPTED;
}

struct fault_year fault_year_run(enum fault_year_kind kind, bool has_sun, int days)
{
    set_up(kind, has_sun, days);
    struct daylight *sun = has_sun ? invented_sun((SIM_DAY - 1) * UNITS_S_PER_DAY, days + 3) : NULL;
    const struct rehearsal_options options = {
        .from_day = SIM_DAY, .step_s = is_of_gain(kind) ? 10 : 60, .seed = 17, .daylight = sun};
    sim_watch_begin(&watch, &sim.config, &options);
    watch.light_may_lie = true;
    add_faults(kind, days);
    happen(kind, days);
    const struct fault_year sum = sum_up();
    sim_watch_end(&watch);
    if (sun) {
        daylight_free(sun);
    }
    return sum;
}
