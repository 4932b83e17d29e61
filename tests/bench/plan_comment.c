/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_comment.h"

#include "err.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

/* A number at p, its end in ret_end; NAN when there is none. */
static double number_at(const char *p, const char **ret_end)
{
    char *end;
    const double value = strtod(p, &end);
    *ret_end = end;
    return end == p || !(isdigit((unsigned char)*p) || *p == '-' || *p == '+' || *p == '.')
               ? (double)NAN
               : value;
}

/* A number followed by one of two letters ("36.1N", "79.95 W"): positive for the first of them. */
static bool number_with(const char *text, const char letters[2], double *ret)
{
    for (const char *p = text; *p; p++) {
        if (p > text && (isalnum((unsigned char)p[-1]) || strchr(".-+", p[-1]))) {
            continue;
        }
        const char *end;
        const double value = number_at(p, &end);
        if (isnan(value)) {
            continue;
        }
        while (*end == ' ' || (unsigned char)*end >= 0x80) { /* a degree sign */
            end++;
        }
        if ((*end == letters[0] || *end == letters[1]) && !isalnum((unsigned char)end[1])) {
            *ret = *end == letters[0] ? value : -value;
            return true;
        }
    }
    return false;
}

/* The number behind a word ("latitude=55.8", "lon 12.5"). */
static bool number_behind(const char *text, const char *word, double *ret)
{
    const char *p = strcasestr(text, word);
    if (!p) {
        return false;
    }
    p += strcspn(p, "0123456789+-");
    const char *end;
    const double value = number_at(p, &end);
    if (isnan(value)) {
        return false;
    }
    *ret = value;
    return true;
}

/* The first two numbers with a decimal point. */
static bool two_decimals(const char *text, double *ret_latitude, double *ret_longitude)
{
    double found[2];
    int count = 0;
    for (const char *p = text; *p && count < 2;) {
        const char *end;
        const double value = number_at(p, &end);
        if (isnan(value) || (p > text && isalnum((unsigned char)p[-1]))) {
            p++;
            continue;
        }
        if (memchr(p, '.', (size_t)(end - p)) && end[-1] != '.') {
            found[count++] = value;
        }
        p = end;
    }
    if (count < 2) {
        return false;
    }
    *ret_latitude = found[0];
    *ret_longitude = found[1];
    return true;
}

static bool find_place(const char *text, double *ret_latitude, double *ret_longitude)
{
    const bool has_letters =
        number_with(text, "NS", ret_latitude) && number_with(text, "EW", ret_longitude);
    const bool is_found =
        has_letters ||
        (number_behind(text, "lat", ret_latitude) && number_behind(text, "lon", ret_longitude)) ||
        two_decimals(text, ret_latitude, ret_longitude);
    return is_found && fabs(*ret_latitude) <= 90 && fabs(*ret_longitude) <= 180;
}

/* "UTC-7", "UTC+05:30", "GMT+1", with a minus sign of either kind. */
static bool find_offset(const char *text, int *ret_min)
{
    for (const char *p = text; *p; p++) {
        if (strncmp(p, "UTC", 3) != 0 && strncmp(p, "GMT", 3) != 0) {
            continue;
        }
        const char *q = p + 3 + (p[3] == ' ');
        int sign = *q == '-' ? -1 : *q == '+' ? 1 : 0;
        q += sign != 0;
        if (strncmp(q, "\xe2\x88\x92", 3) == 0) {
            sign = -1;
            q += 3;
        }
        if (sign != 0 && isdigit((unsigned char)*q)) {
            char *end;
            const long hours = strtol(q, &end, 10);
            const long minutes = *end == ':' ? strtol(end + 1, NULL, 10) : 0;
            *ret_min = sign * (int)(hours * 60 + minutes);
            return labs(hours) <= 14;
        }
    }
    return false;
}

/* Whether the text has a word that begins so, letters of any case. */
static bool has_word(const char *text, const char *word)
{
    for (const char *p = text; (p = strcasestr(p, word)); p++) {
        if (p == text || !isalpha((unsigned char)p[-1])) {
            return true;
        }
    }
    return false;
}

static enum plan_stamp find_stamp(const char *text)
{
    if (has_word(text, "cent") || has_word(text, "middle") || has_word(text, "midpoint")) {
        return PLAN_STAMP_CENTRE;
    }
    if (has_word(text, "end")) {
        return PLAN_STAMP_END;
    }
    return has_word(text, "start") || has_word(text, "begin") ? PLAN_STAMP_BEGIN : PLAN_STAMP_END;
}

static int find_year(const char *text)
{
    for (const char *p = text; *p; p++) {
        char *end;
        const long year = isdigit((unsigned char)*p) ? strtol(p, &end, 10) : 0;
        const bool stands_alone = p == text || !strchr("0123456789.-+", p[-1]);
        if (year >= 1950 && year <= 2199 && end == p + 4 && *end != '.' && stands_alone &&
            strncmp(end, " m", 2) != 0) {
            return (int)year;
        }
    }
    return 2023;
}

int plan_comment_read(const char *line, struct plan_comment *ret, struct err *err)
{
    struct plan_comment comment = {0};
    if (line[0] != '#') {
        return err_fail(err, EINVAL, "the first line is no # comment");
    }
    if (!find_place(line, &comment.latitude, &comment.longitude)) {
        return err_fail(err, EINVAL, "the comment gives no latitude and longitude");
    }
    comment.offset_min = 60 * (int)lround(comment.longitude / 15);
    find_offset(line, &comment.offset_min);
    comment.stamp = find_stamp(line);
    comment.first_year = find_year(line);
    *ret = comment;
    return 0;
}
