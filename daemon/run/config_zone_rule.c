/* SPDX-License-Identifier: Apache-2.0 */
/* The form of POSIX TZ (POSIX.1-2017, 8.3) with the longer times of RFC 8536, 3.3.1. */
#include "config_zone_parts.h"

#include <ctype.h>
#include <stdlib.h>

enum { DAY_S = 86400, OFFSET_HOURS = 24, TIME_HOURS = 167 };

/* "CET" or "<+1030>". */
static bool skip_name(const char **p)
{
    const char *start = *p;
    if (**p == '<') {
        while (**p != '\0' && **p != '>') {
            (*p)++;
        }
        if (**p != '>') {
            return false;
        }
        (*p)++;
        return true;
    }
    while (isalpha((unsigned char)**p)) {
        (*p)++;
    }
    return *p - start >= 3;
}

static bool take_number(const char **p, long low, long high, int *ret)
{
    if (!isdigit((unsigned char)**p)) {
        return false;
    }
    char *end = NULL;
    long value = strtol(*p, &end, 10);
    *p = end;
    *ret = (int)value;
    return value >= low && value <= high;
}

/* [+-]hh[:mm[:ss]] */
static bool take_time(const char **p, int hours_max, int32_t *ret_s)
{
    bool is_negative = **p == '-';
    *p += **p == '-' || **p == '+';
    int parts[3] = {0, 0, 0};
    for (int i = 0; i < 3; i++) {
        if (!take_number(p, 0, i == 0 ? hours_max : 59, &parts[i])) {
            return false;
        }
        if (i == 2 || **p != ':') {
            break;
        }
        (*p)++;
    }
    int32_t second = parts[0] * 3600 + parts[1] * 60 + parts[2];
    *ret_s = is_negative ? -second : second;
    return true;
}

/* West is positive there, east here. */
static bool take_offset(const char **p, int32_t *ret_east_s)
{
    int32_t west_s = 0;
    bool is_good = take_time(p, OFFSET_HOURS, &west_s);
    *ret_east_s = -west_s;
    return is_good;
}

static bool take_dot(const char **p)
{
    bool is_dot = **p == '.';
    *p += is_dot;
    return is_dot;
}

static bool take_date(const char **p, struct zone_date *ret)
{
    bool is_good = false;
    *ret = (struct zone_date){.form = '0', .second = 2 * 3600};
    if (**p == 'M') {
        ret->form = 'M';
        (*p)++;
        is_good = take_number(p, 1, 12, &ret->month) && take_dot(p) &&
                  take_number(p, 1, 5, &ret->week) && take_dot(p) &&
                  take_number(p, 0, 6, &ret->day);
    } else if (**p == 'J') {
        ret->form = 'J';
        (*p)++;
        is_good = take_number(p, 1, 365, &ret->day);
    } else {
        is_good = take_number(p, 0, 365, &ret->day);
    }
    if (is_good && **p == '/') {
        (*p)++;
        is_good = take_time(p, TIME_HOURS, &ret->second);
    }
    return is_good;
}

static bool take_dates(const char **p, struct zone_rule *rule)
{
    if (**p == '\0') {
        return true;
    }
    if (*(*p)++ != ',' || !take_date(p, &rule->start) || *(*p)++ != ',') {
        return false;
    }
    rule->has_dates = true;
    return take_date(p, &rule->end) && **p == '\0';
}

bool zone_rule_parse(const char *text, struct zone_rule *ret)
{
    const char *p = text;
    struct zone_rule rule = {0};
    if (!skip_name(&p) || !take_offset(&p, &rule.standard_s)) {
        return false;
    }
    rule.other_s = rule.standard_s;
    if (*p != '\0') {
        if (!skip_name(&p)) {
            return false;
        }
        rule.other_s = rule.standard_s + 3600;
        if (*p != '\0' && *p != ',' && !take_offset(&p, &rule.other_s)) {
            return false;
        }
        if (!take_dates(&p, &rule)) {
            return false;
        }
    }
    *ret = rule;
    return true;
}

static int64_t day_of(const struct zone_date *date, int32_t year)
{
    int64_t new_year = civil_day(year, 1, 1);
    if (date->form == '0') {
        return new_year + date->day;
    }
    if (date->form == 'J') {
        bool is_leap = civil_day(year, 3, 1) - new_year == 60;
        return new_year + date->day - 1 + (is_leap && date->day >= 60);
    }
    int64_t first = civil_day(year, date->month, 1);
    int64_t next =
        date->month == 12 ? civil_day(year + 1, 1, 1) : civil_day(year, date->month + 1, 1);
    int64_t weekday = (first + 4) % 7; /* 1970-01-01 was a Thursday; from 1970 on */
    int64_t day = first + (date->day - weekday + 7) % 7 + 7 * (int64_t)(date->week - 1);
    return day < next ? day : day - 7;
}

void zone_rule_changes(const struct zone_rule *rule, int32_t year, struct civil_change ret[2])
{
    const struct civil_change start = {
        day_of(&rule->start, year) * DAY_S + rule->start.second - rule->standard_s, rule->other_s};
    const struct civil_change end = {
        day_of(&rule->end, year) * DAY_S + rule->end.second - rule->other_s, rule->standard_s};
    bool is_north = start.from_s < end.from_s;
    ret[0] = is_north ? start : end;
    ret[1] = is_north ? end : start;
}
