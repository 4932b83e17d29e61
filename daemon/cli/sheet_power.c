/* SPDX-License-Identifier: Apache-2.0 */
/* Watts, money and what hangs on the mains. */
#include "sheet_parts.h"

#include "units.h"

#include <math.h>

#define LEVELS_STEP 10 /* per cent */

/* Tenths of full light, and the lowest level of all. */
static bool is_shown(const struct power_report *report, int i)
{
    const double steps = 100 * report->rows[i].level / LEVELS_STEP;
    return i == 0 || fabs(steps - round(steps)) < 1e-6;
}

static void put_levels(const struct power_report *report, struct sheet_page *page)
{
    const char *heads[SHEET_PAGE_COLUMNS] = {">level %", ">W"};
    const bool has_lamp = units_known(report->ppf_umol_s);
    const bool has_canopy = units_known(report->canopy_umol_s);
    int columns = 2;
    if (has_lamp) {
        heads[columns++] = ">lamp µmol/J";
    }
    if (has_canopy) {
        heads[columns++] = ">canopy µmol/J";
    }
    if (report->has_mains) {
        heads[columns++] = ">A";
        heads[columns++] = ">VA";
    }
    heads[columns++] = ">heat BTU/h";
    sheet_page_table(page, "Power by level, all fixtures together", columns, heads);
    for (int i = 0; i < report->row_count; i++) {
        const struct efficacy_row *row = &report->rows[i];
        const double watts = row->watts;
        const char *shown[SHEET_PAGE_COLUMNS];
        char cells[SHEET_PAGE_COLUMNS][24];
        int n = 0;
        if (!is_shown(report, i)) {
            continue;
        }
        (void)snprintf(cells[n++], 24, "%.1f", 100 * row->level);
        (void)snprintf(cells[n++], 24, "%.1f", watts);
        if (has_lamp) {
            (void)snprintf(cells[n++], 24, "%.3f", power_umol_per_j(row, report->ppf_umol_s));
        }
        if (has_canopy) {
            (void)snprintf(cells[n++], 24, "%.3f", power_umol_per_j(row, report->canopy_umol_s));
        }
        if (report->has_mains) {
            (void)snprintf(cells[n++], 24, "%.3f", mains_a(&report->mains, watts));
            (void)snprintf(cells[n++], 24, "%.0f", mains_va(&report->mains, watts));
        }
        (void)snprintf(cells[n++], 24, "%.0f", mains_btu_per_h(watts));
        for (int c = 0; c < n; c++) {
            shown[c] = cells[c];
        }
        sheet_page_row(page, shown);
    }
    sheet_page_table_end(page);
}

/* The mean day of a year at one level. */
static void put_stages(const struct power_report *report, struct sheet_page *page)
{
    const char *currency = report->config->site.currency;
    const struct config_site *site = &report->config->site;
    const bool is_flat = tariff_is_flat(&site->tariff);
    char a_day[24];
    char a_mol[24];
    (void)snprintf(a_day, sizeof a_day, ">%s/day", currency);
    (void)snprintf(a_mol, sizeof a_mol, ">%s/mol", currency);
    const char *const heads[] = {"stage",    ">mol/day", ">h",  ">level %",
                                 ">kWh/day", a_day,      a_mol, ">at best"};
    sheet_page_table(page,
                     is_flat
                         ? "What a stage takes at one level, mean of the year, a mol over each m²"
                         : "What a stage takes at one level (at best: a day in the cheapest "
                           "hours), mean of the year, a mol over each m²",
                     !sheet_has_price(site) ? 5
                     : is_flat              ? 7
                                            : 8,
                     heads);
    for (int i = 0; i < report->stage_count; i++) {
        const struct power_stage *stage = &report->stages[i];
        const struct stagecost *year = &stage->year;
        char cells[7][24];
        (void)snprintf(cells[0], 24, "%.4g%s", stage->stage->target_mol,
                       year->is_met ? "" : " (short)");
        (void)snprintf(cells[1], 24, "%.4g", stage->stage->window.length_s / 3600.0);
        (void)snprintf(cells[2], 24, "%.1f", 100 * stage->day.level);
        (void)snprintf(cells[3], 24, "%.3f", year->even.kwh / POWER_YEAR_DAYS);
        (void)snprintf(cells[4], 24, "%.3f", year->even.cost / POWER_YEAR_DAYS);
        (void)snprintf(cells[5], 24, "%.4f", power_mol_of(report, stage).per_m2);
        (void)snprintf(cells[6], 24, "%.3f", year->planned.cost / POWER_YEAR_DAYS);
        sheet_page_row(page, (const char *const[]){stage->stage->name, cells[0], cells[1], cells[2],
                                                   cells[3], cells[4], cells[5], cells[6]});
    }
    sheet_page_table_end(page);
}

static void put_tariff(const struct sheet *sheet, struct sheet_page *page)
{
    const struct config_site *site = &sheet->config->site;
    if (!sheet_has_price(site)) {
        sheet_page_fact(page, "Price", "not said (price_per_kwh of the site)");
    } else if (tariff_is_flat(&site->tariff)) {
        sheet_page_fact(page, "Price", "%.4g %s per kWh", site->tariff.price_per_kwh,
                        site->currency);
    } else {
        sheet_page_fact(page, "Price", "by the site's tariff: %d rule%s%s, else %.4g %s per kWh",
                        site->tariff.rule_count, site->tariff.rule_count == 1 ? "" : "s",
                        site->tariff.series_count > 0 ? " and a file of prices" : "",
                        site->tariff.price_per_kwh, site->currency);
    }
}

