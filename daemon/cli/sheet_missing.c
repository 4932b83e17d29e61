/* SPDX-License-Identifier: Apache-2.0 */
/* What is not known yet, said plainly, with what would tell it. */
#include "sheet_parts.h"

#include "units.h"

#include <stdarg.h>

__attribute__((format(printf, 2, 3))) static void miss(struct sheet *sheet, const char *format, ...)
{
    if (sheet->missing_count == SHEET_MISSING) {
        return;
    }
    char *text = sheet->missing[sheet->missing_count++];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof sheet->missing[0], format, args);
    va_end(args);
}

static void miss_of_fixture(struct sheet *sheet, int i)
{
    const struct config_fixture *fixture = sheet_fixture(sheet, i);
    const struct fixture_rules *rules = sheet_rules(sheet, i);
    const struct measured *measured = &fixture->measured;
    const char *name = fixture->name;
    const bool is_dimmed = fixture->dim_output >= 0;
    if (!fixture->is_commissioned) {
        miss(sheet, "%s: when its light was measured; ageing is not followed without a date", name);
    }
    if (is_dimmed && !units_known(measured->worst_level)) {
        miss(sheet,
             "%s: its dimming curve (lampwarden sweep %s %s); the configuration's own is "
             "shown",
             name, sheet->space->name, name);
    } else if (is_dimmed && measured->reading_count == 0) {
        miss(sheet, "%s: residuals of its dimming curve: its record keeps no readings", name);
    }
    if (is_dimmed && !units_known(measured->ceiling_margin)) {
        miss(sheet,
             "%s: the drive at which its LED driver trips, and the temperature then "
             "(lampwarden sweep --ceiling)",
             name);
    }
    if (!(sheet_full_w(rules) > 0)) {
        miss(sheet, "%s: its power at the wall", name);
    }
    if (fixture->heat_sensor_count == 0) {
        miss(sheet, "%s: the temperature of its heatsink: no sensor, no foldback", name);
    }
}

void sheet_find_missing(struct sheet *sheet)
{
    for (int i = 0; i < sheet->space->rules.fixture_count; i++) {
        miss_of_fixture(sheet, i);
    }
    if (sheet->map_count == 0) {
        miss(sheet, "hanging height, evenness and the sensor's best spot: no light map "
                    "(lampwarden survey)");
    } else if (sheet->hung < 0) {
        miss(sheet, "at which of the heights it hangs (--height)");
    }
    if (sheet->space->ppfd_sensor_count == 0) {
        miss(sheet, "the light itself: the space has no light sensor");
    }
    if (sheet->has_power && !units_known(sheet->power.ppf_umol_s)) {
        miss(sheet, "photons that leave the fixtures (--ppf, from their sheet)");
    }
    if (!sheet->has_power || !sheet->power.has_mains) {
        miss(sheet, "supply voltage and power factor");
    }
    if (!sheet_has_price(&sheet->config->site)) {
        miss(sheet, "the price of energy, and what the light costs");
    }
    if (!sheet->has_breaker || sheet->bears.by_inrush < 0) {
        miss(sheet, "what the circuit breaker bears of the LED drivers' inrush");
    }
    if (!sheet->has_lead) {
        miss(sheet, "the DC leads, where LED drivers hang apart from their boards");
    }
}
