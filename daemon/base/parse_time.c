/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Times, dates and durations of parse.h. The calendar is the proleptic Gregorian one, counted in
 * days with years that begin in March, so that the leap day is the last of its year.
 */
#include "parse.h"

#include "err.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

enum {
    QUOTE_SIZE = 48,
    YEAR_MIN = 1970,
    YEAR_MAX = 2199,
    OFFSET_MAX_S = 14 * 3600,
    DAYS_PER_400_YEARS = 146097,
    MARCH_0000_TO_1970 = 719468, /* days from 0000-03-01 to 1970-01-01 */
};

struct civil {
    int64_t year;
    int month, day;
};

static int64_t day_of_civil(struct civil date)
{
    int64_t year = date.month > 2 ? date.year : date.year - 1;
    int64_t era = (year >= 0 ? year : year - 399) / 400;
    int64_t year_of_era = year - era * 400;
    int64_t month = (date.month + 9) % 12; /* March is 0 */
    int64_t day_of_year = (153 * month + 2) / 5 + date.day - 1;
    int64_t day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return era * DAYS_PER_400_YEARS + day_of_era - MARCH_0000_TO_1970;
}

static struct civil civil_of_day(int64_t day)
{
    int64_t shifted = day + MARCH_0000_TO_1970;
    int64_t era =
        (shifted >= 0 ? shifted : shifted - (DAYS_PER_400_YEARS - 1)) / DAYS_PER_400_YEARS;
    int64_t day_of_era = shifted - era * DAYS_PER_400_YEARS;
    int64_t year_of_era =
        (day_of_era - day_of_era / 1460 + day_of_era / 36524 - day_of_era / 146096) / 365;
    int64_t day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int64_t month = (5 * day_of_year + 2) / 153; /* March is 0 */
    struct civil date;
    date.day = (int)(day_of_year - (153 * month + 2) / 5 + 1);
    date.month = (int)(month < 10 ? month + 3 : month - 9);
    date.year = year_of_era + era * 400 + (date.month <= 2);
    return date;
}

/* Reads exactly `count` digits and moves on; −1 when one is missing. */
static int take_digits(const char **p, int count)
{
    int value = 0;
    for (int i = 0; i < count; i++) {
        char c = (*p)[i];
        if (c < '0' || c > '9') {
            return -1;
        }
        value = value * 10 + (c - '0');
    }
    *p += count;
    return value;
}

static bool take_char(const char **p, char c)
{
    if (**p != c) {
        return false;
    }
    (*p)++;
    return true;
}

enum taken { TAKEN, NOT_OF_THAT_FORM, OUT_OF_RANGE };

static enum taken take_time(const char **p, int32_t *ret_s)
{
    int hour = take_digits(p, 2);
    if (hour < 0 || !take_char(p, ':')) {
        return NOT_OF_THAT_FORM;
    }
    int minute = take_digits(p, 2);
    int second = 0;
    if (minute < 0 || (take_char(p, ':') && (second = take_digits(p, 2)) < 0)) {
        return NOT_OF_THAT_FORM;
    }
    if (hour > 23 || minute > 59 || second > 59) {
        return OUT_OF_RANGE;
    }
    *ret_s = hour * 3600 + minute * 60 + second;
    return TAKEN;
}

static enum taken take_offset(const char **p, int32_t *ret_s)
{
    if (take_char(p, 'Z')) {
        *ret_s = 0;
        return TAKEN;
    }
    bool is_west = **p == '-';
    if (!take_char(p, '+') && !take_char(p, '-')) {
        return NOT_OF_THAT_FORM;
    }
    int hour = take_digits(p, 2);
    if (hour < 0 || !take_char(p, ':')) {
        return NOT_OF_THAT_FORM;
    }
    int minute = take_digits(p, 2);
    if (minute < 0) {
        return NOT_OF_THAT_FORM;
    }
    int32_t offset_s = hour * 3600 + minute * 60;
    if (minute > 59 || offset_s > OFFSET_MAX_S) {
        return OUT_OF_RANGE;
    }
    *ret_s = is_west ? -offset_s : offset_s;
    return TAKEN;
}

