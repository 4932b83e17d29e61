/* SPDX-License-Identifier: Apache-2.0 */
#include "sweep_plot.h"

#include "dimfit.h"
#include "err.h"
#include "gnuplot.h"
#include "sweep_parts.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define SAMPLES       200
#define LEAST_PERCENT 0.5 /* of the residuals' axis: smaller ones are not blown up */

/* Pixels of the picture, of the curve's part and of the residuals'. */
struct size {
    int width, upper, lower;
};
static const struct size wide = {800, 450, 250};
static const struct size narrow = {580, 400, 235};

static double first_drive(const struct sweep_picture *picture)
{
    return dimcurve_min_drive(picture->curve);
}

/* In the dark part, and where the curve steps up to its first light, no reading can lie on it. */
static bool is_on_curve(const struct sweep_picture *picture, double drive)
{
    return drive >= first_drive(picture) - DIMFIT_SAME_DRIVE;
}

static double residual(const struct sweep_picture *picture, const struct measured_reading *reading)
{
    return reading->level - dimcurve_level(picture->curve, reading->drive);
}

/* All in per cent. A block without lines would be an error to gnuplot. */
static void write_curve(FILE *script, const struct sweep_picture *picture)
{
    const struct dimcurve *curve = picture->curve;
    const double first = first_drive(picture);
    const double last = curve->points[curve->count - 1].drive;
    (void)fputs("$curve << END\n", script);
    for (int i = 0; i <= SAMPLES; i++) {
        const double drive = first + (last - first) * i / SAMPLES;
        (void)fprintf(script, "%.4f %.4f\n", 100 * drive, 100 * dimcurve_level(curve, drive));
    }
    (void)fputs("END\n$dark << END\n", script);
    if (curve->first_lit > 0) {
        (void)fprintf(script, "0 0\n%.4f 0\n%.4f %.4f\n", 100 * first, 100 * first,
                      100 * dimcurve_min_level(curve));
    } else {
        (void)fputs("NaN NaN\n", script);
    }
    (void)fputs("END\n$points << END\n", script);
    for (int i = 0; i < curve->count; i++) {
        (void)fprintf(script, "%.4f %.4f\n", 100 * curve->points[i].drive,
                      100 * curve->points[i].level);
    }
    (void)fputs("END\n", script);
}

/* Drive, light, and residual or NaN. */
static void write_readings(FILE *script, const struct sweep_picture *picture, double *ret_worst,
                           double *ret_rms)
{
    double squares = 0;
    int count = 0;
    *ret_worst = 0;
    (void)fputs("$readings << END\n", script);
    for (int i = 0; i < picture->reading_count; i++) {
        const struct measured_reading *reading = &picture->readings[i];
        (void)fprintf(script, "%.4f %.4f ", 100 * reading->drive, 100 * reading->level);
        if (is_on_curve(picture, reading->drive)) {
            const double off = 100 * residual(picture, reading);
            (void)fprintf(script, "%.4f\n", off);
            *ret_worst = fmax(*ret_worst, fabs(off));
            squares += off * off;
            count++;
        } else {
            (void)fputs("NaN\n", script);
        }
    }
    (void)fputs("END\n", script);
    *ret_rms = count > 0 ? sqrt(squares / count) : 0;
}

static void plot_curve(struct gnuplot *plot, const struct sweep_picture *picture)
{
    FILE *script = plot->script;
    const double ceiling = picture->drive_ceiling;
    const bool has_ceiling = ceiling < 1 - 1e-6; /* false for NaN */
    (void)fprintf(script,
                  "set xrange [0:100]\nset yrange [-3:106]\n"
                  "set xlabel \"drive, %% of the output's range\"\n"
                  "set ylabel \"light, %% of full light\"\n"
                  "set ytics nomirror\nset y2tics\nset y2range [%g:%g]\n"
                  "set y2label \"PPFD at the canopy, µmol m⁻² s⁻¹\"\n"
                  "set key %s\nset grid lc rgb '#bbbbbb'\n",
                  -0.03 * picture->full_umol, 1.06 * picture->full_umol,
                  plot->is_text ? "below"
                                : "bmargin center horizontal samplen 3 width -1 font ',12'");
    if (plot->is_text) { /* it would stand across the frame */
        (void)fputs("unset y2label\n", script);
    }
    if (has_ceiling) {
        (void)fprintf(script,
                      "set arrow 1 from first %g, graph 0 to first %g, graph 1 nohead ls 2\n",
                      100 * ceiling, 100 * ceiling);
    }
    (void)fputs("plot ", script);
    if (picture->reading_count > 0) {
        (void)fputs("$readings using 1:2 with points lc rgb '#0072B2' lw 1.5 pt 6 ps 1.1 title "
                    "\"readings\", ",
                    script);
    }
    (void)fputs("$curve using 1:2 with lines lc rgb 'black' lw 2 dt 1 title \"curve\", "
                "$points using 1:2 with points lc rgb 'black' pt 5 ps 0.5 title \"its points\"",
                script);
    if (picture->curve->first_lit > 0) {
        (void)fputs(", $dark using 1:2 with lines lc rgb 'black' lw 1.5 dt 3 title \"dark\"",
                    script);
    }
    if (has_ceiling) {
        (void)fprintf(script, ", NaN with lines ls 2 title \"ceiling %.3g %%\"", 100 * ceiling);
    }
    (void)fputs("\nunset arrow 1\n", script);
}

