/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The day as a picture: PPFD of lamp and daylight stacked, who ruled as a band with names, the
 * level, temperatures with their limits, the price; one below the other over the same hours.
 * Readable in grey: fills differ in lightness, lines in their dashes, and everything has a name.
 */
#include "day_parts.h"

#include "err.h"
#include "gnuplot.h"
#include "units.h"
#include "words.h"

#include <errno.h>
#include <string.h>

#define WIDTH       900
#define TEXT_WIDTH  700
#define TEXT_HEIGHT 430
#define LEFT_PX     104
#define RIGHT_PX    26
#define LABEL_S     7200 /* a time of day every two hours */
#define LETTER_PX   6.6  /* of the band's font */
#define RUNS_MAX    400

enum panel { PANEL_PPFD, PANEL_RULED, PANEL_LEVEL, PANEL_HEAT, PANEL_PRICE, PANEL_COUNT };

static const int heights_px[PANEL_COUNT] = {
    [PANEL_PPFD] = 200, [PANEL_RULED] = 28, [PANEL_LEVEL] = 84,
    [PANEL_HEAT] = 140, [PANEL_PRICE] = 76,
};
static const int gaps_px[PANEL_COUNT] = {
    [PANEL_PPFD] = 28, [PANEL_RULED] = 12, [PANEL_LEVEL] = 10,
    [PANEL_HEAT] = 30, [PANEL_PRICE] = 28,
};
#define FOOT_PX  34
#define TITLE_PX 26

/* Minutes that one limiter ruled, one behind the other. */
struct run {
    double from_h, to_h;
    enum limiter limiter;
};

/* What is drawn, and where. */
struct chart {
    const struct day_sheet *sheet;
    struct gnuplot plot;
    bool has[PANEL_COUNT];
    int height_px, used_px;
    int run_count;
    struct run runs[RUNS_MAX];
};

static double hour_of(const struct chart *chart, int64_t wall_s)
{
    return (double)(wall_s - chart->sheet->report->day.begin_s) / 3600;
}

static void find_runs(struct chart *chart)
{
    const struct day_minutes *minutes = chart->sheet->minutes;
    for (int i = 0; i < minutes->count; i++) {
        const struct journal_minute *minute = &minutes->minutes[i];
        const double from_h = hour_of(chart, minute->wall_s);
        struct run *last = chart->run_count > 0 ? &chart->runs[chart->run_count - 1] : NULL;
        if (last && last->limiter == minute->limiter && from_h - last->to_h < 1e-6) {
            last->to_h = from_h + 1.0 / 60;
        } else if (chart->run_count < RUNS_MAX) {
            chart->runs[chart->run_count++] =
                (struct run){from_h, from_h + 1.0 / 60, minute->limiter};
        }
    }
}

static void choose_panels(struct chart *chart)
{
    const struct report *report = chart->sheet->report;
    const struct day_minutes *minutes = chart->sheet->minutes;
    chart->has[PANEL_PPFD] = chart->has[PANEL_RULED] = chart->has[PANEL_LEVEL] = true;
    for (int i = 0; i < minutes->count; i++) {
        chart->has[PANEL_HEAT] = chart->has[PANEL_HEAT] ||
                                 units_known(minutes->minutes[i].heatsink_c) ||
                                 units_known(minutes->minutes[i].air_c);
    }
    chart->has[PANEL_PRICE] = report->price_low < report->price_high;
    chart->used_px = chart->sheet->is_alone ? TITLE_PX : 0;
    chart->height_px = FOOT_PX + chart->used_px;
    for (int i = 0; i < PANEL_COUNT; i++) {
        chart->height_px += chart->has[i] ? heights_px[i] + gaps_px[i] : 0;
    }
}

/* A value that is not known, or none, is NaN to gnuplot: it leaves a hole. */
static void put_value(FILE *script, double value)
{
    if (value > -1e6 && value < 1e6) {
        (void)fprintf(script, " %.5g", value);
    } else {
        (void)fputs(" NaN", script);
    }
}

/* Hour, lamp, lamp and daylight, level %, heatsink, air, price; an empty line where minutes are
 * missing. */
