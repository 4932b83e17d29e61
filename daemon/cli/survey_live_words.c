/* SPDX-License-Identifier: Apache-2.0 */
/* The options of a survey by hand. */
#include "survey_live_parts.h"

#include "err.h"
#include "options.h"
#include "parse.h"
#include "units.h"
#include "verb.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define STEP_LEAST_M   0.005
#define LENGTH_MOST_M  50.0
#define HEIGHT_LEAST_M 0.01
#define HEIGHT_MOST_M  10.0
#define RIG_PATIENCE_S 120.0
#define M_PER_IN       0.0254

static bool is_in_inches(const char *length)
{
    return strstr(length, "in") || strstr(length, "ft");
}

static double unit_m(bool inches)
{
    return inches ? M_PER_IN : 0.01;
}

/* "15cm" or "15cmx20cm": both in one unit. */
static int read_spacing(const char *text, struct walk_grid *grid, struct err *err)
{
    char first[32];
    double x_m = 0, y_m = 0;
    const char *cross = strchr(text, 'x');
    const size_t length = cross ? (size_t)(cross - text) : strlen(text);
    if (length >= sizeof first) {
        return parse_length("", 0, 1, &x_m, err);
    }
    memcpy(first, text, length);
    first[length] = '\0';
    const char *second = cross ? cross + 1 : first;
    int rc = parse_length(first, STEP_LEAST_M, LENGTH_MOST_M, &x_m, err);
    if (rc == 0) {
        rc = parse_length(second, STEP_LEAST_M, LENGTH_MOST_M, &y_m, err);
    }
    if (rc == 0) {
        grid->is_in_inches = is_in_inches(text);
        grid->step_x = x_m / unit_m(grid->is_in_inches);
        grid->step_y = y_m / unit_m(grid->is_in_inches);
    }
    return rc;
}

/* "9x5" */
static int read_sides(const char *text, struct walk_grid *grid)
{
    char columns[16];
    const size_t length = strcspn(text, "x");
    if (text[length] != 'x' || length >= sizeof columns) {
        return verb_usage(LIVE_NAME, "--grid: '%.40s' is not like 9x5: columns, rows", text);
    }
    memcpy(columns, text, length);
    columns[length] = '\0';
    int64_t x = 0, y = 0;
    const int code = verb_int(LIVE_NAME, "grid", columns, 1, WALK_SIDE_MAX, &x);
    grid->columns = (int)x;
    if (code != VERB_OK) {
        return code;
    }
    const int code_y = verb_int(LIVE_NAME, "grid", text + length + 1, 1, WALK_SIDE_MAX, &y);
    grid->rows = (int)y;
    return code_y;
}

int live_read_grid(const struct survey_live_words *words, struct walk_grid *grid)
{
    struct err err;
    double margin_m = 0;
    const int code = read_sides(words->grid, grid);
    if (code != VERB_OK) {
        return code;
    }
    if (read_spacing(words->spacing, grid, &err) < 0) {
        return verb_usage(LIVE_NAME, "--spacing: %s", err.text);
    }
    if (words->margin && parse_length(words->margin, 0, LENGTH_MOST_M, &margin_m, &err) < 0) {
        return verb_usage(LIVE_NAME, "--margin: %s", err.text);
    }
    grid->margin = margin_m / unit_m(grid->is_in_inches);
    return VERB_OK;
}

static int read_seconds(const char *option, const char *text, int high_s, double *ret)
{
    struct err err;
    int64_t value = 0;
    if (text && parse_duration(text, high_s, &value, &err) < 0) {
        return verb_usage(LIVE_NAME, "--%s: %s", option, err.text);
    }
    *ret = text ? (double)value : *ret;
    return VERB_OK;
}

int live_read_rules(struct live *live)
{
    const struct survey_live_words *words = live->words;
    int64_t samples = 5;
    live->rules = (struct settle_rules){.least_s = 3};
    live->patience_s = live->is_screen ? (double)INFINITY : RIG_PATIENCE_S;
    live->watts = UNITS_NONE;
    int code = verb_number(LIVE_NAME, "watts", words->watts, 0.1, 100000, &live->watts);
    if (code == VERB_OK) {
        code = read_seconds("settle", words->settle, 600, &live->rules.least_s);
    }
    if (code == VERB_OK) {
        code = verb_int(LIVE_NAME, "samples", words->samples, 3, SETTLE_SAMPLES_MAX, &samples);
    }
    if (code == VERB_OK) {
        code = read_seconds("patience", words->patience, 86400, &live->patience_s);
    }
    live->rules.samples = (int)samples;
    live->rules.most_s = 5 * live->rules.least_s + 3 * (double)samples;
    return code;
}

/* "60cm" → "height_cm: 60". */
int live_read_height(const char *text, char *ret_note, size_t size)
{
    struct err err;
    double m = 0;
    if (parse_length(text, HEIGHT_LEAST_M, HEIGHT_MOST_M, &m, &err) < 0) {
        return verb_usage(LIVE_NAME, "--height: %s", err.text);
    }
    const bool inches = is_in_inches(text);
    (void)snprintf(ret_note, size, "height_%s: %g", inches ? "in" : "cm", m / unit_m(inches));
    return VERB_OK;
}

void live_height_words(const char *note, char *buffer, size_t size)
{
    const char *unit = strchr(note, '_');
    const char *value = strchr(note, ' ');
    (void)snprintf(buffer, size, "%s %.2s above the canopy", value ? value + 1 : "?",
                   unit ? unit + 1 : "");
}
