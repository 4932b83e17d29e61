/* SPDX-License-Identifier: Apache-2.0 */
/* What `lampwarden plan` prints of an answer that is made by the test. */
#include "client.h"
#include "printed.h"
#include "verb.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static json_t *answer;

int client_ask(const char *socket_path, const char *method, json_t *params, json_t **ret_result,
               struct err *err)
{
    (void)socket_path;
    (void)err;
    assert_string_equal(method, "plan");
    if (params) {
        assert_string_equal(json_string_value(json_object_get(params, "space")), "shelf");
        json_decref(params);
        *ret_result = json_incref(answer);
    } else {
        *ret_result = json_copy(answer); /* the names alone */
        json_object_set_new(*ret_result, "spaces", json_array());
    }
    return 0;
}

/* Takes over the space. */
static void print_plan(json_t *space)
{
    answer = json_pack("{s:s, s:s, s:s, s:b, s:[s], s:[o]}", "site", "Room", "time",
                       "2026-11-25T09:14:05+01:00", "clock", "synchronised", "is_ready", 1, "names",
                       "shelf", "spaces", space);
    assert_non_null(answer);
    printed_run(&verb_plan);
    json_decref(answer);
}

static void assert_lacks(const char *words)
{
    if (strstr(printed_text(), words)) {
        fail_msg("\"%s\" in:\n%s", words, printed_text());
    }
}

/* One hour of the day that begins at `from`. */
static json_t *hour(int from, double level, double price, const char *limiter, const char *words)
{
    char at[2][32];
    for (int i = 0; i < 2; i++) {
        (void)snprintf(at[i], sizeof at[i], "2026-11-25T%02d:00:00+01:00", (from + i) % 24);
    }
    return json_pack("{s:s, s:s, s:i, s:f, s:f, s:f, s:f, s:f, s:s, s:s}", "from", at[0], "to",
                     at[1], "length_s", 3600, "level", level, "lamp_mol", level, "daylight_mol",
                     0.0, "price_per_kwh", price, "cost", level * price, "limiter", limiter,
                     "words", words);
}

static json_t *space_of(json_t *hours)
{
    return json_pack("{s:s, s:s, s:s, s:i, s:i, s:s, s:b, s:f, s:f, s:f, s:f, s:s, s:f, s:f, s:f, "
                     "s:o, s:n}",
                     "space", "shelf", "state", "on at 50 % by plan", "stage", "leaf", "stage_day",
                     3, "stage_days", 14, "light_day", "2026-11-25", "is_tomorrow", 0, "target_mol",
                     13.0, "delivered_mol", 1.5, "to_come_mol", 11.5, "expected_mol", 13.0,
                     "currency", "EUR", "lamp_mol", 1.5, "daylight_mol", 0.0, "cost", 0.3, "hours",
                     hours, "clearness");
}

static void hours_that_say_the_same_are_one_line(void **state)
{
    (void)state;
    print_plan(space_of(json_pack(
        "[o, o, o, o, o]", hour(19, 0.5, 0.2, "plan", "usual price"),
        hour(20, 0.5, 0.2, "plan", "usual price"), hour(21, 0.5, 0.3, "plan", "usual price"),
        hour(22, 0, 0.3, "night", "night"), hour(23, 0, 0.1, "night", "night"))));
    printed_has("Room, 2026-11-25 09:14:05; clock synchronised\n\n"
                "shelf: on at 50 % by plan\n"
                "  stage      leaf, day 3 of 14; light day 2026-11-25\n"
                "  DLI        1.50 of 13.00 mol so far, 11.50 to come: 13.00 mol expected\n"
                "  hour         level  lamp mol  EUR/kWh     EUR  why\n"
                "  19:00-21:00   50 %      1.00    0.200    0.20  usual price\n"
                "  21:00-22:00   50 %      0.50    0.300    0.15  usual price\n"
                "  22:00-24:00    0 %      0.00                   night\n"
                "  together                1.50             0.30\n");
    assert_lacks("sun");
    assert_lacks("sky");
    assert_lacks("Yesterday");
    assert_lacks("short");
}