static void write_data(const struct chart *chart)
{
    const struct day_minutes *minutes = chart->sheet->minutes;
    FILE *script = chart->plot.script;
    (void)fputs("$day << END\n", script);
    for (int i = 0; i < minutes->count; i++) {
        const struct journal_minute *minute = &minutes->minutes[i];
        if (i > 0 && minute->wall_s - minutes->minutes[i - 1].wall_s > 60) {
            (void)fputc('\n', script);
        }
        (void)fprintf(script, "%.4f", hour_of(chart, minute->wall_s));
        put_value(script, minute->lamp_umol);
        put_value(script, minute->lamp_umol + minute->daylight_umol);
        put_value(script, 100 * minute->level);
        put_value(script, minute->heatsink_c);
        put_value(script, minute->air_c);
        put_value(script, minute->price_per_kwh);
        (void)fputc('\n', script);
    }
    (void)fputs("END\n", script);
}

/* The hours below the last panel, ticks alone below the others. */
static void write_hours(const struct chart *chart, bool has_words)
{
    const struct report *report = chart->sheet->report;
    const int64_t begin_s = report->day.begin_s;
    const int64_t civil_s = begin_s + report->day.utc_offset_s;
    const int64_t ahead_s = ((-civil_s % LABEL_S) + LABEL_S) % LABEL_S;
    const char *before = "set xtics nomirror (";
    for (int64_t at_s = begin_s + ahead_s; at_s <= begin_s + UNITS_S_PER_DAY; at_s += LABEL_S) {
        char time[12];
        report_clock(report, at_s, time, sizeof time);
        const bool is_end = at_s == begin_s + UNITS_S_PER_DAY && strcmp(time, "00:00") == 0;
        (void)fprintf(chart->plot.script, "%s'%s' %.4f", before,
                      !has_words ? ""
                      : is_end   ? "24:00"
                                 : time,
                      hour_of(chart, at_s));
        before = ", ";
    }
    (void)fputs(")\n", chart->plot.script);
}

/* Places the panel below the one before; the hours of the night are tinted in all of them. */
static void begin_panel(struct chart *chart, enum panel panel)
{
    FILE *script = chart->plot.script;
    bool is_last = true;
    for (int i = (int)panel + 1; i < PANEL_COUNT; i++) {
        is_last = is_last && !chart->has[i];
    }
    chart->used_px += gaps_px[panel];
    const double top = 1 - (double)chart->used_px / chart->height_px;
    chart->used_px += heights_px[panel];
    const double bottom = 1 - (double)chart->used_px / chart->height_px;
    (void)fprintf(
        script,
        "unset object\nunset label\nunset arrow\nset tmargin at screen %.5f\n"
        "set bmargin at screen %.5f\nset yrange [*:*]\nset ytics nomirror auto\nunset title\n",
        top, bottom);
    write_hours(chart, is_last);
    for (int i = 0; i < chart->run_count && panel != PANEL_RULED; i++) {
        const struct run *run = &chart->runs[i];
        if (run->limiter == LIMITER_NIGHT) {
            (void)fprintf(script,
                          "set object rect from first %.4f, graph 0 to first %.4f, graph 1 behind "
                          "fc rgb '#eeeeee' fs solid noborder\n",
                          run->from_h, run->to_h);
        }
    }
}

static void write_title(struct chart *chart)
{
    const struct report *report = chart->sheet->report;
    char day[80];
    char title[160];
    report_title(report, day, sizeof day);
    (void)snprintf(title, sizeof title, "%s, %s", report->day.space, day);
    (void)fputs("set label ", chart->plot.script);
    gnuplot_quote(&chart->plot, title);
    (void)fprintf(chart->plot.script, " at screen %.5f, screen %.5f left noenhanced\n",
                  (double)LEFT_PX / WIDTH, 1 - 0.6 * TITLE_PX / chart->height_px);
}

