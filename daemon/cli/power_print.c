/* SPDX-License-Identifier: Apache-2.0 */
/* Watts and money for people. */
#include "power_parts.h"

#include "parse.h"
#include "units.h"
#include "wrap.h"

#include <stdio.h>

static void print_head(FILE *out, const struct power_report *report)
{
    const struct config_space *space = report->space;
    (void)fprintf(out, "%s: %d fixture%s, %.0f µmol m⁻² s⁻¹ at full light", space->name,
                  space->rules.fixture_count, space->rules.fixture_count == 1 ? "" : "s",
                  space_configured_umol(&space->rules));
    if (units_known(report->ppf_umol_s)) {
        (void)fprintf(out, "; %.0f µmol/s leave them", report->ppf_umol_s);
    }
    if (units_known(report->canopy_umol_s)) {
        (void)fprintf(out, "; %.0f µmol/s land on %.3g m²", report->canopy_umol_s, report->area_m2);
    }
    if (units_known(report->canopy_umol_s / report->ppf_umol_s)) {
        (void)fprintf(out, " (%.1f %%)", 100 * report->canopy_umol_s / report->ppf_umol_s);
    }
    (void)fputc('\n', out);
}

/* All columns together are as wide as a terminal. */
static void print_columns(FILE *out, const struct power_report *report)
{
    const bool has_lamp = units_known(report->ppf_umol_s);
    const bool has_canopy = units_known(report->canopy_umol_s);
    const char *const pair = "  µmol/J mol/kWh";
    if (has_lamp || has_canopy) {
        (void)fprintf(out, "  %24s%s%s\n", "", has_lamp ? "  off the lamps  " : "",
                      has_canopy ? "  on the canopy" : "");
    }
    (void)fprintf(out, "  %7s %8s %7s%s%s", "level", "W", "light/W", has_lamp ? pair : "",
                  has_canopy ? pair : "");
    if (report->has_mains) {
        (void)fprintf(out, " %6s %6s", "A", "VA");
    }
    (void)fprintf(out, " %6s\n", "BTU/h");
}

static void print_row(FILE *out, const struct power_report *report, const struct efficacy_row *row)
{
    const struct efficacy_row *full = &report->rows[report->row_count - 1];
    const double lamp = power_umol_per_j(row, report->ppf_umol_s);
    const double canopy = power_umol_per_j(row, report->canopy_umol_s);
    (void)fprintf(out, "  %5.1f %%%c%8.1f %5.1f %%", 100 * row->level,
                  row->above_ceiling ? '^'
                  : row->is_measured ? '*'
                                     : ' ',
                  row->watts, 100 * (row->share / row->watts) * full->watts);
    if (units_known(lamp)) {
        (void)fprintf(out, "  %6.3f %7.2f", lamp, efficacy_mol_per_kwh(lamp));
    }
    if (units_known(canopy)) {
        (void)fprintf(out, "  %6.3f %7.2f", canopy, efficacy_mol_per_kwh(canopy));
    }
    if (report->has_mains) {
        (void)fprintf(out, " %6.2f %6.0f", mains_a(&report->mains, row->watts),
                      mains_va(&report->mains, row->watts));
    }
    (void)fprintf(out, " %6.0f\n", mains_btu_per_h(row->watts));
}

static void print_notes(FILE *out, const struct power_report *report)
{
    const struct efficacy_row *best = &report->rows[report->best];
    const double standby_w = efficacy_standby_w(&report->space->rules);
    (void)fputs("  * measured, the others lie on the curve between; ^ above a drive ceiling. "
                "light/W: of that at full light.\n",
                out);
    (void)fprintf(
        out, "  Most light for its watts at %.1f %%. All watts end as heat in the room (BTU/h).\n",
        100 * best->level);
    if (report->has_mains) {
        (void)fprintf(out,
                      "  Power factor %.4f at every level; LED drivers mostly have less of it when "
                      "dimmed.\n",
                      report->mains.power_factor);
    }
    if (standby_w > 0) {
        (void)fprintf(out,
                      "  Fixtures without a switch draw %.1f W while they are off: %.3f kWh a "
                      "day if they always were.\n",
                      standby_w, standby_w * 24 / 1000);
    }
    for (int i = 0; i < report->remark_count; i++) {
        (void)fprintf(out, "  Look: %s\n", report->remarks[i]);
    }
}

/* What others reach and ask, so that a figure means something. */
static void print_marks(FILE *out, const struct power_report *report)
{
    int count = 0;
    const struct efficacy_mark *marks = efficacy_marks(&count);
    if (!units_known(report->ppf_umol_s)) {
        return;
    }
    (void)fputs("  Published figures of bare fixtures, for comparison (tested in a laboratory at "
                "full light):\n",
                out);
    for (int i = 0; i < count; i++) {
        (void)fprintf(out, "    %.2f µmol/J  %s (%s)\n", marks[i].umol_per_j, marks[i].what,
                      marks[i].source);
    }
}

