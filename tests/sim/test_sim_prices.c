/* SPDX-License-Identifier: Apache-2.0 */
/* What a light day costs when prices change inside it. Europe/Berlin's clock change of 2026-03-29:
 * IANA tz database. */
#include "sim_config.h"
#include "sim_day.h"

#include "near.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { H = 3600, EVERY_DAY = 0x7F, ALL_YEAR = 0xFFF };

static struct sim_config sim;
static struct sim_watch watch;

static void run_days(int64_t day, int days, const struct tariff *tariff)
{
    const struct rehearsal_options options = {.from_day = day, .step_s = 1, .seed = 21};
    sim_config_init(&sim, 1);
    sim.config.site.tariff = *tariff;
    sim.space.rules.first_day = day;
    sim.space.rules.tariff = NULL; /* the money alone: the light does not follow the prices here */
    sim_watch_begin(&watch, &sim.config, &options);
    sim_until_day(&watch, days);
    sim_watch_end(&watch);
}

static struct tariff dear_from(const struct tariff_rule *rule)
{
    return (struct tariff){
        .civil = {.offset_s = H}, .price_per_kwh = 1, .rule_count = 1, .rules = rule};
}

/* Three for the morning and one for the rest, and the other way round: together four. */
static void halves_of_a_day(void **state)
{
    (void)state;
    static const struct tariff_rule morning = {EVERY_DAY, ALL_YEAR, 0, 14 * H, 3};
    static const struct tariff_rule evening = {EVERY_DAY, ALL_YEAR, 14 * H, 0, 3};
    struct tariff tariff = dear_from(&morning);
    run_days(SIM_DAY, 1, &tariff);
    double energy_kwh = watch.days[0].summary.energy_kwh;
    double first = watch.days[0].summary.cost;
    assert_true(energy_kwh > 1);
    tariff = dear_from(&evening);
    run_days(SIM_DAY, 1, &tariff);
    double second = watch.days[0].summary.cost;
    assert_true(first > 1.5 * energy_kwh && second > 1.5 * energy_kwh);
    assert_near(first + second, 4 * energy_kwh, 1e-6 * energy_kwh);
    tariff = (struct tariff){.price_per_kwh = -0.25};
    run_days(SIM_DAY, 1, &tariff);
    assert_near(watch.days[0].summary.cost, -0.25 * energy_kwh, 1e-6 * energy_kwh);
}

/* Lights-on is 06:00 at UTC + 1 h all year: in summer the clock on the wall shows 07:00 then, and
 * the price of its 06 o'clock meets a dark room. */
static void summer_time(void **state)
{
    (void)state;
    static const struct civil_change change = {1774746000, 2 * H};
    static const struct tariff_rule dawn = {EVERY_DAY, ALL_YEAR, 5 * H, 7 * H, 10};
    const struct tariff tariff = {.civil = {H, 1, &change}, .rule_count = 1, .rules = &dawn};
    run_days(civil_day(2026, 3, 28), 2, &tariff);
    assert_true(watch.days[0].summary.cost > 0.1);
    assert_true(watch.days[1].summary.cost < 0.02 * watch.days[0].summary.cost);
}

/* The second day is missing in the file. */
static void a_file_that_ends(void **state)
{
    (void)state;
    static const struct tariff_price rows[] = {{SIM_DAY * INT64_C(86400) - H, 0.1},
                                               {SIM_DAY * INT64_C(86400) + 8 * H, -0.1}};
    const struct tariff tariff = {
        .price_per_kwh = 0.3,
        .series = rows,
        .series_count = 2,
        .series_end_s = SIM_DAY * INT64_C(86400) + 23 * H,
        .series_extra_per_kwh = 0.1,
    };
    run_days(SIM_DAY, 2, &tariff);
    const struct day_summary *first = &watch.days[0].summary;
    const struct day_summary *second = &watch.days[1].summary;
    assert_true(first->cost > 0 && first->cost < 0.1 * first->energy_kwh);
    assert_near(second->cost, 0.3 * second->energy_kwh, 1e-6 * second->energy_kwh);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(halves_of_a_day),
        cmocka_unit_test(summer_time),
        cmocka_unit_test(a_file_that_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