static void draw_ppfd(struct chart *chart)
{
    bool has_daylight = false;
    for (int i = 0; i < chart->sheet->minutes->count; i++) {
        has_daylight = has_daylight || chart->sheet->minutes->minutes[i].daylight_umol > 0.5;
    }
    begin_panel(chart, PANEL_PPFD);
    if (chart->sheet->is_alone) {
        write_title(chart);
    }
    (void)fputs("set yrange [0:*]\nset ylabel \"PPFD\\nµmol m⁻² s⁻¹\"\nplot ", chart->plot.script);
    if (has_daylight) {
        (void)fputs(
            "$day using 1:2:3 with filledcurves fc rgb '#f4cf73' title 'daylight, on top', ",
            chart->plot.script);
    }
    (void)fprintf(chart->plot.script,
                  "$day using 1:2 with filledcurves y1=0 fc rgb '#4a678f' title 'lamps', "
                  "$day using 1:%d with lines lc rgb 'black' lw 1 dt 1 notitle\n",
                  has_daylight ? 3 : 2);
}

static const char *fill_of(enum limiter limiter)
{
    switch (limiter) {
    case LIMITER_NIGHT:
        return "#3c3c3c";
    case LIMITER_DAWN:
    case LIMITER_DUSK:
        return "#d6d6d6";
    case LIMITER_FULL_LIGHT:
    case LIMITER_TARGET_MET:
    case LIMITER_PLAN:
        return "#ffffff";
    case LIMITER_NOT_RUNNING:
    case LIMITER_CLOCK_UNTRUSTED:
    case LIMITER_OUTPUT_FAULT:
    case LIMITER_HEAT_TRIP:
    case LIMITER_DRIVER_TRIP:
    case LIMITER_REST:
    case LIMITER_HEAT:
    case LIMITER_DRIVE_CEILING:
    case LIMITER_POWER_LIMIT:
    case LIMITER_LIGHT_CEILING:
    case LIMITER_SENSOR_LOST:
    case LIMITER_BY_HAND:
    case LIMITER_COUNT:
        break;
    }
    return "#e39a72";
}

/* The name where it fits, else its letter, which the caption explains. */
static void write_run(struct chart *chart, const struct run *run)
{
    FILE *script = chart->plot.script;
    const double width_px = (run->to_h - run->from_h) / 24 * (WIDTH - LEFT_PX - RIGHT_PX);
    const char *words = words_limiter(run->limiter);
    char letter[2] = {report_letter(run->limiter), '\0'};
    (void)fprintf(script,
                  "set object rect from first %.4f, graph 0 to first %.4f, graph 1 fc rgb '%s' fs "
                  "solid border lc rgb '#222222'\n",
                  run->from_h, run->to_h, fill_of(run->limiter));
    if (width_px < 1.5 * LETTER_PX) {
        return;
    }
    (void)fprintf(script, "set label ");
    gnuplot_quote(&chart->plot, (double)strlen(words) * LETTER_PX < width_px ? words : letter);
    (void)fprintf(script,
                  " at first %.4f, graph 0.45 center front noenhanced font ',12' tc rgb '%s'\n",
                  (run->from_h + run->to_h) / 2, run->limiter == LIMITER_NIGHT ? "white" : "black");
}

static void draw_ruled(struct chart *chart)
{
    begin_panel(chart, PANEL_RULED);
    for (int i = 0; i < chart->run_count; i++) {
        write_run(chart, &chart->runs[i]);
    }
    (void)fputs(
        "set yrange [0:1]\nunset ytics\nset ylabel 'ruled by' rotate by 0 offset "
        "-1,0\nplot NaN notitle\nset ytics nomirror auto\nset ylabel rotate by 90 offset 0,0\n",
        chart->plot.script);
}

static void draw_level(struct chart *chart)
{
    begin_panel(chart, PANEL_LEVEL);
    (void)fputs(
        "set yrange [0:105]\nset ytics nomirror 0,50,100\nset ylabel \"level\\n% of full light\"\n"
        "plot $day using 1:4 with filledcurves y1=0 fc rgb '#c9c9c9' notitle, "
        "$day using 1:4 with lines lc rgb 'black' lw 1.5 dt 1 notitle\n",
        chart->plot.script);
}

/* A line with its name on it. */
static void write_limit(const struct chart *chart, double limit_c, const char *words)
{
    if (units_known(limit_c)) {
        (void)fprintf(chart->plot.script,
                      "set arrow from graph 0, first %.2f to graph 1, first %.2f nohead lc rgb "
                      "'black' lw 1.2 dt 3\n"
                      "set label '%s %.0f °C' at graph 0.006, first %.2f left offset 0,0.5 font "
                      "',12' front\n",
                      limit_c, limit_c, words, limit_c, limit_c);
    }
}