static enum taken take_date(const char **p, int64_t *ret_day)
{
    int year = take_digits(p, 4);
    if (year < 0 || !take_char(p, '-')) {
        return NOT_OF_THAT_FORM;
    }
    int month = take_digits(p, 2);
    if (month < 0 || !take_char(p, '-')) {
        return NOT_OF_THAT_FORM;
    }
    int day = take_digits(p, 2);
    if (day < 0) {
        return NOT_OF_THAT_FORM;
    }
    if (year < YEAR_MIN || year > YEAR_MAX || month < 1 || month > 12 || day < 1) {
        return OUT_OF_RANGE;
    }
    struct civil asked = {year, month, day};
    int64_t number = day_of_civil(asked);
    struct civil found = civil_of_day(number);
    if (found.month != month || found.day != day) { /* 30 February is 1 or 2 March */
        return OUT_OF_RANGE;
    }
    *ret_day = number;
    return TAKEN;
}

/* One sentence for both kinds of failure; 0 when the text was taken whole. */
static int conclude(enum taken taken, const char *text, const char *rest, const char *form,
                    struct err *err)
{
    char quoted[QUOTE_SIZE];
    parse_quote(text, quoted, sizeof quoted);
    if (taken == NOT_OF_THAT_FORM || (taken == TAKEN && *rest != '\0')) {
        return err_fail(err, EINVAL, "\"%s\" is not %s", quoted, form);
    }
    if (taken == OUT_OF_RANGE) {
        return err_fail(err, ERANGE, "\"%s\" is out of range: not %s", quoted, form);
    }
    return 0;
}

int parse_time_of_day(const char *text, int32_t *ret_s, struct err *err)
{
    const char *p = text;
    int32_t second = 0;
    enum taken taken = take_time(&p, &second);
    int r = conclude(taken, text, p, "a time of day (\"00:00\" … \"23:59:59\")", err);
    if (r == 0) {
        *ret_s = second;
    }
    return r;
}

int parse_utc_offset(const char *text, int32_t *ret_s, struct err *err)
{
    const char *p = text;
    int32_t offset_s = 0;
    enum taken taken = take_offset(&p, &offset_s);
    int r = conclude(taken, text, p, "an offset from UTC (\"-14:00\" … \"+14:00\")", err);
    if (r == 0) {
        *ret_s = offset_s;
    }
    return r;
}

int parse_date(const char *text, int64_t *ret_day, struct err *err)
{
    const char *p = text;
    int64_t day = 0;
    enum taken taken = take_date(&p, &day);
    int r = conclude(taken, text, p, "a date (\"1970-01-01\" … \"2199-12-31\")", err);
    if (r == 0) {
        *ret_day = day;
    }
    return r;
}

int parse_datetime(const char *text, int64_t *ret_wall_s, struct err *err)
{
    const char *p = text;
    int64_t day = 0;
    int32_t second = 0;
    int32_t offset_s = 0;
    enum taken taken = take_date(&p, &day);
    if (taken == TAKEN && !take_char(&p, 'T') && !take_char(&p, ' ')) {
        taken = NOT_OF_THAT_FORM;
    }
    if (taken == TAKEN) {
        taken = take_time(&p, &second);
    }
    if (taken == TAKEN) {
        taken = take_offset(&p, &offset_s);
    }
    int r = conclude(taken, text, p, "a time with its offset (\"2026-11-02T06:00:00+01:00\")", err);
    if (r == 0) {
        *ret_wall_s = day * 86400 + second - offset_s;
    }
    return r;
}

/* One "30min" of a duration; units must come largest first, so *unit only moves on. */
static bool take_part(const char **p, size_t *unit, int64_t *sum_s)
{
    static const struct {
        const char *name;
        int64_t seconds;
    } units[] = {{"d", 86400}, {"h", 3600}, {"min", 60}, {"s", 1}};
    int64_t count = 0;
    size_t digits = strspn(*p, "0123456789");
    if (digits == 0 || digits > 12) {
        return false;
    }
    for (size_t i = 0; i < digits; i++) {
        count = count * 10 + ((*p)[i] - '0');
    }
    *p += digits;
    size_t letters = strspn(*p, "abcdefghijklmnopqrstuvwxyz");
    for (; *unit < sizeof units / sizeof *units; (*unit)++) {
        if (letters == strlen(units[*unit].name) && strncmp(*p, units[*unit].name, letters) == 0) {
            *p += letters;
            *sum_s += count * units[*unit].seconds; /* ≤ 4 × 10^12 × 86400: fits */
            (*unit)++;
            return true;
        }
    }
    return false;
}

