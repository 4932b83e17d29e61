/* SPDX-License-Identifier: Apache-2.0 */
/* What `lampwarden status` prints of an answer that is made by the test. */
#include "client.h"
#include "printed.h"
#include "verb.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static json_t *answer;

int client_ask(const char *socket_path, const char *method, json_t *params, json_t **ret_result,
               struct err *err)
{
    (void)socket_path;
    (void)method;
    (void)err;
    json_decref(params);
    *ret_result = json_incref(answer);
    return 0;
}

static json_t *one_fixture(bool is_known, json_t *measured_watts)
{
    return json_pack("{s:s, s:f, s:b, s:f, s:o, s:b, s:s}", "fixture", "bar", "level", 0.0,
                     "closed", 0, "watts", 0.0, "measured_watts", measured_watts, "switch_is_known",
                     (int)is_known, "limiter", "output-fault");
}

/* Dark, with one fixture; the reading of the light is lost unless is_measured. */
static void show(bool is_measured, bool is_known, json_t *measured_watts)
{
    answer = json_pack("{s:b, s:[{s:s, s:s, s:f, s:f, s:b, s:f, s:f, s:f, s:[o]}]}", "is_ready", 1,
                       "spaces", "space", "shelf", "state", "dark", "ppfd_umol", 0.0, "lamp_umol",
                       0.0, "light_is_measured", (int)is_measured, "full_umol", 420.0, "watts", 0.0,
                       "energy_kwh", 1.5, "fixtures", one_fixture(is_known, measured_watts));
    assert_non_null(answer);
    printed_run(&verb_status);
    json_decref(answer);
}

static void an_open_switch_that_is_known(void **state)
{
    (void)state;
    show(true, true, json_null());
    printed_has("  light      0 µmol m⁻² s⁻¹ measured; lamps at full give 420 µmol m⁻² s⁻¹\n");
    printed_has("  power      0 W now, today 1.50 kWh\n");
    printed_has("  fixture    bar                switch open, 0 W, an output that did not obey\n");
}

static void a_shared_supply_has_a_line(void **state)
{
    (void)state;
    answer = json_pack("{s:b, s:{s:s}, s:[]}", "is_ready", 1, "power", "words", "412 of 600 W",
                       "spaces");
    assert_non_null(answer);
    printed_run(&verb_status);
    json_decref(answer);
    printed_has("\npower 412 of 600 W\n");
}

static void a_lost_reading_is_one_phrase(void **state)
{
    (void)state;
    show(false, true, json_null());
    printed_has("  light      no good reading, lamps estimated at 0 µmol m⁻² s⁻¹; lamps at full");
}

static void an_unconfirmed_switch_promises_nothing(void **state)
{
    (void)state;
    show(false, false, json_null());
    printed_has("  light      no good reading, and not every switch is known; lamps at full");
    printed_has("  power      not known now, today 1.50 kWh\n");
    printed_has("  fixture    bar                switch unconfirmed, may be lit, an output that "
                "did not obey\n");
}

static void a_meter_knows(void **state)
{
    (void)state;
    show(true, false, json_real(0));
    printed_has("  power      0 W now, today 1.50 kWh\n");
    printed_has(
        "  fixture    bar                switch unconfirmed, 0 W, an output that did not obey\n");
}

/* The light line alone, under a forecast and what the lamps cannot make up. */
static void show_day(double forecast_mol, double not_running_mol, double heat_mol)
{
    answer = json_pack("{s:s, s:s, s:b, s:[{s:s, s:s, s:f, s:f, s:f, s:{s:f, s:f}}]}", "time",
                       "2026-11-25T00:47:54+01:00", "clock", "synchronised", "is_ready", 1,
                       "spaces", "space", "shelf", "state", "dark", "delivered_mol", 4.0,
                       "target_mol", 17.0, "forecast_mol", forecast_mol, "missing_mol",
                       "not-running", not_running_mol, "heat", heat_mol);
    assert_non_null(answer);
    printed_run(&verb_status);
    json_decref(answer);
}

static void a_day_that_is_met_lacks_nothing(void **state)
{
    (void)state;
    show_day(17.03, 8.98, 0);
    printed_has("  DLI        4.00 of 17.00 mol so far, on course for 17.03 mol\n");
    show_day(16.997, 8.98, 0);
    printed_has("mol so far, on course for 17.00 mol\n");
    show_day(9.1, 7.9, 0.003);
    printed_has(
        "on course for 9.10 mol, 7.90 short; out of reach: 7.90 mol by lamp control not running\n");
    show_day(9.1, 0.004, 7.896);
    printed_has("on course for 9.10 mol, 7.90 short; out of reach: 7.90 mol by heat foldback\n");
}

static void a_site_without_a_name(void **state)
{
    (void)state;
    show_day(17, 0, 0);
    assert_int_equal(strncmp(printed_text(), "2026-11-25 00:47:54; clock synchronised;", 40), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_open_switch_that_is_known),
        cmocka_unit_test(a_shared_supply_has_a_line),
        cmocka_unit_test(a_lost_reading_is_one_phrase),
        cmocka_unit_test(an_unconfirmed_switch_promises_nothing),
        cmocka_unit_test(a_meter_knows),
        cmocka_unit_test(a_day_that_is_met_lacks_nothing),
        cmocka_unit_test(a_site_without_a_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
