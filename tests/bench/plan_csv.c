/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_csv.h"

#include "plan_comment.h"
#include "plan_sites.h"

#include "err.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LINE_MAX_BYTES 4096
#define FIELDS_MAX     32
#define PAR_UMOL_PER_J 4.6 /* inside the PAR band: the SURFRAD network's documentation */

static const double MISSING = (double)NAN;

enum column { TIME, YEAR, MONTH, DAY, HOUR, HOUR_ENDING, MINUTE, GHI, PPFD, PAR, QC, COLUMNS };

struct reader {
    struct plan_csv *csv;
    size_t room;
    int column[COLUMNS]; /* −1: none */
    bool time_is_utc;
    enum plan_stamp stamp;
    int first_year;
    int last_month, years_on; /* of files without a year */
    struct err *err;
};

int64_t plan_csv_day(int64_t year, int month, int day)
{
    const int64_t shifted = month > 2 ? year : year - 1; /* years that begin in March */
    const int64_t era = (shifted >= 0 ? shifted : shifted - 399) / 400;
    const int64_t of_era = shifted - era * 400;
    const int64_t of_year = (153 * ((month + 9) % 12) + 2) / 5 + day - 1;
    return era * 146097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719468;
}

/* ---- the names of the columns ---- */

static int split(char *line, char **fields)
{
    int count = 0;
    line[strcspn(line, "\r\n")] = 0;
    for (char *p = line; count < FIELDS_MAX;) {
        fields[count++] = p;
        p = strchr(p, ',');
        if (!p) {
            break;
        }
        *p++ = 0;
    }
    return count;
}

static bool begins(const char *name, const char *with)
{
    return strncasecmp(name, with, strlen(with)) == 0;
}

static enum column column_of(const char *name)
{
    static const struct {
        const char *name;
        enum column column;
    } known[] = {{"hour_end", HOUR_ENDING},
                 {"hour", HOUR},
                 {"minute", MINUTE},
                 {"month", MONTH},
                 {"year", YEAR},
                 {"day", DAY},
                 {"time", TIME},
                 {"date", TIME},
                 {"ghi", GHI},
                 {"ppfd", PPFD},
                 {"par", PAR},
                 {"qc", QC}};
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (begins(name, known[i].name)) {
            return known[i].column;
        }
    }
    return COLUMNS;
}

static int read_names(struct reader *reader, char *line)
{
    char *fields[FIELDS_MAX];
    const int count = split(line, fields);
    for (int i = 0; i < COLUMNS; i++) {
        reader->column[i] = -1;
    }
    for (int i = 0; i < count; i++) {
        const char *name = fields[i] + strspn(fields[i], " ");
        const enum column column = column_of(name);
        if (column != COLUMNS && reader->column[column] < 0) {
            reader->column[column] = i;
            if (column == TIME) {
                reader->time_is_utc = strcasestr(name, "utc") != NULL;
            }
        }
    }
    const int *column = reader->column;
    const bool has_time = column[TIME] >= 0 || (column[MONTH] >= 0 && column[DAY] >= 0 &&
                                                (column[HOUR] >= 0 || column[HOUR_ENDING] >= 0));
    if (!has_time || (column[GHI] < 0 && column[PPFD] < 0 && column[PAR] < 0)) {
        return err_fail(reader->err, EINVAL, "the columns give no time or no irradiance");
    }
    if (column[HOUR_ENDING] >= 0) {
        reader->stamp = PLAN_STAMP_END;
    }
    return 0;
}

/* ---- the rows ---- */

static double field_value(char **fields, int count, int column)
{
    if (column < 0 || column >= count) {
        return MISSING;
    }
    char *end;
    const double value = strtod(fields[column], &end);
    return end == fields[column] ? MISSING : value;
}

/* `digits` figures and one of the characters behind them (skipped); −1: not so. */
static int take(const char **p, int digits, const char *behind)
{
    int value = 0;
    for (int i = 0; i < digits; i++, (*p)++) {
        if (!isdigit((unsigned char)**p)) {
            return -1;
        }
        value = value * 10 + (**p - '0');
    }
    if (behind && (!**p || !strchr(behind, **p))) {
        return -1;
    }
    *p += behind != NULL;
    return value;
}

