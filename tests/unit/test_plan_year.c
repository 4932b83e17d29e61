/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_rules.h"
#include "plan_csv.h"

#include "err.h"
#include "parse.h"

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
static const struct {
    const char *name;
    double kwh_m2;
} published[] = {{"tmy3_greensboro_hourly", 1566.2},
                 {"tmy3_sandpoint_hourly", 829.2},
                 {"nsrdb_40N_2023_30min", 1827.4}};

static double sum_kwh_m2(const struct plan_site *site)
{
    double sum = 0;
    for (int m = 0; m < site->days * PLAN_DAY_MIN; m++) {
        assert_true(site->ghi[m] >= 0);
        sum += site->ghi[m] / 60e3;
    }
    return sum;
}

static void the_years_of_the_folder(void **state)
{
    (void)state;
    char folder[4096];
    struct err err = {""};
    if (plan_sites_folder(SOURCE_DIR, folder, sizeof folder, &err) < 0) {
        print_message("skipped: %s\n", err.text);
        skip();
    }
    int known = 0;
    for (size_t i = 0; i < sizeof published / sizeof published[0]; i++) {
        char path[4200];
        (void)snprintf(path, sizeof path, "%s/%s.csv", folder, published[i].name);
        if (access(path, F_OK) < 0) {
            print_message("no %s; LAMPWARDEN_DATA names the folder\n", path);
            continue;
        }
        struct plan_site site;
        if (plan_site_read(path, &site, &err) < 0) {
            fail_msg("%s", err.text);
        }
        assert_int_equal(site.days, 365);
        assert_true(fabs(sum_kwh_m2(&site) - published[i].kwh_m2) < 0.002 * published[i].kwh_m2);
        plan_site_free(&site);
        known++;
    }
    if (known == 0) {
        print_message("skipped: no known year in %s\n", folder);
        skip();
    }
}

/* Minutes whose stamps end them, of the clear sky at 52 N, without one hour of one noon. */
static void write_minutes(const char *path, int days)
{
    FILE *file = fopen(path, "we");
    assert_non_null(file);
    (void)fputs("# station 52.00 0.00 10 m; UTC, 1-min mean, time = END of minute\n"
                "time_utc,zenith_deg,ghi_wm2,qc,ppfd_umol\n",
                file);
    const int64_t begin_s = plan_csv_day(2021, 1, 1) * 86400;
    for (int64_t m = 0; m < (int64_t)days * PLAN_DAY_MIN; m++) {
        char time[32];
        parse_format_datetime(begin_s + 60 * (m + 1), 0, time, sizeof time);
        const bool is_lost = m >= 100 * PLAN_DAY_MIN + 690 && m < 100 * PLAN_DAY_MIN + 780;
        (void)fprintf(file, "%s,90,%.2f,%d,\n", time,
                      plan_sites_clear(52, 0, begin_s + 60 * m + 30), is_lost ? 1 : 0);
    }
    assert_int_equal(fclose(file), 0);
}

/* Whatever the name, another year is found; what is no year is passed over. */
static void another_measured_year_is_found(void **state)
{
    (void)state;
    char folder[] = "plan_year_XXXXXX";
    char year[64], day[64], junk[64];
    struct err err = {""};
    assert_non_null(mkdtemp(folder));
    (void)snprintf(year, sizeof year, "%s/A site, 2021.csv", folder);
    (void)snprintf(day, sizeof day, "%s/day.csv", folder);
    (void)snprintf(junk, sizeof junk, "%s/junk.csv", folder);
    write_minutes(year, 305);
    write_minutes(day, 2);
    FILE *file = fopen(junk, "we");
    assert_non_null(file);
    assert_int_equal(fclose(file), 0);
    static struct plan_site sites[PLAN_SITES_MAX];
    const int count = plan_sites_read(folder, sites, &err);
    assert_int_equal(unlink(year) + unlink(day) + unlink(junk) + rmdir(folder), 0);
    assert_int_equal(count, 1);
    assert_string_equal(sites[0].name, "A_site__2021");
    assert_int_equal(sites[0].days, 305);
    assert_int_equal(sites[0].bad_minutes, 90);
    for (int m = 0; m < sites[0].days * PLAN_DAY_MIN; m++) {
        assert_true(fabs(sites[0].ghi[m] - sites[0].clear[m]) < 0.02);
    }
    plan_site_free(&sites[0]);
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
        cmocka_unit_test(another_measured_year_is_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
