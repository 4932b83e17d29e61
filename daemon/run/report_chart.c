/* SPDX-License-Identifier: Apache-2.0 */
/* The day as a picture in plain characters: PPFD as bars, under it who ruled. */
#include "lightday.h"
#include "report_parts.h"
#include "units.h"
#include "words.h"

#include <string.h>

#define ROWS    8
#define MARGIN  7    /* "   250|" */
#define LABEL_S 7200 /* a time of day every two hours */

static const char letters[LIMITER_COUNT + 1] = {
    [LIMITER_NOT_RUNNING] = 'x',  [LIMITER_NIGHT] = '.',         [LIMITER_CLOCK_UNTRUSTED] = 'c',
    [LIMITER_OUTPUT_FAULT] = 'o', [LIMITER_HEAT_TRIP] = 'T',     [LIMITER_DRIVER_TRIP] = 'V',
    [LIMITER_REST] = 'r',         [LIMITER_HEAT] = 'h',          [LIMITER_DRIVE_CEILING] = 'd',
    [LIMITER_POWER_LIMIT] = 'w',  [LIMITER_LIGHT_CEILING] = 'l', [LIMITER_SENSOR_LOST] = 's',
    [LIMITER_BY_HAND] = 'b',      [LIMITER_DAWN] = '/',          [LIMITER_DUSK] = '\\',
    [LIMITER_FULL_LIGHT] = 'f',   [LIMITER_TARGET_MET] = '=',    [LIMITER_PLAN] = 'p',
    [LIMITER_COUNT] = ' ',
};

char report_letter(enum limiter limiter)
{
    return letters[(unsigned)limiter < LIMITER_COUNT ? limiter : LIMITER_COUNT];
}

/* The next round number that holds the largest value; 0 for a dark day. */
static double scale_of(const struct report *report)
{
    static const double steps[] = {1, 1.5, 2, 2.5, 3, 4, 5, 6, 8, 10};
    double largest = 0;
    for (int i = 0; i < REPORT_COLUMNS; i++) {
        double umol = report_span_umol(&report->columns[i]);
        largest = umol > largest && umol < 1e6 ? umol : largest; /* NaN is not larger */
    }
    if (largest < 1) {
        return largest > 0 ? 1 : 0;
    }
    double decade = pow(10, floor(log10(largest)));
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        if (steps[i] * decade >= largest) {
            return steps[i] * decade;
        }
    }
    return 10 * decade;
}

/* One cell of a bar, `filled` of it in eighths. */
static const char *cell(int filled, bool is_utf8)
{
    static const char *const blocks[] = {" ", "▁", "▂", "▃", "▄", "▅", "▆", "▇", "█"};
    if (is_utf8) {
        return blocks[filled];
    }
    return filled >= 6 ? "#" : filled >= 2 ? ":" : " ";
}

static int eighths(double umol, double scale, int row)
{
    if (!(umol > 0)) {
        return 0;
    }
    double filled = units_clamp(umol / scale, 0, 1) * ROWS * 8 - row * 8;
    /* Any light shows: a dim dawn is no night. */
    if (row == 0 && filled < 1) {
        return 1;
    }
    return (int)lround(units_clamp(filled, 0, 8));
}

static void draw_bars(const struct report *report, bool is_utf8, FILE *out)
{
    double scale = scale_of(report);
    for (int row = scale > 0 ? ROWS - 1 : -1; row >= 0; row--) {
        double top = scale * (row + 1) / ROWS;
        bool has_label = row == ROWS - 1 || row == ROWS / 2 - 1;
        if (has_label) {
            (void)fprintf(out, "%*.4g|", MARGIN - 1, top);
        } else {
            (void)fprintf(out, "%*s|", MARGIN - 1, "");
        }
        int last = REPORT_COLUMNS - 1;
        while (last >= 0 &&
               eighths(report_span_umol(&report->columns[last]), scale, row) < (is_utf8 ? 1 : 2)) {
            last--; /* no blanks at the end of a line */
        }
        for (int i = 0; i <= last; i++) {
            double umol = report_span_umol(&report->columns[i]);
            (void)fputs(cell(eighths(umol, scale, row), is_utf8), out);
        }
        (void)fputc('\n', out);
    }
}

static void draw_axis(const struct report *report, FILE *out)
{
    char marks[REPORT_COLUMNS + 8];
    char words[REPORT_COLUMNS + 8];
    memset(marks, '-', REPORT_COLUMNS);
    memset(words, ' ', sizeof words);
    marks[REPORT_COLUMNS] = '\0';
    const struct lightday_rules civil = {.utc_offset_s = report->day.utc_offset_s};
    int used = 0;
    for (int i = 0; i < REPORT_COLUMNS; i++) {
        int32_t second =
            lightday_second(&civil, report->day.begin_s + (int64_t)i * REPORT_COLUMN_S);
        if (second % LABEL_S < REPORT_COLUMN_S) { /* the first column at or after the full hour */
            marks[i] = '+';
            words[i] = (char)('0' + second / 36000);
            words[i + 1] = (char)('0' + second / 3600 % 10);
            used = i + 2;
        }
    }
    words[used] = '\0';
    (void)fprintf(out, "%*d+%s\n%*s%s\n", MARGIN - 1, 0, marks, MARGIN, "", words);
}

static void draw_limiters(const struct report *report, FILE *out)
{
    bool is_seen[LIMITER_COUNT] = {false};
    char strip[REPORT_COLUMNS + 1];
    int used = 0;
    for (int i = 0; i < REPORT_COLUMNS; i++) {
        enum limiter limiter = report_span_limiter(&report->columns[i]);
        strip[i] = letters[limiter];
        if (limiter < LIMITER_COUNT) {
            is_seen[limiter] = true;
            used = i + 1;
        }
    }
    strip[used] = '\0';
    (void)fprintf(out, " ruled|%s\n", strip);
    int column = 0;
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        if (!is_seen[i]) {
            continue;
        }
        const char *words = words_limiter((enum limiter)i);
        int width = (int)strlen(words) + 4;
        if (column == 0 || column + width > MARGIN + REPORT_COLUMNS) {
            column = fprintf(out, "%s%*s", column == 0 ? "" : "\n", MARGIN, "");
        } else {
            column += fprintf(out, ", ");
        }
        column += fprintf(out, "%c %s", letters[i], words);
    }
    (void)fputc('\n', out);
}

void report_chart(const struct report *report, bool is_utf8, FILE *out)
{
    int minutes = 0;
    for (int i = 0; i < REPORT_COLUMNS; i++) {
        minutes += report->columns[i].minutes;
    }
    if (minutes == 0) {
        return;
    }
    report_print(out, is_utf8, "\nPPFD at the canopy, µmol m⁻² s⁻¹, and who ruled\n");
    draw_bars(report, is_utf8, out);
    draw_axis(report, out);
    draw_limiters(report, out);
}