/* "Z", "+01:00", "-0500" or nothing: seconds east of UTC. */
static int64_t zone_s(const struct reader *reader, const char *text)
{
    const char *p = text + strcspn(text, "Z+-");
    if (*p == 'Z') {
        return 0;
    }
    if (*p == 0) {
        return reader->time_is_utc ? 0 : 60 * (int64_t)reader->csv->offset_min;
    }
    const int sign = *p++ == '-' ? -1 : 1;
    const int hours = take(&p, 2, NULL);
    p += *p == ':';
    const int minutes = take(&p, 2, NULL);
    return sign * (int64_t)(3600 * fmax(hours, 0) + 60 * fmax(minutes, 0));
}

/* "2017-01-01T00:01Z", "2017-01-01 00:01:30", "…+01:00": seconds as UTC; false: no time. */
static bool iso_time(const struct reader *reader, const char *text, int64_t *ret_s)
{
    const char *p = text + strspn(text, " ");
    const int year = take(&p, 4, "-");
    const int month = year < 0 ? -1 : take(&p, 2, "-");
    const int day = month < 0 ? -1 : take(&p, 2, "T ");
    const int hour = day < 0 ? -1 : take(&p, 2, ":");
    const int minute = hour < 0 ? -1 : take(&p, 2, NULL);
    if (minute < 0 || month < 1 || month > 12) {
        return false;
    }
    int second = 0;
    if (*p == ':') {
        p++;
        second = take(&p, 2, NULL);
    }
    *ret_s = plan_csv_day(year, month, day) * 86400 + hour * 3600 + minute * 60 +
             (second < 0 ? 0 : second) - zone_s(reader, p);
    return true;
}

static bool parts_time(struct reader *reader, char **fields, int count, int64_t *ret_s)
{
    const int *column = reader->column;
    const double month = field_value(fields, count, column[MONTH]);
    const double day = field_value(fields, count, column[DAY]);
    const double hour =
        field_value(fields, count, column[HOUR_ENDING] >= 0 ? column[HOUR_ENDING] : column[HOUR]);
    const double minute = column[MINUTE] >= 0 ? field_value(fields, count, column[MINUTE]) : 0;
    double year = field_value(fields, count, column[YEAR]);
    if (!(month >= 1 && month <= 12) || isnan(day) || isnan(hour) || isnan(minute)) {
        return false;
    }
    if (isnan(year)) {
        if ((int)month < reader->last_month) {
            reader->years_on++;
        }
        reader->last_month = (int)month;
        year = reader->first_year + reader->years_on;
    }
    *ret_s = plan_csv_day((int)year, (int)month, (int)day) * 86400 + (int64_t)(hour * 3600) +
             (int64_t)(minute * 60) - 60 * (int64_t)reader->csv->offset_min;
    return true;
}

static double irradiance(const struct reader *reader, char **fields, int count)
{
    const int *column = reader->column;
    const double quality = field_value(fields, count, column[QC]);
    double value = field_value(fields, count, column[GHI]);
    if (column[GHI] < 0 && column[PPFD] >= 0) {
        value = field_value(fields, count, column[PPFD]) / PLAN_UMOL_PER_J;
    } else if (column[GHI] < 0) {
        value = field_value(fields, count, column[PAR]) * PAR_UMOL_PER_J / PLAN_UMOL_PER_J;
    }
    const bool is_bad = (!isnan(quality) && quality != 0) || !(value > -50 && value < 1900);
    return is_bad ? MISSING : value;
}

static int add_row(struct reader *reader, struct plan_row row)
{
    struct plan_csv *csv = reader->csv;
    if (csv->count == reader->room) {
        reader->room = reader->room ? 2 * reader->room : 16384;
        struct plan_row *grown = realloc(csv->rows, reader->room * sizeof *grown);
        if (!grown) {
            return err_fail(reader->err, ENOMEM, "no memory for %zu rows", reader->room);
        }
        csv->rows = grown;
    }
    csv->rows[csv->count++] = row;
    return 0;
}

