/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_rules.h"
#include "plan_csv.h"

#include "err.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

#define PATH "plan_year_XXXXXX"

/* path: PATH before, the file's name afterwards */
static void write_file(char *path, const char *text)
{
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, strlen(text)), (ssize_t)strlen(text));
    close(fd);
}

static struct plan_csv read_text(const char *text)
{
    char path[] = PATH;
    struct err err = {""};
    struct plan_csv csv;
    write_file(path, text);
    const int rc = plan_csv_read(path, &csv, &err);
    unlink(path);
    if (rc < 0) {
        fail_msg("%s", err.text);
    }
    return csv;
}

static void reads_minutes_that_end_at_their_stamp(void **state)
{
    (void)state;
    struct plan_csv csv = read_text("# station 40.72 -77.93 376 m; UTC, 1-min mean, time = END\n"
                                    "time_utc,zenith_deg,ghi_wm2,qc,ppfd_umol\n"
                                    "2017-01-01T00:01Z,90,100,0,\n"
                                    "2017-01-01T00:02Z,90,200,1,\n"
                                    "2017-01-01T00:03Z,90,,0,\n");
    assert_int_equal(csv.count, 3);
    assert_int_equal(csv.step_s, 60);
    assert_int_equal(csv.offset_min, -300); /* of the longitude: the file names none */
    assert_int_equal(csv.rows[0].begin_s, 17167 * (int64_t)86400);
    assert_true(csv.rows[0].ghi == 100);
    assert_true(isnan(csv.rows[1].ghi) != 0 && isnan(csv.rows[2].ghi) != 0);
    assert_true(csv.longitude == -77.93);
    free(csv.rows);
}

static void reads_hours_and_centred_half_hours(void **state)
{
    (void)state;
    struct plan_csv csv = read_text("# typical year 36.100N 79.950W 273 m UTC-5; mean, ENDING\n"
                                    "month,day,hour_ending,ghi_wm2\n"
                                    "12,31,23,1\n12,31,24,2\n1,1,1,3\n1,1,2,4\n");
    assert_true(csv.latitude == 36.1 && csv.longitude == -79.95);
    assert_int_equal(csv.offset_min, -300);
    assert_int_equal(csv.step_s, 3600);
    assert_int_equal(csv.rows[2].begin_s, plan_csv_day(2024, 1, 1) * 86400 + 5 * 3600);
    free(csv.rows);
    csv = read_text("# grid 40.53N 108.54W 2168 m, 2023, stamp = centre of interval, UTC-7\n"
                    "month,day,hour,minute,ghi_wm2,clearsky_ghi_wm2\n"
                    "1,1,0,0,0,0\n1,1,0,30,7,9\n1,1,1,0,0,0\n");
    assert_int_equal(csv.step_s, 1800);
    assert_int_equal(csv.rows[1].begin_s, plan_csv_day(2023, 1, 1) * 86400 + 7 * 3600 + 900);
    assert_true(csv.rows[1].ghi == 7);
    free(csv.rows);
}

static void a_file_without_a_place_is_refused(void **state)
{
    (void)state;
    char path[] = PATH;
    struct err err = {""};
    struct plan_csv csv;
    write_file(path, "# nowhere\nmonth,day,hour,ghi\n1,1,1,1\n");
    assert_true(plan_csv_read(path, &csv, &err) < 0);
    assert_non_null(strstr(err.text, "latitude"));
    unlink(path);
}

/* By hand: 300 µmol at 2.5 µmol/J is 120 W m⁻²; at full level for 10 h 10.8 mol and 1.2 kWh. */
static void a_day_by_hand(void **state)
{
    (void)state;
    const struct year_lamp lamp = {300, 2.5, 0, 1, 0, 0.1};
    static double price[600], cap[600];
    for (int i = 0; i < 600; i++) {
        price[i] = i < 300 ? 0.10 : 0.20;
        cap[i] = 1;
    }
    struct year_bound bound = year_lamp_bound(&lamp, 600, price, NULL, cap, 10.8);
    assert_true(bound.is_feasible);
    assert_true(fabs(bound.cost - 0.6 * 0.10 - 0.6 * 0.20) < 1e-9);
    bound = year_lamp_bound(&lamp, 600, price, NULL, cap, 8.1); /* all cheap, half of the dear */
    assert_true(fabs(bound.cost - 0.6 * 0.10 - 0.3 * 0.20) < 1e-9);
    bound = year_lamp_bound(&lamp, 600, price, NULL, cap, 11);
    assert_false(bound.is_feasible);
    assert_true(fabs(bound.most - 10.8) < 1e-9);
}

/* Indoors, 17 mol in 18 h with ramps of 15 min that hold 17.75 h of full light. */
static void the_timer_indoors_gives_the_target(void **state)
{
    (void)state;
    struct plan_case plan_case = plan_case_usual();
    plan_case.begin_min = 0;
    struct plan_rule_memory memory;
    const struct plan_rule rule = plan_rule_make(PLAN_RULE_TIMER, &memory);
    const struct plan_result result = plan_year_run(NULL, &plan_case, &rule);
    assert_int_equal(result.days, 364);
    assert_int_equal(result.missed, 0);
    assert_true(fabs(result.lamp_mol / 364 - 17) < 0.2);
    assert_true(fabs(result.starts - 1) < 1e-9);
    assert_true(result.cost > result.bound);
}

/* The check figures of the data: sums of irradiance, kWh/m², as published beside the files. */
static void the_years_of_the_folder(void **state)
{
    (void)state;
    char folder[4096];
    struct err err = {""};
    if (plan_sites_folder(SOURCE_DIR, folder, sizeof folder, &err) < 0) {
        print_message("skipped: %s\n", err.text);
        skip();
    }
    static struct plan_site sites[PLAN_SITES_MAX];
    const int count = plan_sites_read(folder, sites, &err);
    assert_true(count >= 0);
    for (int i = 0; i < count; i++) {
        double sum = 0;
        for (int m = 0; m < sites[i].days * PLAN_DAY_MIN; m++) {
            assert_true(sites[i].ghi[m] >= 0);
            sum += sites[i].ghi[m] / 60e3;
        }
        if (strcmp(sites[i].name, "tmy3_greensboro_hourly") == 0) {
            assert_true(fabs(sum - 1566.2) < 0.002 * 1566.2);
        } else if (strcmp(sites[i].name, "tmy3_sandpoint_hourly") == 0) {
            assert_true(fabs(sum - 829.2) < 0.002 * 829.2);
        } else if (strcmp(sites[i].name, "nsrdb_40N_2023_30min") == 0) {
            assert_true(fabs(sum - 1827.4) < 0.002 * 1827.4);
        }
        plan_site_free(&sites[i]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_minutes_that_end_at_their_stamp),
        cmocka_unit_test(reads_hours_and_centred_half_hours),
        cmocka_unit_test(a_file_without_a_place_is_refused),
        cmocka_unit_test(a_day_by_hand),
        cmocka_unit_test(the_timer_indoors_gives_the_target),
        cmocka_unit_test(the_years_of_the_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
