/* SPDX-License-Identifier: Apache-2.0 */
/* What a sweep has found, for people. */
#include "sweep_parts.h"
#include "units.h"
#include "wrap.h"

#include <math.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#define SCATTER_LEAST 1e-9 /* of full light, and W */

struct speaker {
    void (*say)(void *context, const char *text);
    void *context;
};

__attribute__((format(printf, 2, 3))) static void say(const struct speaker *speaker,
                                                      const char *format, ...)
{
    char text[256];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    speaker->say(speaker->context, text);
}

static void say_dark_zone(const struct sweep_finding *finding, const struct speaker *speaker)
{
    const struct sweep_result *result = &finding->result;
    const struct dimfit *fit = &result->fit;
    const double first = 100 * dimcurve_min_level(&fit->curve);
    if (!units_known(fit->dead_below)) {
        say(speaker, "it never goes dark: %.1f %% of full light at drive %.3f, the lowest read",
            100 * fit->holds_level, fit->holds_drive);
        return;
    }
    if (fit->dead_below > 0) {
        say(speaker, "dark at drive %.3f and below", fit->dead_below);
    } else {
        say(speaker, "dark at drive 0");
    }
    say(speaker, "lowest steady light %.1f %% at drive %.3f, dimmed down to it",
        100 * fit->holds_level, fit->holds_drive);
    if (fit->lights_drive > fit->holds_drive) {
        say(speaker,
            "out of the dark it comes on at drive %.3f: the curve begins there, with %.1f %%",
            fit->lights_drive, first);
    } else {
        say(speaker, "out of the dark it comes on there too: the curve begins with %.1f %%", first);
    }
}

static void say_droop(const struct sweep_finding *finding, const struct speaker *speaker)
{
    const struct sweep_result *result = &finding->result;
    if (units_known(result->droop_per_k)) {
        say(speaker,
            "droop: %.1f %% less light with the heatsink at %.0f instead of %.0f °C (%.2f %% per "
            "K); taken out of the curve",
            100 * result->droop, result->hot_c, result->cold_c, 100 * result->droop_per_k);
    } else if (fabs(result->droop) >= 0.001) {
        say(speaker, "droop: %.1f %% less light at the end than at first; taken out of the curve",
            100 * result->droop);
    }
    if (finding->sweep && result->dark_most - result->dark_least > 0.5) {
        say(speaker,
            "other light moved between %.1f and %.1f µmol m⁻² s⁻¹ meanwhile; taken out of the "
            "curve",
            result->dark_least, result->dark_most);
    }
}

static void say_search(const struct ceilingsearch *search, const char *when,
                       const struct speaker *speaker)
{
    double heat_c = UNITS_NONE;
    const double ceiling = ceilingsearch_ceiling(search, &heat_c);
    if (search->why[0]) {
        say(speaker, "%s, the search for a ceiling was given up: %s", when, search->why);
        return;
    }
    char at[32] = "";
    if (units_known(heat_c)) {
        (void)snprintf(at, sizeof at, " at %.0f °C", heat_c);
    }
    if (search->trips == 0) {
        say(speaker, "%s, it holds every drive up to %.2f", when, ceiling);
    } else if (!units_known(ceiling)) {
        say(speaker,
            "%s, it tripped %d times%s and held none of the drives from %.2f on: begin "
            "lower",
            when, search->trips, at, search->rules.from_drive);
    } else {
        say(speaker, "%s, it trips at drive %.2f%s and holds %.2f (%d of %d approaches tripped)",
            when, search->rounds[0].trip_drive, at, ceiling + search->rules.margin, search->trips,
            search->round_count);
    }
}

static void say_ceiling(const struct sweep_finding *finding, const struct speaker *speaker)
{
    const struct sweep *sweep = finding->sweep;
    if (finding->has_cold) {
        say_search(&finding->cold, "cold", speaker);
    }
    if (finding->has_warm) {
        say_search(&finding->warm, "warm", speaker);
    }
    if (sweep && sweep->trips > 0) {
        say(speaker, "the LED driver tripped at drive %.3f during the steps", sweep->trip_drive);
    }
    if (units_known(finding->ceiling)) {
        say(speaker, "drive ceiling for the configuration: %.2f", finding->ceiling);
    }
    if (units_known(finding->cap_today)) {
        say(speaker,
            "after the trip the daemon lowered the ceiling by itself: %.2f for the rest of the "
            "light day",
            finding->cap_today);
    }
}

/* Below lights_drive the curve steps from dark to its first light: no reading can lie on it. */
static bool is_on_curve(const struct dimfit *fit, double drive)
{
    return drive >= fit->lights_drive - DIMFIT_SAME_DRIVE;
}

static int count_on_curve(const struct sweep_result *result)
{
    int count = 0;
    for (int i = 0; i < result->count; i++) {
        count += is_on_curve(&result->fit, result->readings[i].drive);
    }
    return count;
}