static int read_rows(struct reader *reader, FILE *file)
{
    char line[LINE_MAX_BYTES];
    char *fields[FIELDS_MAX];
    while (fgets(line, sizeof line, file)) {
        const int count = split(line, fields);
        struct plan_row row;
        const bool has_time = reader->column[TIME] >= 0
                                  ? reader->column[TIME] < count &&
                                        iso_time(reader, fields[reader->column[TIME]], &row.begin_s)
                                  : parts_time(reader, fields, count, &row.begin_s);
        if (!has_time) {
            continue;
        }
        row.ghi = irradiance(reader, fields, count);
        const int rc = add_row(reader, row);
        if (rc < 0) {
            return rc;
        }
    }
    return 0;
}

static int by_value(const void *a, const void *b)
{
    const int64_t x = *(const int64_t *)a;
    const int64_t y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

/* The median distance of two rows; the rows' stamps become their beginnings. */
static int settle_steps(struct reader *reader)
{
    struct plan_csv *csv = reader->csv;
    if (csv->count < 3) {
        return err_fail(reader->err, EINVAL, "only %zu rows", csv->count);
    }
    int64_t *steps = malloc(csv->count * sizeof *steps);
    if (!steps) {
        return err_fail(reader->err, ENOMEM, "no memory for %zu steps", csv->count);
    }
    for (size_t i = 1; i < csv->count; i++) {
        steps[i - 1] = csv->rows[i].begin_s - csv->rows[i - 1].begin_s;
    }
    qsort(steps, csv->count - 1, sizeof *steps, by_value);
    csv->step_s = steps[(csv->count - 1) / 2];
    free(steps);
    if (csv->step_s < 1 || csv->step_s > 3 * 3600) {
        return err_fail(reader->err, EINVAL, "a step of %lld s, 1 … 10800 s allowed",
                        (long long)csv->step_s);
    }
    const int64_t back_s = reader->stamp == PLAN_STAMP_END      ? csv->step_s
                           : reader->stamp == PLAN_STAMP_CENTRE ? csv->step_s / 2
                                                                : 0;
    for (size_t i = 0; i < csv->count; i++) {
        csv->rows[i].begin_s -= back_s;
    }
    return 0;
}

static int read_comment(struct reader *reader, const char *line)
{
    struct plan_comment comment;
    const int rc = plan_comment_read(line, &comment, reader->err);
    if (rc == 0) {
        reader->csv->latitude = comment.latitude;
        reader->csv->longitude = comment.longitude;
        reader->csv->offset_min = comment.offset_min;
        reader->stamp = comment.stamp;
        reader->first_year = comment.first_year;
    }
    return rc;
}

static int read_file(struct reader *reader, FILE *file)
{
    char line[LINE_MAX_BYTES];
    int rc = fgets(line, sizeof line, file) ? read_comment(reader, line)
                                            : err_fail(reader->err, EINVAL, "it is empty");
    if (rc == 0) {
        rc = fgets(line, sizeof line, file) ? read_names(reader, line)
                                            : err_fail(reader->err, EINVAL, "it has no columns");
    }
    if (rc == 0) {
        rc = read_rows(reader, file);
    }
    return rc == 0 ? settle_steps(reader) : rc;
}

int plan_csv_read(const char *path, struct plan_csv *ret, struct err *err)
{
    FILE *file = fopen(path, "re");
    if (!file) {
        const int code = errno;
        return err_fail(err, code, "%s: %s", path, err_name(code));
    }
    struct plan_csv csv = {0};
    struct reader reader = {.csv = &csv, .err = err};
    const int rc = read_file(&reader, file);
    (void)fclose(file);
    if (rc < 0) {
        free(csv.rows);
        err_prefix(err, "%s", path);
        return rc;
    }
    *ret = csv;
    return 0;
}