static void put_figures(const struct sheet *sheet, struct sheet_page *page)
{
    const struct power_report *report = &sheet->power;
    const struct efficacy_row *full = &report->rows[report->row_count - 1];
    const struct efficacy_row *best = &report->rows[report->best];
    const double lamp = power_umol_per_j(best, report->ppf_umol_s);
    const double canopy = power_umol_per_j(best, report->canopy_umol_s);
    sheet_page_fact(page, "At full light", "%.1f W, all of it heat in the room: %.0f BTU/h",
                    full->watts, mains_btu_per_h(full->watts));
    sheet_page_fact(page, "Best level", "%.0f %%: most light for its watts", 100 * best->level);
    if (units_known(lamp)) {
        sheet_page_fact(page, "Efficacy there", "%.2f µmol/J leave the fixtures, %.2f mol per kWh",
                        lamp, efficacy_mol_per_kwh(lamp));
    } else {
        sheet_page_fact(page, "Efficacy of the lamps", "not measured: PPF not known (--ppf)");
    }
    if (units_known(canopy)) {
        sheet_page_fact(page, "… on the canopy", "%.2f µmol/J, %.2f mol per kWh", canopy,
                        efficacy_mol_per_kwh(canopy));
    } else {
        sheet_page_fact(page, "… on the canopy", "not measured: no map, no --area");
    }
}

void sheet_put_power(const struct sheet *sheet, struct sheet_page *page)
{
    const struct power_report *report = &sheet->power;
    sheet_page_heading(page, "Power, efficacy and cost");
    if (!sheet->has_power) {
        sheet_page_say(page, "Not measured: %s.", sheet->no_power);
        return;
    }
    sheet_page_facts(page);
    put_figures(sheet, page);
    put_tariff(sheet, page);
    sheet_page_facts_end(page);
    sheet_page_figure(page, "Power at the wall and efficacy over the level",
                      "Power at the wall, and light for it, over the level. Filled points were "
                      "measured, the line between them follows the dimming curves.",
                      power_plot, report);
    put_levels(report, page);
    put_stages(report, page);
    for (int i = 0; i < report->remark_count; i++) {
        sheet_page_say(page, "Look: %s", report->remarks[i]);
    }
}

/* --- the mains -------------------------------------------------------------------------------- */

static void put_current(const struct sheet *sheet, struct sheet_page *page)
{
    const struct power_report *report = &sheet->power;
    if (!sheet->has_power || !report->has_mains) {
        sheet_page_fact(page, "Supply", "not measured: --volts, --power-factor");
        return;
    }
    const double watts = report->rows[report->row_count - 1].watts;
    sheet_page_fact(page, "Supply", "%g V, one phase, true power factor %.3g at full light",
                    report->mains.volts, report->mains.power_factor);
    sheet_page_fact(page, "Current at full light", "%.2f A, %.0f VA, all fixtures together",
                    mains_a(&report->mains, watts), mains_va(&report->mains, watts));
}

static void put_breaker(const struct sheet *sheet, struct sheet_page *page)
{
    const struct breaker *breaker = &sheet->breaker;
    const struct breaker_answer *bears = &sheet->bears;
    if (!sheet->has_breaker) {
        sheet_page_fact(page, "Circuit breaker",
                        "not said: --breaker C16, with --inrush of an LED "
                        "driver's sheet");
        return;
    }
    if (bears->by_inrush < 0) {
        sheet_page_fact(page, "Circuit breaker",
                        "%c%g: at most %d LED drivers of %.2f A by running current; inrush not "
                        "measured, it mostly binds first",
                        breaker_letter(breaker->band), breaker->rated_a, bears->by_running,
                        sheet->load.running_a);
        return;
    }
    sheet_page_fact(page, "Circuit breaker",
                    "%c%g: at most %d LED driver%s of %.2f A (%d by an inrush of %g A, %d by "
                    "running current); the space has %d%s",
                    breaker_letter(breaker->band), breaker->rated_a, bears->drivers,
                    bears->drivers == 1 ? "" : "s", sheet->load.running_a, bears->by_inrush,
                    sheet->load.inrush_a, bears->by_running, sheet->space->rules.fixture_count,
                    sheet->space->rules.fixture_count > bears->drivers ? ": too many for one" : "");
}

static void put_lead(const struct sheet *sheet, struct sheet_page *page)
{
    char name[32];
    if (!sheet->has_lead) {
        sheet_page_fact(page, "DC lead",
                        "not said: --lead 30m with --lead-current and --lead-mm2 "
                        "or --lead-awg");
        return;
    }
    conductor_name(&sheet->lead.conductor, name, sizeof name);
    sheet_page_fact(
        page, "DC lead", "%g m of %s at %g A and %g °C: %.2f V and %.1f W are lost (%s)",
        sheet->lead.length_m, name, sheet->lead.current_a, sheet->lead.temperature_c,
        sheet->lost.drop_v, sheet->lost.loss_w, conductor_source(sheet->lead.conductor.make));
}

void sheet_put_mains(const struct sheet *sheet, struct sheet_page *page)
{
    sheet_page_heading(page, "Mains, breaker and leads");
    sheet_page_facts(page);
    put_current(sheet, page);
    put_breaker(sheet, page);
    put_lead(sheet, page);
    sheet_page_facts_end(page);
}
