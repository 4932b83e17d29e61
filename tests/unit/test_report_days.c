/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Days beside each other: sums, weeks, stages, words. Weeks are compared with the examples of ISO
 * 8601 as listed in "ISO week date", Wikipedia (from memory: 2005-01-01 is 2004-W53-6, 2005-12-31
 * 2005-W52-6, 2007-01-01 2007-W01-1, 2008-12-29 2009-W01-1, 2010-01-03 2009-W53-7), and with the C
 * library's strftime %G-W%V.
 */
#include "report_days.h"

#include "err.h"
#include "journal_bed.h"
#include "near.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <jansson.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

static struct bed bed;
static struct journal_reader *reader;
static struct report_days *report;
static char *text;
static size_t text_size;

/* From Tuesday 2026-02-24 on: two days of rooting, three of growing, the last of them runs. */
static struct journal_day day_at(int index)
{
    struct journal_day day = bed_day("lettuce", BED_DAY + index, index < 4);
    (void)snprintf(day.stage, sizeof day.stage, "%s", index < 2 ? "rooting" : "growing");
    day.summary.stage_day = index < 2 ? index + 1 : index - 1;
    memset(day.summary.account.missing_mol, 0, sizeof day.summary.account.missing_mol);
    day.summary.account.delivered_mol = 13.1;
    day.summary.heatsink_max_c = 50;
    return day;
}

static int begin(void **state)
{
    (void)state;
    bed_make(&bed);
    bed_open(&bed);
    for (int i = 0; i < 5; i++) {
        struct journal_day day = day_at(i);
        if (i == 1) { /* the day of the heat: 1.5 mol by it, 0.5 by hand */
            day.summary.account.delivered_mol = 11;
            day.summary.account.missing_mol[LIMITER_HEAT] = 1.5;
            day.summary.account.missing_mol[LIMITER_BY_HAND] = 0.5;
            day.summary.heat_trips = 2;
            day.summary.night_breaks = 1;
        }
        assert_true(journal_put_day(bed.journal, &day));
    }
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(journal_reader_open(bed.path, &reader, NULL), 0);
    assert_int_equal(report_days_create(reader, "lettuce", BED_DAY - 9, BED_DAY + 9, &report, NULL),
                     0);
    return 0;
}

static int end(void **state)
{
    (void)state;
    free(text);
    text = NULL;
    report_days_destroy(report);
    report = NULL;
    journal_reader_close(reader);
    reader = NULL;
    bed_remove(&bed);
    return 0;
}

static FILE *open_text(void)
{
    free(text);
    text = NULL;
    FILE *out = open_memstream(&text, &text_size);
    assert_non_null(out);
    return out;
}

static void sums_of_finished_days(void **state)
{
    (void)state;
    assert_int_equal(report->count, 5);
    const struct report_sum sum = report_days_sum(report, 0, 5);
    assert_int_equal(sum.days, 4);
    assert_int_equal(sum.met, 3);
    assert_int_equal(sum.with_target, 4);
    assert_near(sum.target_mol, 52, 1e-9);
    assert_near(sum.delivered_mol, 3 * 13.1 + 11, 1e-9);
    assert_near(sum.missing_mol, 2, 1e-9);
    assert_near(sum.cost, 4 * 1.05, 1e-9);
    assert_int_equal(sum.bound_days, 3); /* light that was not given is no saving */
    assert_near(sum.bound_lamp_cost, 3 * 1.03, 1e-9);
    assert_near(sum.bound_cost, 3 * 0.99, 1e-9);
    assert_string_equal(sum.currency, "EUR");
    assert_int_equal(sum.heat_trips, 2);
    assert_int_equal(sum.nights_broken, 1);
    assert_int_equal(report_days_sum(report, 4, 5).days, 0);
    assert_int_equal(report_days_stage_end(report, 0), 2);
    assert_int_equal(report_days_stage_end(report, 2), 5);
    assert_int_equal(report_days_week_end(report, 0), 5); /* to Saturday */
    report->days[0].stage[0] = '\0';                      /* nobody asked for its light */
    assert_int_equal(report_days_sum(report, 0, 4).days, 3);
    strcpy(report->days[1].currency, "SEK");
    assert_null(report_days_sum(report, 0, 4).currency);
}

static void what_took_it(void **state)
{
    (void)state;
    assert_true(report_is_met(&report->days[0]));
    assert_int_equal(report_why(&report->days[0]), LIMITER_COUNT);
    assert_false(report_is_met(&report->days[1]));
    assert_int_equal(report_why(&report->days[1]), LIMITER_HEAT);
    report->days[0].summary.account.missing_mol[LIMITER_PLAN] = 0.04; /* not worth a word */
    assert_int_equal(report_why(&report->days[0]), LIMITER_COUNT);
}

