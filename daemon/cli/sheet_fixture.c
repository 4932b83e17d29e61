/* SPDX-License-Identifier: Apache-2.0 */
/* One fixture of the sheet: what it hangs on, how it dims, what holds it back. */
#include "sheet_parts.h"

#include "parse.h"
#include "sweep_plot.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define DROOP_SEEN 0.001 /* of the light: less is nothing that was measured, as the sweep says */

double sheet_full_w(const struct fixture_rules *rules)
{
    return rules->curve.points[rules->curve.count - 1].watts;
}

/* "dim_a on line1 (modbus-tcp)". */
static void output_words(const struct config *config, int output, char *buffer, size_t size)
{
    const struct config_output *it = &config->outputs[output];
    const struct config_bus *bus = &config->buses[it->bus];
    (void)snprintf(buffer, size, "%s on %s (%s)", it->name, bus->name, bus->driver->name);
}

static void put_outputs(const struct sheet *sheet, struct sheet_page *page,
                        const struct config_fixture *fixture, const struct fixture_rules *rules)
{
    const struct config *config = sheet->config;
    char words[160];
    if (fixture->dim_output >= 0) {
        output_words(config, fixture->dim_output, words, sizeof words);
        sheet_page_fact(page, "Dimming output", "%s", words);
    } else {
        sheet_page_fact(page, "Dimming output", "none: full light whenever the contact is closed");
    }
    if (fixture->switch_output >= 0) {
        output_words(config, fixture->switch_output, words, sizeof words);
        sheet_page_fact(page, "Mains contact", "%s; at least %g s closed, %g s open", words,
                        rules->switching.min_on_s, rules->switching.min_off_s);
    } else {
        sheet_page_fact(page, "Mains contact", "none: dimmed to off");
    }
    words[0] = '\0';
    for (int i = 0; i < fixture->heat_sensor_count; i++) {
        const size_t used = strlen(words);
        (void)snprintf(words + used, sizeof words - used, "%s%s", i > 0 ? ", " : "",
                       config->sensors[fixture->heat_sensors[i]].name);
    }
    sheet_page_fact(page, "Heatsink sensors", "%s", words[0] ? words : "none");
    sheet_page_fact(page, "Watt meter", "%s",
                    fixture->power_sensor < 0 ? "none"
                                              : config->sensors[fixture->power_sensor].name);
}

static void put_date(struct sheet_page *page, const struct config_fixture *fixture)
{
    const struct measured *measured = &fixture->measured;
    char day[16];
    char heat[64] = "";
    if (!fixture->is_commissioned) {
        sheet_page_fact(page, "Commissioned", "not measured: no date in its record");
        return;
    }
    parse_format_date(fixture->commissioned, day, sizeof day);
    if (units_known(fixture->commissioned_c)) {
        (void)snprintf(heat, sizeof heat, ", heatsink %.0f °C", fixture->commissioned_c);
    }
    sheet_page_fact(page, "Commissioned", "%s%s%s%s", day, measured->sensor[0] ? ", light by " : "",
                    measured->sensor, heat);
    if (units_known(measured->heat_low_c) && measured->heat_high_c > measured->heat_low_c) {
        sheet_page_fact(page, "Heatsink meanwhile", "%.0f to %.0f °C", measured->heat_low_c,
                        measured->heat_high_c);
    }
}

static void put_ceiling(struct sheet_page *page, const struct config_fixture *fixture,
                        const struct fixture_rules *rules)
{
    const struct measured *measured = &fixture->measured;
    const double ceiling = rules->ceiling.drive_max;
    if (fixture->dim_output < 0) {
        return;
    }
    if (!(ceiling < 1)) {
        sheet_page_fact(page, "Drive ceiling", "none set; %s",
                        units_known(measured->ceiling_margin) ? "none needed" : "not measured");
        return;
    }
    char found[128] = "by the configuration; not measured";
    if (units_known(measured->ceiling_margin)) {
        int used = snprintf(found, sizeof found, "%.3g points below what held",
                            100 * measured->ceiling_margin);
        if (units_known(measured->ceiling_heat_c)) {
            (void)snprintf(found + used, sizeof found - (size_t)used,
                           ", tripped with the heatsink at %.0f °C", measured->ceiling_heat_c);
        }
    }
    sheet_page_fact(page, "Drive ceiling", "%.3g %% (%s); light there %.3g %% of full",
                    100 * ceiling, found, 100 * dimcurve_level(&rules->curve, ceiling));
}

static void put_fit(struct sheet_page *page, const struct config_fixture *fixture)
{
    const struct measured *measured = &fixture->measured;
    if (fixture->dim_output < 0) {
        return;
    }
    if (units_known(measured->worst_level) && measured->worst_level <= 0) {
        sheet_page_fact(page, "Curve misses readings",
                        "not known: every drive was read once, and made the curve");
    } else if (units_known(measured->worst_level)) {
        char watts[48] = "";
        if (units_known(measured->rms_w)) {
            (void)snprintf(watts, sizeof watts, "; power, rms %.2g W", measured->rms_w);
        }
        sheet_page_fact(page, "Curve misses readings",
                        "by %.2f %% of full light at most, rms %.2f %%%s",
                        100 * measured->worst_level, 100 * measured->rms_level, watts);
    } else {
        sheet_page_fact(page, "Curve misses readings", "not measured");
    }
    if (units_known(measured->saturated_above)) {
        sheet_page_fact(page, "Saturated", "above drive %.0f %%: more gives no more light",
                        100 * measured->saturated_above);
    }
    if (units_known(measured->droop_per_k) || fabs(measured->droop) >= DROOP_SEEN) {
        char per_k[48] = "";
        if (units_known(measured->droop_per_k)) {
            (void)snprintf(per_k, sizeof per_k, ", %.2f %% per K", 100 * measured->droop_per_k);
        }
        sheet_page_fact(page, "Droop when warm", "%.1f %% less light than cold%s",
                        100 * measured->droop, per_k);
    }
}

