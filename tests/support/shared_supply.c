/* SPDX-License-Identifier: Apache-2.0 */
#include "shared_supply.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static const char head[] =
    "site = { name = \"invented room\"; utc_offset = \"+01:00\"; price_per_kwh = 0.16;\n"
    "  tariff = { rules = ( { from = \"22:00\"; to = \"06:00\"; price_per_kwh = 0.10; },\n"
    "                       { from = \"16:00\"; to = \"20:00\"; price_per_kwh = 0.28; } ); };\n"
    "  power = { %s }; };\n"
    "buses = ( { name = \"room\"; driver = \"bench\"; layout = \"1,1,1\"; } );\n"
    "stages = (\n"
    "  { name = \"head\"; days = 0; lights_on = \"04:00\"; day_length_h = 18.0; target_mol = 14.0; "
    "},\n"
    "  { name = \"leaf\"; days = 0; lights_on = \"05:00\"; day_length_h = 16.0; target_mol = 9.0; "
    "},\n"
    "  { name = \"long\"; days = 0; lights_on = \"04:00\"; day_length_h = 18.0; target_mol = 12.0; "
    "});\n";

struct part {
    const char *name, *stage;
    double full_w, full_umol;
};

static const struct part parts[] = {{"lettuce", "head", 300, 420},
                                    {"basil", "leaf", 200, 300},
                                    {"chrysanthemum", "long", 250, 400}};

static void add(char *text, size_t size, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static void add(char *text, size_t size, const char *format, ...)
{
    const size_t used = strlen(text);
    va_list words;
    va_start(words, format);
    (void)vsnprintf(text + used, size - used, format, words);
    va_end(words);
}

static void add_fixture(char *text, size_t size, int i)
{
    const struct part *part = &parts[i];
    add(text, size,
        "%s{ name = \"%s_lamp\"; dim = \"dim_%d\"; switch = \"contact_%d\"; ppfd_full = %.1f;\n"
        "  heat_sensors = [ \"heat_%d\" ]; power_sensor = \"watts_%d\";\n"
        "  curve = ( { drive = 0.0; level = 0.0; watts = 0.0; },\n",
        i ? "," : "", part->name, i, i, part->full_umol, i, i);
    for (int k = 1; k <= 10; k++) {
        const double u = k / 10.0;
        add(text, size, "%s{ drive = %.2f; level = %.2f; watts = %.3f; }", k > 1 ? "," : "", u, u,
            part->full_w * (0.02 + 0.83 * u + 0.15 * u * u));
    }
    add(text, size, " ); }\n");
}

struct config *shared_supply(const char *power, bool daylight)
{
    static char text[16384];
    const size_t size = sizeof text;
    (void)snprintf(text, size, head, power);
    add(text, size, "sensors = (");
    for (int i = 0; i < 3; i++) {
        add(text, size,
            "%s{ name = \"par_%d\"; bus = \"room\"; kind = \"ppfd\"; unit = %d; },\n"
            "{ name = \"heat_%d\"; bus = \"room\"; kind = \"temperature\"; unit = %d; },\n"
            "{ name = \"watts_%d\"; bus = \"room\"; kind = \"power\"; unit = %d; }\n",
            i ? "," : "", i, i, i, i, i, i);
    }
    add(text, size, "); outputs = (");
    for (int i = 0; i < 3; i++) {
        add(text, size,
            "%s{ name = \"dim_%d\"; bus = \"room\"; kind = \"dim\"; unit = %d; },\n"
            "{ name = \"contact_%d\"; bus = \"room\"; kind = \"switch\"; unit = %d; }\n",
            i ? "," : "", i, i, i, i);
    }
    add(text, size, "); fixtures = (");
    for (int i = 0; i < 3; i++) {
        add_fixture(text, size, i);
    }
    add(text, size, "); spaces = (");
    for (int i = 0; i < 3; i++) {
        add(text, size,
            "%s{ name = \"%s\"; fixtures = [ \"%s_lamp\" ]; ppfd_sensors = [ \"par_%d\" ];\n"
            "stages = [ \"%s\" ]; start = \"2026-11-02\"; sees_daylight = %s; }\n",
            i ? "," : "", parts[i].name, parts[i].name, i, parts[i].stage,
            daylight && i == 2 ? "true" : "false");
    }
    add(text, size, ");");
    struct config *config = NULL;
    struct config_report report;
    if (config_load_text("shared", text, strlen(text), &config, &report) != 0) {
        fail_msg("%s", report.text);
    }
    config_report_free(&report);
    return config;
}

double shared_supply_w(const struct space_rules *rules, const struct space_state *state)
{
    double sum = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        if (state->fixtures[i].switching.phase != SWITCHING_OPEN) {
            sum += dimcurve_watts(&rules->fixtures[i].curve, state->fixtures[i].drive);
        }
    }
    return sum;
}