static void nights_in_a_word(void **state)
{
    (void)state;
    struct journal_day *day = &report->days[0];
    struct integral *integral = &day->summary.integral;
    assert_string_equal(report_night_word(&report->days[1]), "broken");
    integral->daylight_mol = 0;
    assert_string_equal(report_night_word(day), "dark");
    integral->daylight_mol = 3;
    assert_string_equal(report_night_word(day), "unlit"); /* the sensor sees the sky */
    integral->measured_s = 0.89 * 86400;
    integral->bridged_s = 0.11 * 86400;
    assert_string_equal(report_night_word(day), "unseen");
    integral->measured_s = integral->bridged_s = 0;
    assert_string_equal(report_night_word(day), "unseen");
    day->summary.night_possible_umol_m2 = 40;
    assert_string_equal(report_night_word(day), "possible");
    day->stage[0] = '\0';
    day->summary.night_possible_umol_m2 = 0;
    assert_string_equal(report_night_word(day), "none");
}

static void weeks_as_everywhere(void **state)
{
    (void)state;
    static const struct {
        const char *date, *week;
    } known[] = {{"2005-01-01", "2004-W53"}, {"2005-12-31", "2005-W52"},
                 {"2007-01-01", "2007-W01"}, {"2008-12-29", "2009-W01"},
                 {"2010-01-03", "2009-W53"}, {"2026-02-24", "2026-W09"}};
    char week[12];
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        int64_t day = 0;
        assert_int_equal(parse_date(known[i].date, &day, NULL), 0);
        report_week(day, week, sizeof week);
        assert_string_equal(week, known[i].week);
    }
    for (int64_t day = 0; day < 40000; day += 1) {
        const time_t noon = (time_t)(day * 86400 + 43200);
        struct tm utc;
        char other[16];
        assert_non_null(gmtime_r(&noon, &utc));
        assert_true(strftime(other, sizeof other, "%G-W%V", &utc) > 0);
        report_week(day, week, sizeof week);
        assert_string_equal(week, other);
    }
}

static void text_for_people(void **state)
{
    (void)state;
    static const char wanted[] =
        "lettuce, light days 2026-02-24 to 2026-02-28 (mol m-2, kWh, cost in EUR)\n\n"
        "Day         target     mol     sun  met or short      kWh    cost least tr night\n"
        "Stage rooting, from its day 1 on\n"
        "Tue 02-24    13.00   13.10    1.00  met              3.40    1.05  1.04  0 unlit\n"
        "Wed 02-25    13.00   11.00    1.00  -2.00 heat       3.40    1.05     -  2 broken\n"
        "Stage growing, from its day 1 on\n"
        "Thu 02-26    13.00   13.10    1.00  met              3.40    1.05  1.04  0 unlit\n"
        "Fri 02-27    13.00   13.10    1.00  met              3.40    1.05  1.04  0 unlit\n"
        "Sat 02-28    13.00   13.10    1.00  running          3.40    1.05     -  0 -\n"
        "2026-W09     52.00   50.30    4.00  3 of 4 met      13.60    4.20  1.04  2 1 lit\n"
        "  a day      13.00   12.58    1.00  (mean of 4)      3.40    1.05\n\n"
        "Stage rooting, these days\n"
        "together     26.00   24.10    2.00  1 of 2 met       6.80    2.10  1.04  2 1 lit\n"
        "  a day      13.00   12.05    1.00  (mean of 2)      3.40    1.05\n"
        "Stage growing, these days\n"
        "together     26.00   26.20    2.00  2 of 2 met       6.80    2.10  1.04  0 0 lit\n"
        "  a day      13.00   13.10    1.00  (mean of 2)      3.40    1.05\n"
        "All stages\n"
        "together     52.00   50.30    4.00  3 of 4 met      13.60    4.20  1.04  2 1 lit\n"
        "  a day      13.00   12.58    1.00  (mean of 4)      3.40    1.05\n\n"
        "Most of what is missing was taken by heat (heat foldback).\n";
    FILE *out = open_text();
    report_days_text(report, false, out);
    assert_int_equal(fclose(out), 0);
    assert_string_equal(text, wanted);
}

