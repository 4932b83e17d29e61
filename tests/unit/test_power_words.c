/* SPDX-License-Identifier: Apache-2.0 */
#include "power_words.h"

#include "shared_supply.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static char text[POWER_WORDS_MAX];

static const char *now_of(struct powerplan_view view)
{
    power_words_now(&view, "EUR", text, sizeof text);
    return text;
}

static void what_is_drawn_of_it(void **state)
{
    (void)state;
    const double none = (double)INFINITY;
    assert_string_equal(now_of((struct powerplan_view){.is_shared = false}), "");
    assert_string_equal(now_of((struct powerplan_view){true, 411.6, 600, none, false, 0, false}),
                        "412 of 600 W");
    assert_string_equal(now_of((struct powerplan_view){true, 600, 600, 400, true, 0.21, false}),
                        "600 of 600 W; the limit binds: another kWh would be worth 0.210 EUR more "
                        "than it costs");
    assert_string_equal(
        now_of((struct powerplan_view){true, 600, 600, 400, true, (double)NAN, false}),
        "600 of 600 W; the limit binds");
    assert_string_equal(now_of((struct powerplan_view){true, 380, none, 400, false, 0, false}),
                        "380 of 400 W (soft limit)");
    assert_string_equal(
        now_of((struct powerplan_view){true, 52, 60, none, true, 0, true}),
        "52 of 60 W; the lowest levels of all spaces are more than that: they take turns");
}

static void what_the_limit_means_for_the_lamps(void **state)
{
    (void)state;
    struct config *config = shared_supply("", false);
    power_words_limit(config, text, sizeof text);
    assert_string_equal(text, "");
    config_free(config);
    config =
        shared_supply("limit_w = 500.0; soft_limit_w = 400.0; soft_price_per_kwh = 0.15;", false);
    power_words_limit(config, text, sizeof text);
    assert_string_equal(text, "power: all lamps together draw 78 W at their lowest level, 750 W at "
                              "full light; never more than 500 W of it at a time; above 400 W a "
                              "kWh costs 0.150 more");
    config_free(config);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_drawn_of_it),
        cmocka_unit_test(what_the_limit_means_for_the_lamps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
