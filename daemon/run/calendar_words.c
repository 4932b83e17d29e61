/* SPDX-License-Identifier: Apache-2.0 */
#include "calendar_words.h"

#include <ctype.h>
#include <errno.h>
#include <stdbool.h>
#include <string.h>

#define LETTERS 3

static const char weekdays[] = "MonTueWedThuFriSatSun";
static const char months[] = "JanFebMarAprMayJunJulAugSepOctNovDec";

static void skip_spaces(const char **p)
{
    *p += strspn(*p, " ");
}

/* −1: no such name. */
static int take_name(const char **p, const char *names)
{
    int count = (int)(strlen(names) / LETTERS);
    for (int i = 0; i < count; i++) {
        if (strncasecmp(*p, names + (size_t)i * LETTERS, LETTERS) == 0 &&
            !isalpha((unsigned char)(*p)[LETTERS])) {
            *p += LETTERS;
            skip_spaces(p);
            return i;
        }
    }
    return -1;
}

static int take_list(const char *text, const char *names, int64_t *ret_bits)
{
    int count = (int)(strlen(names) / LETTERS);
    int64_t bits = 0;
    for (const char *p = text;; p++) {
        skip_spaces(&p);
        int from = take_name(&p, names);
        int to = from;
        if (*p == '-') {
            p++;
            skip_spaces(&p);
            to = take_name(&p, names);
        }
        if (from < 0 || to < 0 || (*p != ',' && *p != '\0')) {
            return -EINVAL;
        }
        for (int i = from;; i = (i + 1) % count) {
            bits |= INT64_C(1) << i;
            if (i == to) {
                break;
            }
        }
        if (*p == '\0') {
            *ret_bits = bits;
            return 0;
        }
    }
}

int calendar_weekdays(const char *text, int64_t *ret_bits)
{
    return take_list(text, weekdays, ret_bits);
}

int calendar_months(const char *text, int64_t *ret_bits)
{
    return take_list(text, months, ret_bits);
}