static void a_sun_has_a_column(void **state)
{
    (void)state;
    json_t *bright = hour(9, 0, 0.2, "plan", "daylight suffices");
    json_object_set_new(bright, "daylight_mol", json_real(1.25));
    json_t *space = space_of(json_pack("[o, O]", bright, bright));
    json_object_set_new(space, "clearness", json_real(0.55));
    json_object_set_new(space, "skies_cost", json_real(0.34));
    json_object_set_new(space, "dark_sky_cost", json_real(0.611));
    json_object_set_new(space, "bright_sky_cost", json_real(0.0));
    print_plan(space);
    printed_has("  sky        expected to give 55 % of what a clear one would\n");
    printed_has("  hour         level  lamp mol   sun mol  EUR/kWh     EUR  why\n"
                "  09:00-10:00    0 %      0.00      1.25    0.200    0.00  daylight suffices\n"
                "  09:00-10:00    0 %      0.00      1.25"); /* sunny hours are not joined */
    printed_has("  Under the mean sky 0.30 EUR; in the mean of all skies 0.34, dark 0.61, bright "
                "0.00.\n");
}

static void prices_that_stand_in_are_marked(void **state)
{
    (void)state;
    json_t *made_up = hour(10, 0.5, 0.3, "plan", "usual price");
    json_object_set_new(made_up, "price_stands_in", json_true());
    print_plan(space_of(json_pack("[o, o]", hour(9, 0.5, 0.3, "plan", "usual price"), made_up)));
    printed_has("  09:00-10:00   50 %      0.50    0.300    0.15  usual price\n"
                "  10:00-11:00   50 %      0.50    0.300*   0.15  usual price\n");
    printed_has("\n  * the file of prices has none: ");
}

/* Rows of a minute beside a full hour are no rows; midnight parts the days. */
static void a_light_day_over_midnight(void **state)
{
    (void)state;
    json_t *sliver = hour(23, 0, 0.3, "rest", "minimum off time of the switch");
    json_object_set_new(sliver, "length_s", json_integer(60));
    json_t *late = hour(0, 0.5, 0.3, "plan", "usual price");
    json_object_set_new(late, "from", json_string("2026-11-26T00:00:00+01:00"));
    print_plan(
        space_of(json_pack("[o, o, o]", hour(22, 0.5, 0.3, "plan", "usual price"), sliver, late)));
    printed_has("  22:00-24:00   49 %      0.50    0.300    0.15  usual price\n"
                "  next day\n"
                "  00:00-01:00   50 %      0.50    0.300    0.15  usual price\n");
}

static void without_prices_no_cost(void **state)
{
    (void)state;
    json_t *space = space_of(json_pack("[o]", hour(9, 0.5, 0, "plan", "one level")));
    json_object_set_new(space, "even_cost", json_null());
    print_plan(space);
    printed_has("  hour         level  lamp mol  why\n"
                "  09:00-10:00   50 %      0.50  one level\n");
    assert_lacks("EUR");
}

static void what_one_level_would_cost(void **state)
{
    (void)state;
    json_t *space = space_of(json_pack("[o]", hour(9, 0.5, 0.3, "plan", "usual price")));
    json_object_set_new(space, "even_cost", json_real(0.42));
    json_object_set_new(space, "even_mol", json_real(13.02));
    print_plan(space);
    printed_has("  The same 13.0 mol at one level would cost 0.42 EUR, this plan 0.30.\n");
    space = space_of(json_pack("[o]", hour(9, 0.5, 0.3, "plan", "usual price")));
    json_object_set_new(space, "even_cost", json_real(0.301));
    print_plan(space);
    assert_lacks("one level");
}

