/* SPDX-License-Identifier: Apache-2.0 */
#include "why_time.h"

#include "err.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <stdbool.h>
#include <stddef.h>
#include <string.h>

enum { DATE_LENGTH = 10, MINUTE_S = 60 };

static int64_t floor_to(int64_t value, int64_t step)
{
    const int64_t rest = value % step;
    return value - (rest < 0 ? rest + step : rest);
}

/* What follows the word and a space; NULL: it does not begin so. */
static const char *behind(const char *text, const char *word)
{
    const size_t length = strlen(word);
    return strncmp(text, word, length) == 0 && text[length] == ' ' ? text + length + 1 : NULL;
}

static int no_time(const char *text, struct err *err)
{
    char quoted[48];
    parse_quote(text, quoted, sizeof quoted);
    return err_fail(err, EINVAL,
                    "\"%s\" is no time: write 14:05, yesterday 14:05 or 2026-11-24T14:05, and an "
                    "offset behind it (+02:00) where it is not the site's own",
                    quoted);
}

/* A date and a time of day without an offset. */
static int take_date(const char *text, int32_t offset_s, int64_t *ret_s, struct err *err)
{
    char date[DATE_LENGTH + 1];
    int64_t day = 0;
    int32_t second = 0;
    if (strlen(text) <= DATE_LENGTH || (text[DATE_LENGTH] != 'T' && text[DATE_LENGTH] != ' ')) {
        return no_time(text, err);
    }
    memcpy(date, text, DATE_LENGTH);
    date[DATE_LENGTH] = '\0';
    int code = parse_date(date, &day, err);
    if (code == 0) {
        code = parse_time_of_day(text + DATE_LENGTH + 1, &second, err);
    }
    if (code == 0) {
        *ret_s = day * UNITS_S_PER_DAY + second - offset_s;
    }
    return code;
}

int why_time(const char *text, int32_t offset_s, int64_t newest_s, int64_t *ret_s, struct err *err)
{
    const int64_t today_s = floor_to(newest_s + offset_s, UNITS_S_PER_DAY) - offset_s;
    const char *yesterday = behind(text, "yesterday");
    const char *today = behind(text, "today");
    const char *of_day = yesterday ? yesterday : today ? today : text;
    int64_t wall_s = 0;
    int32_t second = 0;
    int code = 0;
    const bool is_of_day = of_day != text || (strlen(text) > 2 && text[2] == ':');
    if (is_of_day) {
        code = parse_time_of_day(of_day, &second, err);
        wall_s = today_s + second - (yesterday ? UNITS_S_PER_DAY : 0);
        if (of_day == text && wall_s >= newest_s + MINUTE_S) {
            wall_s -= UNITS_S_PER_DAY; /* not yet today */
        }
    } else if (parse_datetime(text, &wall_s, NULL) != 0) {
        code = take_date(text, offset_s, &wall_s, err);
    }
    if (code == 0) {
        *ret_s = floor_to(wall_s, MINUTE_S);
    }
    return code;
}
