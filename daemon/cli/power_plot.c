/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A picture of power and efficacy over the level. Measured points are filled, those between are
 * not; stages stand where they burn. Nothing is told by colour alone.
 */
#include "power_parts.h"

#include "err.h"
#include "gnuplot.h"
#include "units.h"

#include <string.h>

#define WIDTH       800
#define PART        350 /* pixels of each of the two */
#define STAGES_MOST 6   /* more would hide the curve */

static const struct {
    int point;
    const char *colour;
} stage_marks[STAGES_MOST] = {{9, "#D55E00"},  {13, "#009E73"}, {11, "#CC79A7"},
                              {15, "#E69F00"}, {8, "#56B4E9"},  {12, "black"}};

/* Level %, W, lamp µmol/J, canopy µmol/J, light for its watts as % of that at full light. */
static void write_rows(FILE *script, const struct power_report *report, const char *name,
                       bool measured_only)
{
    const struct efficacy_row *full = &report->rows[report->row_count - 1];
    (void)fprintf(script, "$%s << END\n", name);
    for (int i = 0; i < report->row_count; i++) {
        const struct efficacy_row *row = &report->rows[i];
        if (!measured_only || row->is_measured) {
            (void)fprintf(script, "%.3f %.3f %.4f %.4f %.3f\n", 100 * row->level, row->watts,
                          power_umol_per_j(row, report->ppf_umol_s),
                          power_umol_per_j(row, report->canopy_umol_s),
                          100 * row->share / row->watts * full->watts);
        }
    }
    (void)fputs("END\n", script);
}

/* Only what burns at one level has a place on the curve. */
static void plot_stages(struct gnuplot *plot, const struct power_report *report)
{
    int shown = 0;
    for (int i = 0; i < report->stage_count && shown < STAGES_MOST; i++) {
        const struct stagecost *day = &report->stages[i].day;
        if (!day->is_met || !(day->level > 0)) {
            continue;
        }
        char title[96];
        (void)snprintf(title, sizeof title, "stage %s, %.0f %%", report->stages[i].stage->name,
                       100 * day->level);
        (void)fprintf(plot->script,
                      ", $stages every ::%d::%d using 1:2 with points pt %d ps 1.2 lc "
                      "rgb '%s' title ",
                      i, i, stage_marks[shown].point, stage_marks[shown].colour);
        gnuplot_quote(plot, title);
        (void)fputs(" noenhanced", plot->script);
        shown++;
    }
}

static void write_stages(FILE *script, const struct power_report *report)
{
    (void)fputs("$stages << END\n", script);
    for (int i = 0; i < report->stage_count; i++) {
        const struct stagecost *day = &report->stages[i].day;
        (void)fprintf(script, "%.3f %.3f\n", 100 * day->level, day->even.peak_w);
    }
    (void)fputs("END\n", script);
}

static void plot_power(struct gnuplot *plot, const struct power_report *report)
{
    const double cap = efficacy_cap(&report->space->rules);
    (void)fputs("set ylabel \"power at the wall, W\"\nset yrange [0:*]\n", plot->script);
    if (cap < 1 - 1e-6) {
        (void)fprintf(plot->script,
                      "set arrow 1 from first %g, graph 0 to first %g, graph 1 nohead lc rgb "
                      "'black' lw 1.5 dt 4\n",
                      100 * cap, 100 * cap);
    }
    (void)fputs("plot $rows using 1:2 with lines lc rgb 'black' lw 2 dt 1 title \"power\", "
                "$measured using 1:2 with points pt 7 ps 0.9 lc rgb 'black' title \"measured\"",
                plot->script);
    if (cap < 1 - 1e-6) {
        (void)fprintf(plot->script,
                      ", NaN with lines lc rgb 'black' lw 1.5 dt 4 title \"drive ceiling: %.0f "
                      "%%\"",
                      100 * cap);
    }
    plot_stages(plot, report);
    (void)fputs("\nunset arrow 1\n", plot->script);
}

/* Photons for the joules where photons are known, else light for the watts beside full light. */
static void plot_efficacy(const struct gnuplot *plot, const struct power_report *report)
{
    const bool has_lamp = units_known(report->ppf_umol_s);
    const bool has_canopy = units_known(report->canopy_umol_s);
    const struct efficacy_row *best = &report->rows[report->best];
    (void)fprintf(plot->script,
                  "unset title\nset ylabel \"%s\"\n"
                  "set arrow 2 from first %g, graph 0 to first %g, graph 1 nohead ls 8 dt 3\nplot ",
                  has_lamp || has_canopy ? "efficacy, µmol/J"
                                         : "light for its watts,\\n% of that at full light",
                  100 * best->level, 100 * best->level);
    if (has_lamp) {
        (void)fputs("$rows using 1:3 with lines ls 1 dt 1 title \"leaving the fixtures\", "
                    "$measured using 1:3 with points pt 7 ps 0.9 lc rgb '#0072B2' notitle, ",
                    plot->script);
    }
    if (has_canopy) {
        (void)fputs("$rows using 1:4 with lines ls 2 dt 2 title \"landing on the canopy\", "
                    "$measured using 1:4 with points pt 5 ps 0.9 lc rgb '#D55E00' notitle, ",
                    plot->script);
    }
    if (!has_lamp && !has_canopy) {
        (void)fputs("$rows using 1:5 with lines ls 1 dt 1 title \"light for its watts\", "
                    "$measured using 1:5 with points pt 7 ps 0.9 lc rgb '#0072B2' notitle, ",
                    plot->script);
    }
    (void)fprintf(plot->script, "NaN with lines ls 8 dt 3 title \"best at %.0f %%\"\n",
                  100 * best->level);
}

int power_plot(const void *context, const char *path, struct err *err)
{
    const struct power_report *report = context;
    struct gnuplot plot;
    char title[128];
    const bool is_text = strcmp(path, "-") == 0;
    const int rc = gnuplot_begin(&plot, path, WIDTH, is_text ? PART : 2 * PART, err);
    if (rc < 0) {
        return rc;
    }
    write_rows(plot.script, report, "rows", false);
    write_rows(plot.script, report, "measured", true);
    write_stages(plot.script, report);
    (void)snprintf(title, sizeof title, "Power and efficacy of %s, %d fixture%s",
                   report->space->name, report->space->rules.fixture_count,
                   report->space->rules.fixture_count == 1 ? "" : "s");
    (void)fputs("set title ", plot.script);
    gnuplot_quote(&plot, title);
    (void)fprintf(plot.script,
                  " noenhanced\nset lmargin 11\nset rmargin 4\n%sset xrange [0:100]\n"
                  "set xlabel \"level, %% of full light\"\nset grid lc rgb '#bbbbbb'\n"
                  "set key %s\nset offsets 0, 0, graph 0.06, 0\n%s",
                  is_text ? "" : "set bmargin 6.5\n",
                  is_text ? "below" : "bmargin center horizontal samplen 2",
                  is_text ? "" : "set multiplot layout 2,1\n");
    plot_power(&plot, report);
    plot_efficacy(&plot, report);
    (void)fputs(is_text ? "" : "unset multiplot\n", plot.script);
    return gnuplot_end(&plot, err);
}