int parse_duration(const char *text, int64_t high_s, int64_t *ret_s, struct err *err)
{
    char quoted[QUOTE_SIZE];
    parse_quote(text, quoted, sizeof quoted);
    char high[24];
    parse_format_duration((double)high_s, high, sizeof high);
    const char *p = text;
    size_t unit = 0;
    int64_t sum_s = 0;
    do {
        if (!take_part(&p, &unit, &sum_s)) {
            return err_fail(err, EINVAL,
                            "\"%s\" is not a duration with its unit (\"90s\", \"30min\", \"2h\", "
                            "\"1h30min\", \"1d\"; at most %s)",
                            quoted, high);
        }
    } while (*p != '\0');
    if (sum_s <= 0 || sum_s > high_s) {
        return err_fail(err, ERANGE, "\"%s\" is out of range (above 0 s, at most %s)", quoted,
                        high);
    }
    *ret_s = sum_s;
    return 0;
}

/* What four digits of a year can show; a caller's garbage becomes the nearest of them. */
static struct civil civil_shown(int64_t day)
{
    const int64_t low = -719162;  /* 0001-01-01 */
    const int64_t high = 2932896; /* 9999-12-31 */
    return civil_of_day(day < low ? low : day > high ? high : day);
}

void parse_format_date(int64_t day, char *buffer, unsigned size)
{
    struct civil date = civil_shown(day);
    (void)snprintf(buffer, size, "%04d-%02d-%02d", (int)date.year, date.month, date.day);
}

void parse_format_datetime(int64_t wall_s, int32_t offset_s, char *buffer, unsigned size)
{
    int64_t day = wall_s / 86400;
    int64_t second = wall_s % 86400 + offset_s;
    while (second < 0) {
        second += 86400;
        day--;
    }
    while (second >= 86400) {
        second -= 86400;
        day++;
    }
    struct civil date = civil_shown(day);
    int minutes = (offset_s < 0 ? -offset_s : offset_s) / 60;
    (void)snprintf(buffer, size, "%04d-%02d-%02dT%02d:%02d:%02d%c%02d:%02d", (int)date.year,
                   date.month, date.day, (int)(second / 3600), (int)(second / 60 % 60),
                   (int)(second % 60), offset_s < 0 ? '-' : '+', minutes / 60, minutes % 60);
}

void parse_format_time_of_day(int32_t second, char *buffer, unsigned size)
{
    int hour = second / 3600;
    int minute = second / 60 % 60;
    if (second % 60 == 0) {
        (void)snprintf(buffer, size, "%02d:%02d", hour, minute);
    } else {
        (void)snprintf(buffer, size, "%02d:%02d:%02d", hour, minute, second % 60);
    }
}

void parse_format_duration(double seconds, char *buffer, unsigned size)
{
    if (!(fabs(seconds) < 1e12)) {
        (void)snprintf(buffer, size, isnan(seconds) ? "unknown" : "for ever");
        return;
    }
    const char *sign = seconds < 0 ? "-" : "";
    int64_t whole_s = llround(fabs(seconds));
    int64_t whole_min = (whole_s + 30) / 60;
    if (whole_s < 120 && whole_s % 60 != 0) {
        (void)snprintf(buffer, size, "%s%d s", sign, (int)whole_s);
    } else if (whole_s == 0) {
        (void)snprintf(buffer, size, "0 s");
    } else if (whole_min < 60) {
        (void)snprintf(buffer, size, "%s%d min", sign, (int)whole_min);
    } else if (whole_min < 48 * 60) {
        (void)snprintf(buffer, size, "%s%d h %02d min", sign, (int)(whole_min / 60),
                       (int)(whole_min % 60));
    } else {
        int64_t whole_h = (whole_min + 30) / 60;
        (void)snprintf(buffer, size, "%s%lld d %d h", sign, (long long)(whole_h / 24),
                       (int)(whole_h % 24));
    }
}
