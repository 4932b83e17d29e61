/* SPDX-License-Identifier: Apache-2.0 */
#include "days_range.h"

#include "err.h"
#include "journal_read.h"
#include "parse.h"
#include "report.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

static bool is_date(const char *word)
{
    return word && strcmp(word, "yesterday") != 0;
}

static int fail_order(int64_t first, int64_t last, struct err *err)
{
    char dates[2][16];
    parse_format_date(first, dates[0], sizeof dates[0]);
    parse_format_date(last, dates[1], sizeof dates[1]);
    return err_fail(err, EINVAL, "FROM (%s) lies behind TO (%s)", dates[0], dates[1]);
}

int days_range_check(const char *from, const char *to, struct err *err)
{
    int64_t first = INT64_MIN;
    int64_t last = INT64_MAX;
    int result = is_date(from) ? parse_date(from, &first, err) : 0;
    if (result == 0 && is_date(to)) {
        result = parse_date(to, &last, err);
    }
    return result == 0 && first > last ? fail_order(first, last, err) : result;
}

/* Spaces in the order in which the journal tells of them. */
static int keep_space(const struct journal_day *day, void *context)
{
    struct days_range *range = context;
    int i = 0;
    while (i < range->count && strcmp(range->spaces[i], day->space) != 0) {
        i++;
    }
    if (i == range->count && i < DAYS_RANGE_SPACES) {
        (void)snprintf(range->spaces[range->count++], JOURNAL_NAME_MAX, "%s", day->space);
    }
    return 0;
}

/* `latest` when the word is not there, the day before it for "yesterday". */
static int64_t day_of(const char *word, int64_t latest)
{
    int64_t day = word ? latest - 1 : latest;
    if (is_date(word)) {
        (void)parse_date(word, &day, NULL); /* days_range_check has seen it */
    }
    return day;
}

int days_range_find(struct journal_reader *reader, const char *space, const char *from,
                    const char *to, struct days_range *ret, struct err *err)
{
    int64_t stored_first = 0;
    int64_t latest = 0;
    *ret = (struct days_range){.count = 0};
    int result = days_range_check(from, to, err);
    if (result == 0) {
        result = journal_read_day_range(reader, space, &stored_first, &latest, err);
    }
    if (result != 0) {
        return result;
    }
    ret->last = day_of(to, latest);
    ret->first = from ? day_of(from, latest) : ret->last - DAYS_RANGE_USUAL + 1;
    if (ret->first > ret->last && !to) { /* all of it is still to come */
        return report_no_day(reader, space, ret->first, err);
    }
    if (ret->first > ret->last) {
        return fail_order(ret->first, ret->last, err);
    }
    const struct journal_range range = {space, ret->first, ret->last + 1};
    result = journal_read_days(reader, &range, keep_space, ret, err);
    return result == 0 && ret->count == 0 ? report_no_day(reader, space, ret->first, err) : result;
}