static void put_light(struct sheet_page *page, const struct config_fixture *fixture,
                      const struct fixture_rules *rules)
{
    const struct dimcurve_point *least = &rules->curve.points[rules->curve.first_lit];
    const double full_w = sheet_full_w(rules);
    char watts[32] = "";
    if (full_w > 0) {
        (void)snprintf(watts, sizeof watts, ", %.1f W", full_w);
    }
    sheet_page_fact(page, "Full light", "%.0f µmol m⁻² s⁻¹ at the canopy%s", rules->full_umol,
                    watts);
    if (fixture->dim_output < 0) {
        return;
    }
    watts[0] = '\0';
    if (full_w > 0) {
        (void)snprintf(watts, sizeof watts, ", %.1f W", least->watts);
    }
    char holds[64] = "";
    if (fixture->measured.holds_drive < least->drive - 1e-6) { /* false where it is not known */
        (void)snprintf(holds, sizeof holds, "; dimmed down, it holds to drive %.1f %%",
                       100 * fixture->measured.holds_drive);
    }
    sheet_page_fact(page, "Lowest level", "%.1f %% at drive %.1f %%: %.1f µmol m⁻² s⁻¹%s%s",
                    100 * least->level, 100 * least->drive, least->level * rules->full_umol, watts,
                    holds);
}

static void put_heat(struct sheet_page *page, const struct heat_rules *heat)
{
    if (!heat->is_watched) {
        sheet_page_fact(page, "Heat limits", "not measured: no sensor on its heatsink");
        return;
    }
    sheet_page_fact(page, "Heat limits",
                    "held down from %g °C, %.0f %% left at %g °C, off at %g °C, lit again below "
                    "%g °C; off too when unknown for %g s",
                    heat->from_c, 100 * heat->low_level, heat->to_c, heat->trip_c, heat->rearm_c,
                    heat->lost_s);
}

static void put_points(struct sheet_page *page, const struct fixture_rules *rules)
{
    static const char *const heads[] = {">drive %", ">light %", ">µmol m⁻² s⁻¹", ">W"};
    const bool has_watts = sheet_full_w(rules) > 0;
    const int columns = has_watts ? 4 : 3;
    sheet_page_table(page, "Points of its curve", columns, heads);
    for (int i = 0; i < rules->curve.count; i++) {
        const struct dimcurve_point *point = &rules->curve.points[i];
        char cells[4][16];
        (void)snprintf(cells[0], sizeof cells[0], "%.1f", 100 * point->drive);
        (void)snprintf(cells[1], sizeof cells[1], "%.1f", 100 * point->level);
        (void)snprintf(cells[2], sizeof cells[2], "%.1f", point->level * rules->full_umol);
        (void)snprintf(cells[3], sizeof cells[3], "%.1f", point->watts);
        sheet_page_row(page, (const char *const[]){cells[0], cells[1], cells[2], cells[3]});
    }
    sheet_page_table_end(page);
}

static void put_picture(struct sheet_page *page, const struct config_fixture *fixture,
                        const struct fixture_rules *rules)
{
    char what[128];
    char day[16] = "";
    if (fixture->is_commissioned) {
        parse_format_date(fixture->commissioned, day, sizeof day);
    }
    const struct sweep_picture picture = {
        .fixture = fixture->name,
        .note = day,
        .curve = &rules->curve,
        .is_narrow = true,
        .full_umol = rules->full_umol,
        .drive_ceiling = rules->ceiling.drive_max,
        .reading_count = fixture->measured.reading_count,
        .readings = fixture->measured.readings,
    };
    (void)snprintf(what, sizeof what, "Dimming curve of %s: light over drive", fixture->name);
    sheet_page_figure(
        page, what,
        picture.reading_count > 0
            ? "Light over drive, and below what each reading differs from the curve by."
            : "Light over drive. No readings are kept: residuals not measured.",
        sweep_picture_draw, &picture);
}

void sheet_put_fixture(const struct sheet *sheet, struct sheet_page *page, int i)
{
    const struct config_fixture *fixture = sheet_fixture(sheet, i);
    const struct fixture_rules *rules = sheet_rules(sheet, i);
    char heading[64];
    (void)snprintf(heading, sizeof heading, "Fixture %s", fixture->name);
    sheet_page_heading(page, heading);
    sheet_page_facts(page);
    put_date(page, fixture);
    put_light(page, fixture, rules);
    put_ceiling(page, fixture, rules);
    put_fit(page, fixture);
    put_heat(page, &rules->heat);
    put_outputs(sheet, page, fixture, rules);
    sheet_page_facts_end(page);
    if (fixture->dim_output >= 0) {
        sheet_page_pair(page);
        put_picture(page, fixture, rules);
        put_points(page, rules);
        sheet_page_pair_end(page);
    }
}
