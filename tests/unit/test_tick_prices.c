/* SPDX-License-Identifier: Apache-2.0 */
/* The price of every tick, and what is told when the file of prices has nothing for it. */
#include "tick_private.h"

#include "err.h"
#include "lamp_config.h"
#include "log.h"
#include "near.h"
#include "onefile.h"
#include "tickrun.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const int64_t noon_s = 1794308400; /* 2026-11-10T11:00:00Z */
static const struct tariff_price rows[] = {{1794308400, 0.1}, {1794308400 + 3600, -0.2}};

static struct config *priced_config(void)
{
    struct config *config = lamp_config(noon_s, 10 * 3600, 8, 6);
    config->site.tariff.series = rows;
    config->site.tariff.series_count = 2;
    config->site.tariff.series_end_s = noon_s + 7200;
    return config;
}

static double price_at(struct tick *tick, int64_t wall_s, enum clock_sync sync)
{
    tickrun_at(tick, wall_s, sync);
    return tick->spaces[0].now.price_per_kwh;
}

static void prices_of_ticks(void **state)
{
    (void)state;
    struct err err = {""};
    struct tick *tick = tickrun_begin(priced_config(), onefile_path(), noon_s);
    (void)price_at(tick, 1000, CLOCK_SYNC_NO);
    assert_false(tick->told.prices_missing); /* nobody knows what time it is */
    assert_near(price_at(tick, noon_s - 60, CLOCK_SYNC_YES), 0.3, 0);
    assert_true(tick->told.prices_missing);
    assert_near(price_at(tick, noon_s, CLOCK_SYNC_YES), 0.1, 0);
    assert_false(tick->told.prices_missing);
    assert_near(price_at(tick, noon_s + 3600, CLOCK_SYNC_YES), -0.2, 0);
    assert_near(price_at(tick, noon_s + 7200, CLOCK_SYNC_YES), 0.3, 0);
    assert_true(tick->told.prices_missing);
    /* a reload with the same old file changes nothing, one without a file ends it */
    assert_int_equal(tick_reload(tick, priced_config(), &err), 0);
    assert_near(price_at(tick, noon_s + 7201, CLOCK_SYNC_YES), 0.3, 0);
    assert_true(tick->told.prices_missing);
    assert_int_equal(tick_reload(tick, lamp_config(noon_s, 10 * 3600, 8, 6), &err), 0);
    assert_near(price_at(tick, noon_s + 7202, CLOCK_SYNC_YES), 0.3, 0);
    assert_false(tick->told.prices_missing);
    tick_destroy(tick);
}

int main(void)
{
    log_set_level(LOG_LEVEL_ERROR);
    const struct CMUnitTest tests[] = {cmocka_unit_test(prices_of_ticks)};
    return cmocka_run_group_tests(tests, onefile_begin, onefile_end);
}
