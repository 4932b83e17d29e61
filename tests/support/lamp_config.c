/* SPDX-License-Identifier: Apache-2.0 */
#include "lamp_config.h"

#include "parse.h"
#include "units.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char form[] =
    "site = { name = \"Test room\"; utc_offset = \"+00:00\"; price_per_kwh = 0.3; };"
    "buses = ( { name = \"bench\"; driver = \"bench\"; every_s = 0.2;"
    "            layout = \"1,1\"; } );"
    "sensors = ( { name = \"par\"; bus = \"bench\"; kind = \"ppfd\"; },"
    "            { name = \"heat\"; bus = \"bench\"; kind = \"temperature\"; },"
    "            { name = \"power\"; bus = \"bench\"; kind = \"power\"; } );"
    "outputs = ( { name = \"dim\"; bus = \"bench\"; kind = \"dim\"; },"
    "            { name = \"contact\"; bus = \"bench\"; kind = \"switch\"; },"
    "            { name = \"other_dim\"; bus = \"bench\"; kind = \"dim\"; unit = 1; },"
    "            { name = \"other_contact\"; bus = \"bench\"; kind = \"switch\"; unit = 1; } );"
    "fixtures = ( { name = \"lamp\"; dim = \"dim\"; switch = \"contact\"; ppfd_full = 420;"
    "               curve = ( { drive = 0; level = 0; watts = 2; },"
    "                         { drive = 0.1; level = 0.1; watts = 31; },"
    "                         { drive = 1; level = 1; watts = 300; } );"
    "               heat_sensors = [ \"heat\" ]; power_sensor = \"power\"; } );"
    "stages = ( { name = \"growing\"; days = 0; lights_on = \"%s\"; day_length_h = %.3f;"
    "             target_mol = %.3f; protect_night = true; dawn_min = 0; dusk_min = 0; } );"
    "spaces = ( { name = \"basil\"; fixtures = [ \"lamp\" ]; ppfd_sensors = [ \"par\" ];"
    "             stages = [ \"growing\" ]; start = \"%s\"; } );"
    "limits = { switching = { min_on_s = 1; min_off_s = 1; settle_s = 0.5; }; };"
    "clock = { trust_held_over = true; };"
    "journal = { path = \"\"; };\n";

struct config *lamp_config(int64_t wall_s, int32_t on_s, double length_h, double target_mol)
{
    char text[sizeof form + 128];
    char on[16];
    char start[16];
    struct config *config = NULL;
    struct config_report report = {0};
    parse_format_time_of_day(on_s / 60 * 60, on, sizeof on);
    parse_format_date(wall_s / UNITS_S_PER_DAY - 2, start, sizeof start);
    (void)snprintf(text, sizeof text, form, on, length_h, target_mol, start);
    if (config_load_text("lamp", text, strlen(text), &config, &report) < 0) {
        fprintf(stderr, "%s\n", report.text);
        abort();
    }
    config_report_free(&report);
    return config;
}