static void draw_heat(struct chart *chart)
{
    const struct day_limits *limits = &chart->sheet->limits;
    bool has_air = false;
    bool has_heat = false;
    for (int i = 0; i < chart->sheet->minutes->count; i++) {
        has_air = has_air || units_known(chart->sheet->minutes->minutes[i].air_c);
        has_heat = has_heat || units_known(chart->sheet->minutes->minutes[i].heatsink_c);
    }
    begin_panel(chart, PANEL_HEAT);
    if (has_heat && units_known(limits->trip_c)) {
        (void)fprintf(chart->plot.script, "set yrange [*:%.1f<*]\n", limits->trip_c + 8);
    }
    if (has_heat) {
        write_limit(chart, limits->from_c, "dims from");
        write_limit(chart, limits->trip_c, "switch opens at");
    }
    (void)fputs("set ylabel \"temperature\\n°C\"\nplot ", chart->plot.script);
    if (has_heat) {
        (void)fputs("$day using 1:5 with lines lc rgb '#a83200' lw 2 dt 1 title 'hottest heatsink'",
                    chart->plot.script);
    }
    (void)fprintf(chart->plot.script, "%s%s\n", has_heat && has_air ? ", " : "",
                  has_air ? "$day using 1:6 with lines lc rgb '#0072B2' lw 2 dt 2 title 'air'"
                          : "");
}

/* The lowest and the highest price stand at the axis as they are. */
static void draw_price(struct chart *chart)
{
    const struct report *report = chart->sheet->report;
    const double low = report->price_low;
    const double high = report->price_high;
    char unit[32];
    begin_panel(chart, PANEL_PRICE);
    (void)snprintf(unit, sizeof unit, "%s per kWh", report->day.currency);
    (void)fputs("set ylabel noenhanced ", chart->plot.script);
    gnuplot_quote(&chart->plot, unit);
    (void)fprintf(chart->plot.script,
                  "\nset ytics nomirror ('%.3f' %.6g, '%.3f' %.6g)\nset yrange [%.6g:%.6g]\n"
                  "plot $day using 1:7 with steps lc rgb 'black' lw 1.5 dt 1 title 'price of "
                  "energy'\n",
                  low, low, high, high, low - (high - low) / 5, high + (high - low) / 5);
}

static void draw_all(struct chart *chart)
{
    (void)fprintf(
        chart->plot.script,
        "set multiplot\nset lmargin at screen %.5f\nset rmargin at screen %.5f\n"
        "set xrange [0:24]\nset border 3 lc rgb '#222222'\nset grid x y lc rgb '#c8c8c8' "
        "lw 0.6\nset tics nomirror out scale 0.6\nset key at graph 1, graph 1 right bottom "
        "horizontal samplen 2.5 height 0\n",
        (double)LEFT_PX / WIDTH, 1 - (double)RIGHT_PX / WIDTH);
    draw_ppfd(chart);
    draw_ruled(chart);
    draw_level(chart);
    if (chart->has[PANEL_HEAT]) {
        draw_heat(chart);
    }
    if (chart->has[PANEL_PRICE]) {
        draw_price(chart);
    }
    (void)fputs("unset multiplot\n", chart->plot.script);
}

int day_chart(const void *context, const char *path, struct err *err)
{
    const struct day_sheet *sheet = context;
    struct chart chart = {.sheet = sheet};
    if (sheet->minutes->count == 0) {
        return err_fail(err, ENOENT, "no minutes of this day are stored");
    }
    choose_panels(&chart);
    find_runs(&chart);
    const bool is_text = strcmp(path, "-") == 0;
    const int rc = gnuplot_begin(&chart.plot, path, is_text ? TEXT_WIDTH : WIDTH,
                                 is_text ? TEXT_HEIGHT : chart.height_px, err);
    if (rc < 0) {
        return rc;
    }
    write_data(&chart);
    if (is_text) { /* characters: the light alone */
        (void)fputs("set xrange [0:24]\nset yrange [0:*]\nset xlabel 'hours of the light day'\n"
                    "plot $day using 1:3 with lines title 'PPFD, umol m-2 s-1'\n",
                    chart.plot.script);
    } else {
        draw_all(&chart);
    }
    return gnuplot_end(&chart.plot, err);
}
