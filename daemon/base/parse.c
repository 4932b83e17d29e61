/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers and words. Times and dates are in parse_time.c. */
#include "parse.h"

#include "err.h"
#include "utf8.h"

#include <errno.h>
#include <locale.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define QUOTE_SIZE   48
#define DISTANCE_MAX 64 /* longer words are never a slip of the finger */

void parse_quote(const char *text, char *buffer, unsigned size)
{
    static const char cut[] = "…";
    if (size == 0) {
        return;
    }
    size_t room = size - 1;
    size_t length = strlen(text);
    bool is_cut = length > room;
    if (is_cut) {
        length = room >= sizeof cut - 1 ? room - (sizeof cut - 1) : 0;
        while (length > 0 && ((unsigned char)text[length] & 0xC0) == 0x80) {
            length--; /* never half a UTF-8 sequence */
        }
    }
    for (size_t i = 0; i < length;) {
        const unsigned char c = (unsigned char)text[i];
        const size_t bytes = utf8_sequence(text + i, length - i);
        const bool is_shown = bytes > 0 && c >= 0x20 && c != 0x7F;
        memcpy(buffer + i, is_shown ? text + i : "?", is_shown ? bytes : 1);
        i += is_shown ? bytes : 1;
    }
    buffer[length] = '\0';
    if (is_cut && room >= length + sizeof cut - 1) {
        memcpy(buffer + length, cut, sizeof cut);
    }
}

/* strtod alone would take "inf", "nan", hex floats, leading blanks and the locale's comma. */
static bool is_decimal(const char *text)
{
    const char *p = text + (*text == '+' || *text == '-');
    size_t whole = strspn(p, "0123456789");
    p += whole;
    size_t fraction = 0;
    if (*p == '.') {
        fraction = strspn(p + 1, "0123456789");
        p += 1 + fraction;
    }
    if (whole + fraction == 0) {
        return false;
    }
    if (*p == 'e' || *p == 'E') {
        p += 1 + (p[1] == '+' || p[1] == '-');
        size_t exponent = strspn(p, "0123456789");
        if (exponent == 0) {
            return false;
        }
        p += exponent;
    }
    return *p == '\0';
}

/* Up to 15 digits without an exponent: whole number and power of ten are exact, so their quotient
 * is what strtod gives (Clinger, PLDI 1990), for a tenth of the time. */
static bool to_double_fast(const char *text, double *ret)
{
    static const double tens[] = {1e0, 1e1, 1e2,  1e3,  1e4,  1e5,  1e6,  1e7,
                                  1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15};
    const char *p = text + (*text == '+' || *text == '-');
    int64_t whole = 0;
    int digits = 0;
    int decimals = 0;
    bool is_fraction = false;
    for (; *p != '\0'; p++) {
        if (*p == '.') {
            is_fraction = true;
            continue;
        }
        if (*p == 'e' || *p == 'E' || ++digits > 15) {
            return false;
        }
        whole = whole * 10 + (*p - '0');
        decimals += is_fraction;
    }
    const double value = (double)whole / tens[decimals];
    *ret = *text == '-' ? -value : value;
    return true;
}

static double to_double(const char *text)
{
    double fast = 0;
    if (to_double_fast(text, &fast)) {
        return fast;
    }
    locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    if (plain == (locale_t)0) {
        return (double)NAN;
    }
    double value = strtod_l(text, NULL, plain);
    freelocale(plain);
    return value;
}

int parse_real(const char *text, double low, double high, double *ret, struct err *err)
{
    char quoted[QUOTE_SIZE];
    if (!is_decimal(text)) {
        parse_quote(text, quoted, sizeof quoted);
        return err_fail(err, EINVAL, "\"%s\" is not a number (%.10g … %.10g)", quoted, low, high);
    }
    double value = to_double(text);
    if (!(isfinite(value) && value >= low && value <= high)) {
        parse_quote(text, quoted, sizeof quoted);
        return err_fail(err, ERANGE, "%s is out of range (%.10g … %.10g)", quoted, low, high);
    }
    *ret = value;
    return 0;
}

int parse_int(const char *text, int64_t low, int64_t high, int64_t *ret, struct err *err)
{
    char quoted[QUOTE_SIZE];
    parse_quote(text, quoted, sizeof quoted);
    const char *digits = text + (*text == '+' || *text == '-');
    size_t count = strspn(digits, "0123456789");
    if (count == 0 || digits[count] != '\0') {
        return err_fail(err, EINVAL, "\"%s\" is not a whole number (%lld … %lld)", quoted,
                        (long long)low, (long long)high);
    }
    errno = 0;
    long long value = strtoll(text, NULL, 10);
    if (errno != 0 || value < low || value > high) {
        return err_fail(err, ERANGE, "%s is out of range (%lld … %lld)", quoted, (long long)low,
                        (long long)high);
    }
    *ret = value;
    return 0;
}

static int smallest(int a, int b, int c)
{
    int least = a < b ? a : b;
    return least < c ? least : c;
}

/* Insertions, deletions, replacements and swapped neighbours each cost 1. */
int parse_distance(const char *a, const char *b, int limit)
{
    size_t a_length = strnlen(a, DISTANCE_MAX + 1);
    size_t b_length = strnlen(b, DISTANCE_MAX + 1);
    size_t apart = a_length > b_length ? a_length - b_length : b_length - a_length;
    if (a_length > DISTANCE_MAX || b_length > DISTANCE_MAX || limit < 0 || apart > (size_t)limit) {
        return limit + 1;
    }
    int rows[3][DISTANCE_MAX + 1];
    for (size_t j = 0; j <= b_length; j++) {
        rows[0][j] = (int)j;
    }
    for (size_t i = 1; i <= a_length; i++) {
        int *row = rows[i % 3];
        const int *above = rows[(i + 2) % 3];
        const int *two_above = rows[(i + 1) % 3];
        row[0] = (int)i;
        for (size_t j = 1; j <= b_length; j++) {
            int differs = a[i - 1] != b[j - 1];
            row[j] = smallest(above[j] + 1, row[j - 1] + 1, above[j - 1] + differs);
            bool is_swapped = i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1];
            if (is_swapped && two_above[j - 2] + 1 < row[j]) {
                row[j] = two_above[j - 2] + 1;
            }
        }
    }
    int distance = rows[a_length % 3][b_length];
    return distance > limit ? limit + 1 : distance;
}