/* Of a day, a month, a year. */
static void print_way(FILE *out, const char *name, double level, const struct stagecost_way ways[3])
{
    char word[16] = "";
    if (units_known(level)) {
        (void)snprintf(word, sizeof word, "%.1f %%", 100 * level);
    }
    (void)fprintf(out, "    %-14s %8s %9.3f %9.3f %9.2f %9.2f %9.1f\n", name, word, ways[0].kwh,
                  ways[0].cost, ways[1].cost, ways[2].cost, ways[2].peak_w);
}

struct power_mol power_mol_of(const struct power_report *report, const struct power_stage *stage)
{
    const double full_umol = space_configured_umol(&report->space->rules);
    const double had_mol = fmin(stage->year.need_mol, stage->year.reach_mol);
    const double per_m2 = stage->year.even.cost / POWER_YEAR_DAYS / had_mol;
    return (struct power_mol){
        .per_m2 = per_m2,
        .on_canopy = per_m2 * full_umol / report->canopy_umol_s,
        .from_lamps = per_m2 * full_umol / report->ppf_umol_s,
    };
}

static void print_mol(FILE *out, const struct power_report *report, const struct power_stage *stage)
{
    const struct power_mol mol = power_mol_of(report, stage);
    (void)fprintf(out, "    A mol m⁻² at one level costs %.5f %s (mean of the year)", mol.per_m2,
                  report->config->site.currency);
    if (units_known(mol.on_canopy)) {
        (void)fprintf(out, "; a mol on the canopy %.5f", mol.on_canopy);
    }
    if (units_known(mol.from_lamps)) {
        (void)fprintf(out, "; a mol that leaves the fixtures %.5f", mol.from_lamps);
    }
    (void)fputs(".\n", out);
}

static void print_bill(FILE *out, const struct power_report *report, const char *name,
                       const struct stagecost_way *month)
{
    const double kw = month->peak_w / 1000;
    (void)fprintf(
        out, "    Bill of 30 days, %s: %.2f fixed + %.2f energy + %.2f for %.3f kW = %.2f %s\n",
        name, report->terms.fixed_per_month, month->cost, report->terms.demand_per_kw * kw, kw,
        stagecost_bill(&report->terms, month->cost, kw), report->config->site.currency);
}

static void print_stage(FILE *out, const struct power_report *report,
                        const struct power_stage *stage)
{
    const char *currency = report->config->site.currency;
    const bool is_flat = tariff_is_flat(&report->config->site.tariff);
    const struct stagecost_way even[] = {stage->day.even, stage->month.even, stage->year.even};
    const struct stagecost_way planned[] = {stage->day.planned, stage->month.planned,
                                            stage->year.planned};
    (void)fprintf(out, "\n  stage %s: %.4g mol in %.4g h, lamps alone\n", stage->stage->name,
                  stage->stage->target_mol, stage->stage->window.length_s / 3600.0);
    if (!stage->year.is_met) {
        (void)fprintf(out,
                      "    Out of reach: the lamps give %.2f mol at most; the costs are those of "
                      "that.\n",
                      stage->year.reach_mol);
    }
    (void)fprintf(out, "    %-14s %8s %9s %9s %9s %9s %9s\n", currency, "level", "kWh/day", "a day",
                  "30 days", "365 days", "peak W");
    print_way(out, "one level", stage->day.level, even);
    if (!is_flat) {
        print_way(out, "cheapest hours", UNITS_NONE, planned);
    } else {
        (void)fputs("    Energy has one price: no hours are cheaper.\n", out);
    }
    print_mol(out, report, stage);
    if (report->has_terms) {
        print_bill(out, report, "one level", &stage->month.even);
        if (!is_flat) {
            print_bill(out, report, "cheapest hours", &stage->month.planned);
        }
    }
}

void power_text(const struct power_report *report)
{
    char day[16];
    struct wrap wrap;
    FILE *out = wrap_begin(&wrap, stdout);
    print_head(out, report);
    print_columns(out, report);
    for (int i = 0; i < report->row_count; i++) {
        print_row(out, report, &report->rows[i]);
    }
    print_notes(out, report);
    print_marks(out, report);
    for (int i = 0; i < report->stage_count; i++) {
        print_stage(out, report, &report->stages[i]);
    }
    parse_format_date(report->day, day, sizeof day);
    (void)fprintf(out,
                  "\nDays from %s on, by the tariff of the configuration. By dimming curves and "
                  "cold heatsinks: a meter knows better.\n",
                  day);
    if (report->has_terms) {
        (void)fputs("Demand is that of this space alone; a bill counts all that draws in its "
                    "highest quarter or half hour, often in kVA.\n",
                    out);
    }
    wrap_end(&wrap, WRAP_BY_COLUMN);
}
