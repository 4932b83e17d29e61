/* SPDX-License-Identifier: Apache-2.0 */
/* The supply that all lamps share: from keys to the limit, and what is said of it beside the lamps.
 */
#include "config.h"

#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

/* Two shelves with a lamp each of 12 … 100 W. */
static const char shelves[] =
    "site = { utc_offset = \"+01:00\"; %s };\n"
    "buses = ( { name = \"room\"; driver = \"bench\"; layout = \"1,1\"; } );\n"
    "sensors = ( { name = \"heat\"; bus = \"room\"; kind = \"temperature\"; } );\n"
    "outputs = ( { name = \"dim_1\"; bus = \"room\"; kind = \"dim\"; unit = 0; },\n"
    "            { name = \"contact_1\"; bus = \"room\"; kind = \"switch\"; unit = 0; },\n"
    "            { name = \"dim_2\"; bus = \"room\"; kind = \"dim\"; unit = 1; },\n"
    "            { name = \"contact_2\"; bus = \"room\"; kind = \"switch\"; unit = 1; } );\n"
    "fixtures = (\n"
    "  { name = \"lamp_1\"; dim = \"dim_1\"; switch = \"contact_1\"; ppfd_full = 420.0;\n"
    "    heat_sensors = [ \"heat\" ];\n"
    "    curve = ( { drive = 0.1; level = 0.1; watts = 12.0; },\n"
    "              { drive = 1.0; level = 1.0; watts = 100.0; } ); },\n"
    "  { name = \"lamp_2\"; dim = \"dim_2\"; switch = \"contact_2\"; ppfd_full = 420.0;\n"
    "    heat_sensors = [ \"heat\" ];\n"
    "    curve = ( { drive = 0.1; level = 0.1; watts = 12.0; },\n"
    "              { drive = 1.0; level = 1.0; watts = 100.0; } ); } );\n"
    "stages = ( { name = \"growing\"; days = 0; lights_on = \"06:00\"; day_length_h = 16.0;\n"
    "             target_mol = 12.0; } );\n"
    "spaces = ( { name = \"upper\"; fixtures = [ \"lamp_1\" ]; stages = [ \"growing\" ];\n"
    "             start = \"2026-11-02\"; },\n"
    "           { name = \"lower\"; fixtures = [ \"lamp_2\" ]; stages = [ \"growing\" ];\n"
    "             start = \"2026-11-02\"; sees_daylight = %s; } );\n";

static const char *sees_daylight = "false"; /* of the lower one */

static struct power_limit load(const char *power, const char *says)
{
    char text[4096];
    struct config *config = NULL;
    struct config_report report;
    (void)snprintf(text, sizeof text, shelves, power, sees_daylight);
    const int r = config_load_text("FILE", text, strlen(text), &config, &report);
    if (r != 0 || (says && !strstr(report.text, says)) ||
        (!says && strstr(report.text, "site.power"))) {
        fail_msg("%d: %s", r, report.text);
    }
    const struct power_limit limit = config->site.power;
    config_report_free(&report);
    config_free(config);
    return limit;
}

static void without_keys_there_is_no_limit(void **state)
{
    (void)state;
    const struct power_limit limit = load("", NULL);
    assert_true(isinf(limit.hard_w) && isinf(limit.soft_w));
}

static void keys_become_the_limit(void **state)
{
    (void)state;
    const struct power_limit limit =
        load("power = { limit_w = 150; soft_limit_w = 120.5; soft_price_per_kwh = 0.15; };", NULL);
    assert_near(limit.hard_w, 150, 0);
    assert_near(limit.soft_w, 120.5, 0);
    assert_near(limit.soft_price_per_kwh, 0.15, 0);
    assert_near(power_limit_w(&limit, 0), 120.5, 0);
    assert_near(power_limit_w(&limit, 0.15), 150, 0);
}

static void it_is_told_what_the_lamps_make_of_it(void **state)
{
    (void)state;
    (void)load("power = { limit_w = 200.0; };",
               "site.power.limit_w: 200 W has no effect: all lamps at full light draw 200 W");
    (void)load("power = { limit_w = 20.0; };",
               "site.power.limit_w: 20 W, but all spaces at their lowest level draw 24 W: they "
               "cannot be lit at the same time");
    (void)load("power = { limit_w = 10.0; };",
               "site.power.limit_w: 10 W, but space lower draws 12 W at its lowest level: not all "
               "of its lamps can be lit");
    /* 12 mol in 15.5 h of 420 µmol are half of the light: 2 × 0.79 kWh in 16 h, so 99 W. */
    (void)load("power = { limit_w = 90.0; };",
               "site.power.limit_w: the targets of all spaces take 1.6 kWh a day at the least, but "
               "90 W are 1.4 kWh in the 16.0 h of light");
    (void)load("power = { limit_w = 110.0; };", NULL);
    (void)load("power = { soft_limit_w = 300.0; soft_price_per_kwh = 0.1; };",
               "site.power.soft_limit_w: 300 W has no effect");
}

/* The same 1.6 kWh, but the half of it only without a sun. */
static void a_dark_day_is_told(void **state)
{
    (void)state;
    sees_daylight = "true";
    (void)load("latitude = 52.0; longitude = 7.0; power = { limit_w = 90.0; };",
               "site.power.limit_w: the targets of all spaces take 1.6 kWh a day at the least when "
               "the sun stays away, but 90 W are 1.4 kWh in the 16.0 h of light");
    (void)load("latitude = 52.0; longitude = 7.0; power = { limit_w = 110.0; };", NULL);
    sees_daylight = "false";
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_keys_there_is_no_limit),
        cmocka_unit_test(keys_become_the_limit),
        cmocka_unit_test(it_is_told_what_the_lamps_make_of_it),
        cmocka_unit_test(a_dark_day_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
