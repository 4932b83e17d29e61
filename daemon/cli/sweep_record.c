/* SPDX-License-Identifier: Apache-2.0 */
/* The fixture record: what the configuration includes in the fixture's group. */
#include "err.h"
#include "fileio.h"
#include "measured.h"
#include "parse.h"
#include "sweep_parts.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define COMMISSIONED_MOST_C 120 /* of the configuration's key */

static void put_number(FILE *out, const char *key, double value)
{
    if (units_known(value)) {
        (void)fprintf(out, "  %s = %.6f;\n", key, value);
    }
}

/* Quotes and backslashes have to be escaped; control characters are gone already. */
static void put_text(FILE *out, const char *key, const char *text)
{
    if (text[0] == '\0') {
        return;
    }
    (void)fprintf(out, "  %s = \"", key);
    for (; *text; text++) {
        if (*text == '"' || *text == '\\') {
            (void)fputc('\\', out);
        }
        (void)fputc(*text, out);
    }
    (void)fputs("\";\n", out);
}

static void put_comment(void *context, const char *text)
{
    (void)fprintf(context, "#   %s\n", text);
}

static void put_curve(FILE *out, const struct dimfit *fit)
{
    (void)fprintf(out, "curve = (\n");
    for (int i = 0; i < fit->curve.count; i++) {
        const struct dimcurve_point *point = &fit->curve.points[i];
        (void)fprintf(out, "  { drive = %.6f; level = %.6f; ", point->drive, point->level);
        if (fit->has_watts) {
            (void)fprintf(out, "watts = %.2f; ", point->watts);
        }
        (void)fprintf(out, "}%s\n", i + 1 < fit->curve.count ? "," : "");
    }
    (void)fprintf(out, ");\n");
}

/* For the daemon, which compares with it how much light the lamp still gives. Dates of other forms
 * are for people alone. */
static void put_commissioned(FILE *out, const struct sweep_finding *finding)
{
    char day_text[16];
    int64_t day = 0;
    (void)snprintf(day_text, sizeof day_text, "%.10s", finding->date);
    if (parse_date(day_text, &day, NULL) < 0) {
        return;
    }
    (void)fprintf(out, "commissioned = \"%s\";\n", day_text);
    const double warm_c = finding->result.warm_c;
    if (warm_c >= 0 && warm_c <= COMMISSIONED_MOST_C) {
        (void)fprintf(out, "commissioned_c = %.1f;\n", warm_c);
    }
}

/* What the curve was made of; of a great many readings every second, third … one. */
static void put_readings(FILE *out, const struct sweep_result *result)
{
    const int step = (result->count + MEASURED_READINGS_MAX - 1) / MEASURED_READINGS_MAX;
    (void)fprintf(out, "  readings = (");
    for (int i = 0; i < result->count; i += step) {
        const struct dimfit_reading *reading = &result->readings[i];
        const double level = reading->umol / result->fit.full_umol;
        (void)fprintf(out, "%s\n    { drive = %.4f; level = %.5f; ", i > 0 ? "," : "",
                      reading->drive, units_clamp(level, -0.1, 2));
        if (units_known(reading->watts)) {
            (void)fprintf(out, "watts = %.1f; ", reading->watts);
        }
        (void)fputc('}', out);
    }
    (void)fprintf(out, "\n  );\n");
}

static void put_all(FILE *out, const struct sweep_finding *finding)
{
    const struct sweep_result *result = &finding->result;
    const struct dimfit *fit = &result->fit;
    (void)fprintf(
        out,
        "# Fixture record of %s by `lampwarden sweep`. In the fixture's group, instead of "
        "curve, ppfd_full,\n# drive_ceiling and commissioned: a line of its own with @include "
        "and this file's name in quotes. Found:\n",
        finding->fixture[0] ? finding->fixture : "a fixture");
    sweep_words(finding, put_comment, out);
    put_curve(out, fit);
    (void)fprintf(out, "ppfd_full = %.2f;\n", fit->full_umol);
    if (units_known(finding->ceiling)) {
        (void)fprintf(out, "drive_ceiling = %.4f;\n", finding->ceiling);
    }
    put_commissioned(out, finding);
    (void)fprintf(out, "measured = {\n");
    put_text(out, "date", finding->date);
    put_text(out, "sensor", finding->sensor);
    put_number(out, "heat_low_c", finding->cold_c);
    put_number(out, "heat_high_c", finding->hot_c);
    put_number(out, "worst_level", fit->worst_level);
    put_number(out, "rms_level", fit->rms_level);
    put_number(out, "rms_w", fit->rms_w);
    put_number(out, "holds_drive", fit->holds_drive);
    put_number(out, "saturated_above", fit->saturated_above);
    put_number(out, "droop", result->droop);
    put_number(out, "droop_per_k", result->droop_per_k);
    put_number(out, "ceiling_heat_c", finding->ceiling_heat_c);
    put_number(out, "ceiling_margin", finding->ceiling_margin);
    put_readings(out, result);
    (void)fprintf(out, "};\n");
}

int sweep_record(const struct sweep_finding *finding, const char *path, struct err *err)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) {
        return err_fail(err, ENOMEM, "no memory for the record");
    }
    put_all(out, finding);
    int rc = fclose(out) == 0 ? 0 : err_fail(err, ENOMEM, "no memory for the record");
    if (rc == 0) {
        rc = fileio_put(path, text, size, err);
    }
    free(text);
    return rc;
}
