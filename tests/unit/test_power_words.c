/* SPDX-License-Identifier: Apache-2.0 */
#include "power_words.h"

#include "shared_supply.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

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
    struct powerplan_view view = {
        .is_shared = true, .watts = 411.6, .limit_w = 600, .soft_w = none};
    assert_string_equal(now_of(view), "412 of 600 W");
    view.is_binding = true;
    view.watts = 600;
    assert_string_equal(now_of(view), "600 of 600 W; more is wanted, but the limit is never "
                                      "exceeded: lamps are dimmed for it");
    view.cuts_floor = true;
    assert_string_equal(now_of(view), "600 of 600 W; the floors of the stages need more than that: "
                                      "they are cut");
    view = (struct powerplan_view){.is_shared = true, .watts = 380, .limit_w = none, .soft_w = 400};
    assert_string_equal(now_of(view), "380 of 400 W (soft limit)");
    view = (struct powerplan_view){
        .is_shared = true, .watts = 52, .limit_w = 60, .soft_w = none, .is_short = true};
    assert_string_equal(
        now_of(view),
        "52 of 60 W; the lowest levels of all spaces are more than that: they take turns");
}

/* A limit that may be crossed has other words than one that never is. */
static void a_price_is_no_limit(void **state)
{
    (void)state;
    struct powerplan_view view = {.is_shared = true,
                                  .watts = 265,
                                  .limit_w = 500,
                                  .soft_w = 400,
                                  .soft_price_per_kwh = 0.15,
                                  .is_binding = true,
                                  .is_soft = true};
    assert_string_equal(now_of(view), "265 of 500 W; more is wanted, but above the soft limit of "
                                      "400 W a kWh costs 0.150 EUR more: what can wait is dimmed");
    view.watts = 400.3;
    assert_non_null(strstr(now_of(view), "400 of 500 W; more is wanted"));
    view.watts = 430;
    assert_string_equal(now_of(view), "430 of 500 W; needed for a target although above the soft "
                                      "limit of 400 W a kWh costs 0.150 EUR more");
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
        cmocka_unit_test(a_price_is_no_limit),
        cmocka_unit_test(what_the_limit_means_for_the_lamps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