/* Readings that made the curve alone lie on it to the last digit. */
static void say_scatter(const struct sweep_result *result, const struct speaker *speaker)
{
    const struct dimfit *fit = &result->fit;
    if (fit->worst_level < SCATTER_LEAST) {
        say(speaker, "every drive was read once: how far readings scatter is not known");
    } else {
        say(speaker,
            "from drive %.3f on %d readings lie within %.2f %% of full light of the curve (rms "
            "%.2f %%)",
            fit->lights_drive, count_on_curve(result), 100 * fit->worst_level,
            100 * fit->rms_level);
    }
    if (!fit->has_watts || !units_known(fit->worst_w)) {
        say(speaker, "no watts: there was no meter");
    } else if (fit->worst_w >= SCATTER_LEAST) {
        say(speaker, "their power lies within %.1f W of it (rms %.2f W)", fit->worst_w, fit->rms_w);
    }
}

void sweep_words(const struct sweep_finding *finding, void (*tell)(void *context, const char *text),
                 void *context)
{
    const struct speaker speaker = {tell, context};
    const struct sweep_result *result = &finding->result;
    const struct dimfit *fit = &result->fit;
    const double top = fit->curve.points[fit->curve.count - 1].drive;
    say_dark_zone(finding, &speaker);
    if (units_known(fit->saturated_above)) {
        say(&speaker, "saturated above drive %.2f: more gives no more light", fit->saturated_above);
    }
    if (top < 1 - 1e-6) {
        say(&speaker, "read up to drive %.3f: that is level 1 of this curve", top);
        if (finding->held_by[0]) {
            say(&speaker,
                "it was asked for more, and held there by: %s. Its full light stays unknown: lift "
                "that limit and sweep again, or this lamp never gives more",
                finding->held_by);
        }
    }
    say_droop(finding, &speaker);
    say_ceiling(finding, &speaker);
    say_scatter(result, &speaker);
    if (result->unsteady > 0) {
        say(&speaker, "%d readings had not come to rest", result->unsteady);
    }
}

struct row {
    double drive, umol, watts, worst;
    int count, watts_count;
};

static int by_drive(const void *a, const void *b)
{
    const struct dimfit_reading *x = a;
    const struct dimfit_reading *y = b;
    return (x->drive > y->drive) - (x->drive < y->drive);
}

static void print_row(const struct row *row, const struct dimfit *fit)
{
    (void)printf("  %5.3f  %4d  %11.1f  %7.2f  %7.2f  %+7.2f", row->drive, row->count, row->umol,
                 100 * row->umol / fit->full_umol, 100 * dimcurve_level(&fit->curve, row->drive),
                 100 * row->worst);
    if (row->watts_count > 0) {
        (void)printf("  %7.1f", row->watts);
        if (row->drive > fit->curve.points[0].drive && !is_on_curve(fit, row->drive)) {
            (void)printf("        -");
        } else {
            (void)printf("  %7.1f", dimcurve_watts(&fit->curve, row->drive));
        }
    }
    (void)putchar('\n');
}

/* Readings of one drive in one row, with the residual that is worst. */
static void print_readings(const struct sweep_result *result)
{
    struct dimfit_reading sorted[SWEEP_STEPS_MAX];
    struct row row = {.drive = -1};
    memcpy(sorted, result->readings, (size_t)result->count * sizeof sorted[0]);
    qsort(sorted, (size_t)result->count, sizeof sorted[0], by_drive);
    for (int i = 0; i < result->count; i++) {
        const struct dimfit_reading *reading = &sorted[i];
        if (reading->drive > row.drive + DIMFIT_SAME_DRIVE) {
            if (row.count > 0) {
                print_row(&row, &result->fit);
            }
            row = (struct row){.drive = reading->drive};
        }
        const double off = dimfit_residual(&result->fit, reading);
        row.count++;
        row.umol += (reading->umol - row.umol) / row.count;
        row.worst = fabs(off) > fabs(row.worst) ? off : row.worst;
        if (units_known(reading->watts)) {
            row.watts_count++;
            row.watts += (reading->watts - row.watts) / row.watts_count;
        }
    }
    if (row.count > 0) {
        print_row(&row, &result->fit);
    }
}

static void print_line(void *context, const char *text)
{
    (void)fprintf(context, "  %s\n", text);
}

void sweep_text(const struct sweep_finding *finding)
{
    const struct sweep_result *result = &finding->result;
    struct wrap wrap;
    (void)printf("%s", finding->fixture[0] ? finding->fixture : "fixture");
    if (finding->date[0]) {
        (void)printf(", %s", finding->date);
    }
    if (finding->sensor[0]) {
        (void)printf(", light by %s", finding->sensor);
    }
    if (units_known(finding->hot_c) && finding->hot_c - finding->cold_c < 0.5) {
        (void)printf(", heatsink %.0f °C", finding->hot_c);
    } else if (units_known(finding->hot_c)) {
        (void)printf(", heatsink %.0f to %.0f °C", finding->cold_c, finding->hot_c);
    }
    (void)printf("\n  drive  read  µmol m⁻² s⁻¹  level %%  curve %%  worst %%%s\n",
                 result->fit.has_watts ? "        W  curve W" : "");
    print_readings(result);
    FILE *out = wrap_begin(&wrap, stdout);
    (void)fputs("Found:\n", out);
    sweep_words(finding, print_line, out);
    wrap_end(&wrap, 4);
}
