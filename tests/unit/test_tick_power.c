/* SPDX-License-Identifier: Apache-2.0 */
/* The limit of all spaces together in the daemon's second, over reloads that bring, change and end
 * it. */
#include "tick_private.h"

#include "err.h"
#include "lamp_config.h"
#include "log.h"
#include "near.h"
#include "onefile.h"
#include "tickrun.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const int64_t noon_s = 1794308400; /* 2026-11-10T11:00:00Z */

static struct config *limited_config(double limit_w)
{
    struct config *config = lamp_config(noon_s, 10 * 3600, 8, 6);
    config->site.power = (struct power_limit){limit_w, (double)INFINITY, 0};
    return config;
}

static const struct allotment *power_at(struct tick *tick, int64_t wall_s)
{
    tickrun_at(tick, wall_s, CLOCK_SYNC_YES);
    return &tick->spaces[0].now.power;
}

static double limit_shown(struct tick *tick)
{
    const struct picture *picture = snapshot_take(tick->snapshot);
    assert_non_null(picture);
    const double limit_w = picture->power.is_shared ? picture->power.limit_w : (double)NAN;
    snapshot_release(tick->snapshot, picture);
    return limit_w;
}

static void reloads_change_it(void **state)
{
    (void)state;
    struct err err = {""};
    struct tick *tick = tickrun_begin(lamp_config(noon_s, 10 * 3600, 8, 6), onefile_path(), noon_s);
    assert_false(power_at(tick, noon_s)->is_shared);
    assert_true(isnan(limit_shown(tick)));
    assert_int_equal(tick_reload(tick, limited_config(90), &err), 0);
    const struct allotment *power = power_at(tick, noon_s + 1);
    assert_true(power->is_shared && power->budget_w <= 90);
    power = power_at(tick, noon_s + 2);
    assert_true(power->budget_w > 85 && power->budget_w <= 90); /* the only space has it all */
    assert_near(limit_shown(tick), 90, 0);
    assert_int_equal(tick_reload(tick, limited_config(40), &err), 0);
    power = power_at(tick, noon_s + 3);
    assert_true(power->budget_w > 35 && power->budget_w <= 40);
    assert_int_equal(tick_reload(tick, lamp_config(noon_s, 10 * 3600, 8, 6), &err), 0);
    assert_false(power_at(tick, noon_s + 4)->is_shared);
    assert_true(isnan(limit_shown(tick)));
    tick_destroy(tick);
}

int main(void)
{
    log_set_level(LOG_LEVEL_ERROR);
    const struct CMUnitTest tests[] = {cmocka_unit_test(reloads_change_it)};
    return cmocka_run_group_tests(tests, onefile_begin, onefile_end);
}