static void plot_residuals(const struct gnuplot *plot, double worst, double rms)
{
    const double most = 1.25 * fmax(worst, LEAST_PERCENT / 1.25);
    (void)fprintf(plot->script,
                  "unset title\nunset y2tics\nunset y2label\nset ytics mirror\n"
                  "set yrange [%g:%g]\nset ylabel \"reading less curve,\\n%% of full light\"\n"
                  "plot $readings using 1:3 with impulses lc rgb '#0072B2' lw 1.5 notitle, "
                  "$readings using 1:3 with points lc rgb '#0072B2' lw 1.5 pt 6 ps 1.1 title "
                  "\"residual, %.2f %% at most\", 0 with lines lc rgb 'black' lw 1 dt 1 notitle, "
                  "%g with lines lc rgb 'black' lw 1.5 dt 2 title \"± rms, %.2f %%\", "
                  "%g with lines lc rgb 'black' lw 1.5 dt 2 notitle\n",
                  -most, most, worst, rms, rms, -rms);
}

static void write_title(struct gnuplot *plot, const struct sweep_picture *picture)
{
    char title[256];
    (void)snprintf(title, sizeof title, "Dimming curve of %s%s%s",
                   picture->fixture[0] ? picture->fixture : "a fixture",
                   picture->note[0] ? ", " : "", picture->note);
    (void)fputs("set title ", plot->script);
    gnuplot_quote(plot, title);
    (void)fputs(" noenhanced\n", plot->script);
}

int sweep_picture_draw(const void *context, const char *path, struct err *err)
{
    const struct sweep_picture *picture = context;
    const bool has_readings = picture->reading_count > 0;
    const struct size *size = picture->is_narrow ? &narrow : &wide;
    const int height = size->upper + (has_readings ? size->lower : 0);
    const bool is_text = strcmp(path, "-") == 0;
    struct gnuplot plot;
    double worst = 0;
    double rms = 0;
    const int rc = gnuplot_begin(&plot, path, size->width, is_text ? size->upper : height, err);
    if (rc < 0) {
        return rc;
    }
    write_curve(plot.script, picture);
    if (has_readings) {
        write_readings(plot.script, picture, &worst, &rms);
    }
    write_title(&plot, picture);
    /* both parts have one drive axis */
    (void)fputs("set lmargin 11\nset rmargin 10\n", plot.script);
    (void)fputs(plot.is_text ? "" : "set bmargin 6.5\n", plot.script);
    if (has_readings && !plot.is_text) {
        (void)fprintf(plot.script, "set multiplot\nset origin 0, %g\nset size 1, %g\n",
                      (double)size->lower / height, (double)size->upper / height);
    }
    plot_curve(&plot, picture);
    if (has_readings) {
        if (!plot.is_text) {
            (void)fprintf(plot.script, "set origin 0, 0\nset size 1, %g\n",
                          (double)size->lower / height);
        }
        plot_residuals(&plot, worst, rms);
    }
    (void)fputs(has_readings && !plot.is_text ? "unset multiplot\n" : "", plot.script);
    return gnuplot_end(&plot, err);
}

int sweep_plot(const struct sweep_finding *finding, const char *path, struct err *err)
{
    const struct sweep_result *result = &finding->result;
    struct measured_reading *readings = calloc(SWEEP_STEPS_MAX, sizeof *readings);
    char note[SWEEP_SENSOR_MAX + 64];
    if (!readings) {
        return err_fail(err, ENOMEM, "no memory for a picture");
    }
    for (int i = 0; i < result->count; i++) {
        const struct dimfit_reading *reading = &result->readings[i];
        readings[i] = (struct measured_reading){
            reading->drive, reading->umol / result->fit.full_umol, reading->watts};
    }
    (void)snprintf(note, sizeof note, "%.10s%s%s", finding->date, finding->sensor[0] ? ", by " : "",
                   finding->sensor);
    const struct sweep_picture picture = {
        .fixture = finding->fixture,
        .note = note,
        .curve = &result->fit.curve,
        .full_umol = result->fit.full_umol,
        .drive_ceiling = finding->ceiling,
        .reading_count = result->count,
        .readings = readings,
    };
    const int rc = sweep_picture_draw(&picture, path, err);
    free(readings);
    return rc;
}