static void json_for_programs(void **state)
{
    (void)state;
    FILE *out = open_text();
    assert_int_equal(report_days_json(report, out), 0);
    assert_int_equal(fclose(out), 0);
    assert_ptr_equal(strchr(text, '\n'), text + text_size - 1);
    json_t *object = json_loads(text, 0, NULL);
    assert_non_null(object);
    assert_int_equal(json_array_size(json_object_get(object, "days")), 5);
    const json_t *day = json_array_get(json_object_get(object, "days"), 1);
    assert_true(json_is_false(json_object_get(day, "met")));
    assert_string_equal(json_string_value(json_object_get(day, "why")), "heat");
    assert_true(
        json_is_null(json_object_get(json_array_get(json_object_get(object, "days"), 4), "met")));
    const json_t *stages = json_object_get(object, "stages");
    assert_int_equal(json_array_size(stages), 2);
    const json_t *growing = json_array_get(stages, 1);
    assert_string_equal(json_string_value(json_object_get(growing, "stage")), "growing");
    assert_string_equal(json_string_value(json_object_get(growing, "to")), "2026-02-27");
    const json_t *mean = json_object_get(json_object_get(object, "all"), "mean");
    assert_near(json_real_value(json_object_get(mean, "delivered_mol")), 12.575, 1e-6);
    const json_t *week = json_array_get(json_object_get(object, "weeks"), 0);
    assert_string_equal(json_string_value(json_object_get(week, "week")), "2026-W09");
    json_decref(object);
}

static int commas(const char *line)
{
    int count = 0;
    for (; *line && *line != '\n'; line++) {
        count += *line == ',';
    }
    return count;
}

static void rows_of_csv(void **state)
{
    (void)state;
    FILE *out = open_text();
    report_days_csv_header(out);
    report_days_csv(report, out);
    assert_int_equal(fclose(out), 0);
    const int columns = commas(text);
    int rows = 0;
    for (const char *line = text; *line; line = strchr(line, '\n') + 1) {
        assert_int_equal(commas(line), columns);
        rows++;
    }
    assert_int_equal(rows, 6);
    assert_non_null(strstr(text, "\nlettuce,2026-02-25,2026-W09,rooting,2,1,0,heat,13,11,"));
    assert_non_null(strstr(text, "\nlettuce,2026-02-28,2026-W09,growing,3,0,,,13,"));
}

static void what_is_not_there(void **state)
{
    (void)state;
    struct err err;
    struct report_days *none = NULL;
    assert_int_equal(report_days_create(reader, "lettuce", 0, 9, &none, &err), -ENOENT);
    assert_string_equal(err.text,
                        "no light day of space lettuce is stored from 1970-01-01 to 1970-01-10 "
                        "(days stored: 2026-02-24 to 2026-02-28)");
    assert_int_equal(report_days_create(reader, "nobody", 0, 30000, &none, &err), -ENOENT);
    assert_non_null(strstr(err.text, "nobody"));
    assert_null(none);
}

static void the_newest(void **state)
{
    (void)state;
    struct report_days *newest = NULL;
    assert_int_equal(report_days_newest(reader, "lettuce", 2, true, &newest, NULL), 0);
    assert_int_equal(newest->count, 2);
    assert_int_equal(newest->days[1].summary.light_day, BED_DAY + 3);
    report_days_destroy(newest);
    assert_int_equal(report_days_newest(reader, "lettuce", 2, false, &newest, NULL), 0);
    assert_int_equal(newest->count, 2);
    assert_int_equal(newest->days[1].summary.light_day, BED_DAY + 4);
    report_days_destroy(newest);
    assert_int_equal(report_days_newest(reader, "nobody", 2, true, &newest, NULL), -ENOENT);
    const struct journal_day only = bed_day("basil", BED_DAY, false);
    assert_true(journal_put_day(bed.journal, &only));
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(report_days_newest(reader, "basil", 2, true, &newest, NULL), 0);
    assert_int_equal(newest->count, 0);
    FILE *out = open_text();
    assert_int_equal(report_days_json(newest, out), 0);
    (void)fclose(out);
    assert_non_null(strstr(text, "\"days\":[]"));
    report_days_destroy(newest);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(sums_of_finished_days, begin, end),
        cmocka_unit_test_setup_teardown(what_took_it, begin, end),
        cmocka_unit_test_setup_teardown(nights_in_a_word, begin, end),
        cmocka_unit_test(weeks_as_everywhere),
        cmocka_unit_test_setup_teardown(text_for_people, begin, end),
        cmocka_unit_test_setup_teardown(json_for_programs, begin, end),
        cmocka_unit_test_setup_teardown(rows_of_csv, begin, end),
        cmocka_unit_test_setup_teardown(what_is_not_there, begin, end),
        cmocka_unit_test_setup_teardown(the_newest, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
