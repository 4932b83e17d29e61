/* SPDX-License-Identifier: Apache-2.0 */
/* Plots of a survey: the maps of all heights on one scale, and what changes with the height. */
#include "survey_parts.h"

#include "err.h"
#include "gnuplot.h"
#include "units.h"

#include <math.h>

#define PLOTTED_MAX 20000 /* points; more are thinned out */
#define MAP_PIXELS  460
#define CBRANGE     1.25 /* of the brightest: white lines stay visible on it */

static void write_grid(FILE *script, const struct lightmap *map)
{
    const int step = (int)ceil(sqrt((double)map->count / PLOTTED_MAX));
    for (int row = 0; row < map->rows; row += step) {
        for (int column = 0; column < map->columns; column += step) {
            const int at = map->at[row * map->columns + column];
            (void)fprintf(script, "%g %g ", map->column_cm[column], map->row_cm[row]);
            (void)fprintf(script, at >= 0 ? "%g\n" : "NaN\n", at >= 0 ? map->points[at].umol : 0);
        }
        (void)fputc('\n', script);
    }
}

static void write_points(FILE *script, const struct lightmap *map)
{
    const size_t step = map->count / PLOTTED_MAX + 1;
    for (size_t i = 0; i < map->count; i += step) {
        (void)fprintf(script, "%g %g %g\n", map->points[i].x_cm, map->points[i].y_cm,
                      map->points[i].umol);
    }
}

static void write_data(FILE *script, const struct survey *survey)
{
    for (int i = 0; i < survey->count; i++) {
        (void)fprintf(script, "$map%d << END\n", i);
        if (survey->sorted[i]->is_grid) {
            write_grid(script, survey->sorted[i]);
        } else {
            write_points(script, survey->sorted[i]);
        }
        (void)fprintf(script, "END\n$points%d << END\n", i);
        write_points(script, survey->sorted[i]);
        (void)fputs("END\n", script);
    }
    (void)fputs("$heights << END\n", script);
    for (int i = 0; i < survey->count; i++) {
        const struct mapstats *stats = &survey->stats[i];
        (void)fprintf(script, "%g %g %g %g %g %g\n", survey->sorted[i]->height_cm,
                      stats->area_mean_umol, stats->min_umol, stats->max_umol, stats->min_over_mean,
                      100 * stats->cv_sample);
    }
    (void)fputs("END\n", script);
}

/* 1, 2 or 5 times a power of ten: about eight steps up to `most`. */
static double round_step(double most)
{
    const double rough = most / 8;
    const double ten = pow(10, floor(log10(rough)));
    const double share = rough / ten;
    return ten * (share < 1.5 ? 1 : share < 3.5 ? 2 : share < 7.5 ? 5 : 10);
}

static double brightest(const struct survey *survey)
{
    double most = 0;
    for (int i = 0; i < survey->count; i++) {
        most = fmax(most, survey->stats[i].max_umol);
    }
    return most;
}

/* Contours only where there is a grid: gnuplot draws them between its lines. No colour reaches a
 * point beside a hole: there the points themselves have it. */
static void plot_map(struct gnuplot *plot, const struct survey *survey, int i)
{
    const struct lightmap *map = survey->sorted[i];
    (void)fprintf(plot->script,
                  "set title \"%g cm: canopy mean %.0f, least %.0f, min/mean %.2f\"\n"
                  "set xrange [%g:%g]\nset yrange [%g:%g]\n",
                  map->height_cm, survey->stats[i].area_mean_umol, survey->stats[i].min_umol,
                  survey->stats[i].min_over_mean, map->left_cm, map->left_cm + map->width_cm,
                  map->front_cm, map->front_cm + map->depth_cm);
    if (map->is_grid && map->rows > 1 && map->columns > 1) {
        (void)fprintf(plot->script,
                      "set contour base\n"
                      "splot $map%d using 1:2:3 with pm3d nocontour notitle, "
                      "$map%d using 1:2:3 with lines lc rgb 'white' lw 1 nosurface notitle, "
                      "$points%d using 1:2:3 with points pt 7 ps %g %s nocontour notitle, "
                      "$points%d using 1:2:3 with points pt 7 ps 0.4 lc rgb 'white' nocontour "
                      "notitle\nunset contour\n",
                      i, i, i, map->holes > 0 ? 1.8 : 0.7,
                      map->holes > 0 ? "palette" : "lc rgb '#404040'", i);
    } else {
        (void)fprintf(plot->script,
                      "splot $points%d using 1:2:3 with points pt 5 ps 1.5 palette notitle\n", i);
    }
}

