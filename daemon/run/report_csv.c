/* SPDX-License-Identifier: Apache-2.0 */
/* Minute rows as CSV: a header line, commas, quotes after RFC 4180 where needed, unknown values
 * empty. */
#include "parse.h"
#include "report.h"
#include "report_parts.h"
#include "units.h"

#include <math.h>
#include <string.h>

void report_csv_header(FILE *out)
{
    (void)fputs("time,space,light_day,ppfd_umol,lamp_umol,daylight_umol,level,drive,limiter,"
                "heatsink_c,air_c,humidity_percent,watts,delivered_mol,target_mol,price_per_kwh,"
                "quality\n",
                out);
}

/* Quoted only when a separator or quote makes it necessary. */
void report_csv_text(const char *text, FILE *out)
{
    if (!strpbrk(text, ",\"\r\n")) {
        (void)fputs(text, out);
        return;
    }
    (void)fputc('"', out);
    for (; *text; text++) {
        if (*text == '"') {
            (void)fputc('"', out);
        }
        (void)fputc(*text, out);
    }
    (void)fputc('"', out);
}

void report_csv_real(double value, FILE *out)
{
    if (isfinite(value)) {
        (void)fprintf(out, "%.9g", value);
    }
    (void)fputc(',', out);
}

void report_csv_minute(const struct journal_minute *minute, int32_t offset_s, FILE *out)
{
    char time[32];
    char date[16];
    parse_format_datetime(minute->wall_s, offset_s, time, sizeof time);
    parse_format_date(minute->light_day, date, sizeof date);
    (void)fprintf(out, "%s,", time);
    report_csv_text(minute->space, out);
    (void)fprintf(out, ",%s,", date);
    report_csv_real(minute->ppfd_umol, out);
    report_csv_real(minute->lamp_umol, out);
    report_csv_real(minute->daylight_umol, out);
    report_csv_real(minute->level, out);
    report_csv_real(minute->drive, out);
    (void)fprintf(out, "%s,", limiter_name(minute->limiter));
    report_csv_real(minute->heatsink_c, out);
    report_csv_real(minute->air_c, out);
    report_csv_real(minute->humidity_percent, out);
    report_csv_real(minute->watts, out);
    report_csv_real(minute->delivered_mol, out);
    report_csv_real(minute->target_mol, out);
    report_csv_real(minute->price_per_kwh, out);
    (void)fprintf(out, "%s\n", journal_quality_name(minute->quality));
}

struct csv {
    const struct report *report;
    FILE *out;
};

static int put_minute(const struct journal_minute *minute, void *context)
{
    const struct csv *csv = context;
    if (minute->light_day == csv->report->day.summary.light_day) {
        report_csv_minute(minute, csv->report->day.utc_offset_s, csv->out);
    }
    return 0;
}

int report_csv(const struct report *report, struct journal_reader *reader, FILE *out,
               struct err *err)
{
    const struct journal_range range = {report->day.space, report->day.begin_s,
                                        report->day.begin_s + UNITS_S_PER_DAY};
    struct csv csv = {.report = report, .out = out};
    return journal_read_minutes(reader, &range, put_minute, &csv, err);
}