static void a_day_that_will_be_short(void **state)
{
    (void)state;
    json_t *space = space_of(json_pack("[o]", hour(9, 1, 0.3, "full-light", "all there is")));
    json_object_set_new(space, "expected_mol", json_real(11.0));
    json_object_set_new(space, "missing_mol", json_pack("{s:f}", "heat", 1.9));
    json_object_set_new(space, "out_of_reach", json_string("13.0 mol asked, 11.0 reachable: …"));
    print_plan(space);
    printed_has(": 11.00 mol expected, 2.00 short; out of reach: 1.90 mol by heat foldback\n"
                "  short      13.0 mol asked, 11.0 reachable: …\n");
}

static void tomorrow_has_nothing_so_far(void **state)
{
    (void)state;
    json_t *space = space_of(json_pack("[o]", hour(9, 0.5, 0.3, "plan", "usual price")));
    json_object_set_new(space, "is_tomorrow", json_true());
    print_plan(space);
    printed_has("; tomorrow, light day 2026-11-25\n");
    printed_has("  DLI        target 13.00 mol, 13.00 mol expected\n");
    assert_lacks("so far");
}

static void without_light_the_state_says_why(void **state)
{
    (void)state;
    print_plan(json_pack("{s:s, s:s, s:[], s:n, s:n}", "space", "shelf", "state",
                         "dark: the first stage begins in 3 days", "hours", "light_day",
                         "last_day"));
    assert_string_equal(strchr(printed_text(), '\n') + 2,
                        "shelf: dark: the first stage begins in 3 days\n");
}

static void the_last_day_beside_the_cheapest(void **state)
{
    (void)state;
    json_t *day = json_pack("{s:s, s:b, s:f, s:f, s:f}", "light_day", "2026-11-24", "is_yesterday",
                            1, "target_mol", 13.0, "delivered_mol", 13.02, "cost", 1.9);
    json_t *space = json_pack("{s:s, s:s, s:[], s:s, s:O}", "space", "shelf", "state", "dark",
                              "hours", "currency", "EUR", "last_day", day);
    print_plan(json_incref(space));
    printed_has("  Yesterday: 13.02 of 13.00 mol; cost 1.90 EUR.\n");
    json_object_set_new(day, "lamp_cost", json_real(1.84));
    json_object_set_new(day, "bound_cost", json_real(1.79));
    json_object_set_new(day, "even_cost", json_real(2.01));
    print_plan(json_incref(space));
    printed_has("  Yesterday: 13.02 of 13.00 mol; lamp light cost 1.84 EUR, the cheapest possible "
                "in hindsight 1.79 (1.03 x), one level 2.01.\n");
    json_object_set_new(day, "missing_mol", json_real(1));
    print_plan(json_incref(space));
    printed_has("mol; lamp light cost 1.84 EUR, what was possible of the target 1.79 at least.\n");
    json_object_set_new(day, "missing_mol", json_real(0));
    json_object_set_new(day, "is_yesterday", json_false());
    json_object_set_new(day, "bound_cost", json_real(0));
    json_object_set_new(day, "even_cost", json_null());
    print_plan(json_incref(space));
    printed_has("  On 2026-11-24: 13.02 of 13.00 mol; lamp light cost 1.84 EUR, the cheapest "
                "possible in hindsight 0.00.\n");
    json_decref(space);
    json_decref(day);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(hours_that_say_the_same_are_one_line),
        cmocka_unit_test(a_sun_has_a_column),
        cmocka_unit_test(prices_that_stand_in_are_marked),
        cmocka_unit_test(a_light_day_over_midnight),
        cmocka_unit_test(without_prices_no_cost),
        cmocka_unit_test(what_one_level_would_cost),
        cmocka_unit_test(a_day_that_will_be_short),
        cmocka_unit_test(tomorrow_has_nothing_so_far),
        cmocka_unit_test(without_light_the_state_says_why),
        cmocka_unit_test(the_last_day_beside_the_cheapest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