static int panel_columns(const struct survey *survey)
{
    return survey->count > 1 ? 2 : 1;
}

/* One panel for each map, and one for the heights where there are several. */
static int panel_rows(const struct survey *survey)
{
    const int columns = panel_columns(survey);
    return survey->count == 1 ? 1 : (survey->count + columns) / columns;
}

static void plot_maps(struct gnuplot *plot, const struct survey *survey)
{
    const double most = fmax(brightest(survey), 1);
    const double step = round_step(most);
    (void)fprintf(plot->script, "set multiplot layout %d,%d title ", panel_rows(survey),
                  panel_columns(survey));
    char title[160];
    (void)snprintf(title, sizeof title, "%s (a line every %g µmol m⁻² s⁻¹)",
                   survey->fixture[0] ? survey->fixture : "Light over the canopy", step);
    gnuplot_quote(plot, title);
    (void)fprintf(plot->script,
                  " noenhanced\nset view map\nset pm3d interpolate 4,4\nset size ratio -1\n"
                  "set cbrange [0:%g]\nset cblabel \"PPFD, µmol m⁻² s⁻¹\"\n"
                  "set xlabel \"x, cm\"\nset ylabel \"y, cm\"\n"
                  "set cntrparam levels incremental %g,%g,%g\nunset clabel\nunset key\n",
                  CBRANGE * most, step, step, most);
    for (int i = 0; i < survey->count; i++) {
        plot_map(plot, survey, i);
    }
}

static void plot_heights(const struct gnuplot *plot)
{
    (void)fputs("set size noratio\nunset colorbox\n"
                "set xlabel \"height above the canopy, cm\"\nset ylabel \"PPFD, µmol m⁻² s⁻¹\"\n"
                "set y2range [0:1]\nset y2tics\n"
                "set ytics nomirror\nset yrange [0:*]\nset offsets graph 0.05, graph 0.05, 0, 0\n"
                "set bmargin 8\nset key below\nset grid\n",
                plot->script);
    (void)fputs(plot->is_text /* labels at the sides would stand across the frame */
                    ? "unset ylabel\nset title \"PPFD, µmol m⁻² s⁻¹, and evenness by height\"\n"
                      "set key maxrows 2\n"
                    : "set autoscale x\nset y2label \"minimum over mean\"\n"
                      "set title \"Light and evenness by height\"\n",
                plot->script);
    (void)fprintf(plot->script,
                  "plot $heights using 1:2 with linespoints ls 1 title \"canopy mean\", "
                  "'' using 1:4 with linespoints ls 2 title \"most\", "
                  "'' using 1:3 with linespoints ls 3 title \"least\", "
                  "'' using 1:5 axes x1y2 with linespoints ls 8 title \"minimum over mean "
                  "(right)\"\n");
}

int survey_plot(const struct survey *survey, const char *output, struct err *err)
{
    struct gnuplot plot;
    const struct lightmap *map = survey->sorted[0];
    const double shape = fmin(fmax(map->depth_cm / map->width_cm, 0.6), 1.5);
    const int height = (int)(MAP_PIXELS * shape) + 80;
    const int rc = gnuplot_begin(&plot, output, panel_columns(survey) * (MAP_PIXELS + 70),
                                 panel_rows(survey) * height + 20, err);
    if (rc < 0) {
        return rc;
    }
    write_data(plot.script, survey);
    if (plot.is_text) {
        if (survey->count == 1) { /* one height is no course */
            (void)fprintf(plot.script, "set xrange [%g:%g]\n", map->height_cm - 10,
                          map->height_cm + 10);
        }
        plot_heights(&plot);
    } else {
        plot_maps(&plot, survey);
        if (survey->count > 1) {
            plot_heights(&plot);
        }
        (void)fputs("unset multiplot\n", plot.script);
    }
    return gnuplot_end(&plot, err);
}
