/* SPDX-License-Identifier: Apache-2.0 */
/* Whole files: what loads comes out filled and consistent, what does not is told word for word. */
#include "config.h"

#include "fileio.h"
#include "parse.h"

#include <dirent.h>
#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define PATH_SIZE 512

static struct config *load_good(const char *path)
{
    struct config *config = NULL;
    struct config_report report;
    int r = config_load(path, &config, &report);
    if (r != 0 || report.errors != 0) {
        print_message("%s", report.text ? report.text : "no report\n");
    }
    assert_int_equal(r, 0);
    assert_int_equal(report.errors, 0);
    assert_non_null(report.text);
    assert_non_null(config);
    config_report_free(&report);
    return config;
}

/* What every user of a configuration relies on without asking again. */
static void check_space(const struct config *config, int index)
{
    const struct config_space *space = &config->spaces[index];
    const struct space_rules *rules = &space->rules;
    assert_in_range(rules->fixture_count, 1, SPACE_FIXTURES_MAX);
    assert_true(rules->fixtures >= config->fixture_rules);
    assert_true(rules->fixtures + rules->fixture_count <=
                config->fixture_rules + config->fixture_count);
    assert_true(rules->stages >= config->stages);
    assert_true(rules->stages + rules->stage_count <= config->stages + config->stage_count);
    assert_int_equal(rules->day.utc_offset_s, config->site.utc_offset_s);
    assert_int_equal(rules->has_ppfd, space->ppfd_sensor_count > 0);
    for (int i = 0; i < rules->fixture_count; i++) {
        assert_int_equal(config->fixtures[space->fixtures[i]].space, index);
        const struct heat_rules *heat = &rules->fixtures[i].heat;
        assert_int_equal(heat->is_watched,
                         config->fixtures[space->fixtures[i]].heat_sensor_count > 0);
        assert_true(heat->rearm_c < heat->from_c && heat->from_c < heat->to_c);
        assert_true(heat->to_c < heat->trip_c);
        const struct ceiling_rules *ceiling = &rules->fixtures[i].ceiling;
        assert_true(ceiling->drive_floor > 0 && ceiling->drive_floor <= ceiling->drive_max);
        assert_true(ceiling->drive_max <= 1);
        assert_true(rules->fixtures[i].full_umol > 0);
        assert_true(dimcurve_level(&rules->fixtures[i].curve, 1) == 1);
    }
    for (int i = 0; i < rules->stage_count; i++) {
        assert_true(rules->stages[i].days > 0 || i + 1 == rules->stage_count);
    }
}

static void check_consistent(const struct config *config)
{
    for (int i = 0; i < config->bus_count; i++) {
        assert_non_null(config->buses[i].driver);
        assert_true(config->buses[i].every_s >= 0.2);
    }
    for (int i = 0; i < config->sensor_count; i++) {
        const struct quality_rules *quality = &config->sensors[i].quality;
        assert_in_range(config->sensors[i].bus, 0, config->bus_count - 1);
        assert_true(quality->low < quality->high && quality->stale_ns < quality->lost_ns);
        assert_true(quality->jump_per_s > 0 && quality->frozen_stir > 0);
    }
    for (int i = 0; i < config->output_count; i++) {
        assert_in_range(config->outputs[i].bus, 0, config->bus_count - 1);
        assert_true(config->outputs[i].tolerance > 0);
    }
    for (int i = 0; i < config->space_count; i++) {
        check_space(config, i);
    }
}

/* One entry of a folder by its ending, in any order. */
static int count_files(const char *folder, const char *ending, void (*each)(const char *path))
{
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    int count = 0;
    const struct dirent *entry;
    while ((entry = readdir(dir))) {
        size_t length = strlen(entry->d_name);
        size_t tail = strlen(ending);
        if (length > tail && strcmp(entry->d_name + length - tail, ending) == 0) {
            char path[PATH_SIZE];
            (void)snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
            each(path);
            count++;
        }
    }
    (void)closedir(dir);
    return count;
}

static void load_and_check(const char *path)
{
    print_message("%s\n", path);
    struct config *config = load_good(path);
    check_consistent(config);
    config_free(config);
}

static void good_files_load(void **state)
{
    (void)state;
    assert_true(count_files(TESTS_DATA "/good", ".conf", load_and_check) >= 4);
    load_and_check(SOURCE_DIR "/etc/demo.conf");
    load_and_check(SOURCE_DIR "/etc/lampwarden.conf");
}

/* What the report must say stands beside the file, with `FILE` for its name. */
static void check_report(const char *path)
{
    if (strstr(path, "/driver") && driver_missing()[0] != '\0') {
        return; /* those messages list the drivers of a whole build */
    }
    char expect_path[PATH_SIZE];
    (void)snprintf(expect_path, sizeof expect_path, "%.*s.expect", (int)(strlen(path) - 5), path);
    char *text = NULL;
    size_t size = 0;
    assert_int_equal(fileio_read(path, 1U << 21, &text, &size, NULL), 0);
    struct config *config = (struct config *)text;
    struct config_report report;
    int r = config_load_text("FILE", text, size, &config, &report);
    assert_non_null(report.text);
    if (getenv("LAMPWARDEN_UPDATE")) { /* then read the difference by eye */
        assert_int_equal(fileio_replace(expect_path, report.text, strlen(report.text), 0644, NULL),
                         0);
    }
    char *expect = NULL;
    print_message("%s\n", path);
    assert_int_equal(fileio_read(expect_path, 1U << 20, &expect, NULL, NULL), 0);
    assert_string_equal(report.text, expect);
    if (report.errors > 0) {
        assert_int_equal(r, -EINVAL);
        assert_null(config);
    } else {
        assert_int_equal(r, 0);
        assert_true(report.warnings > 0);
        config_free(config);
    }
    free(expect);
    free(text);
    config_report_free(&report);
}

static void bad_files_are_told_word_for_word(void **state)
{
    (void)state;
    assert_true(count_files(TESTS_DATA "/bad", ".conf", check_report) >= 40);
}

static void warnings_are_told_word_for_word(void **state)
{
    (void)state;
    check_report(TESTS_DATA "/good/warned.conf");
    /* Haurwitz's formula, summed apart from sun.c: 8.96 mol on the first day, 5.28 on the last. */
    check_report(TESTS_DATA "/good/glass.conf");
}

static void the_demonstration_has_no_findings(void **state)
{
    (void)state;
    struct config *config = NULL;
    struct config_report report;
    assert_int_equal(config_load(SOURCE_DIR "/etc/demo.conf", &config, &report), 0);
    assert_string_equal(report.text, "");
    config_report_free(&report);
    assert_int_equal(config->space_count, 3);
    const struct config_space *lettuce = &config->spaces[0];
    assert_int_equal(lettuce->rules.fixture_count, 2);
    int64_t start = 0;
    assert_int_equal(parse_date("2026-11-02", &start, NULL), 0);
    assert_true(lettuce->rules.first_day == start);
    const struct stage *short_days = &config->spaces[2].rules.stages[0];
    assert_true(short_days->protects_night);
    assert_int_equal(short_days->window.length_s, 11 * 3600);
    assert_int_equal(config->site.utc_offset_s, 3600);
    config_free(config);
}

static void defaults_and_inheritance(void **state)
{
    (void)state;
    struct config *config = load_good(TESTS_DATA "/good/propagation.conf");
    assert_int_equal(config->fixture_count, 4);
    /* Band and trip of a 70 °C limit: ends at the limit, 12 K wide, trip 10 K above, re-arm 15 K
     * below. */
    const struct heat_rules *heat = &config->fixture_rules[0].heat;
    assert_true(heat->from_c == 58 && heat->to_c == 70 && heat->trip_c == 80 &&
                heat->rearm_c == 55);
    assert_true(heat->filter_s == 20 && heat->max_k_per_s == 5 && heat->lost_s == 30);
    assert_true(fabs(heat->rise_per_s - 0.1 / 60) < 1e-15);
    assert_true(config->fixture_rules[2].heat.trip_c == 78); /* said for the basil lamp alone */
    assert_true(config->fixture_rules[2].heat.to_c == 70);
    assert_true(config->fixture_rules[0].ceiling.drive_max == 0.9);
    assert_true(config->fixture_rules[0].has_power && !config->fixture_rules[0].power_is_shared);
    const struct quality_rules *ppfd = &config->sensors[0].quality;
    assert_true(ppfd->low == -10 && ppfd->high == 1300);
    assert_true(ppfd->stale_ns == 10000000000 && ppfd->lost_ns == 60000000000);
    assert_true(isinf(ppfd->jump_per_s) && isnan(ppfd->power_on_c) && ppfd->frozen_above == 1);
    const struct quality_rules *temperature = &config->sensors[3].quality;
    assert_true(temperature->low == -35 && temperature->high == 125 &&
                temperature->jump_per_s == 5);
    assert_true(isinf(temperature->frozen_above) && temperature->frozen_above < 0);
    const struct space_rules *lettuce = &config->spaces[0].rules;
    assert_true(lettuce->aim_margin == 0.002 && lettuce->acclimation_mol == 2);
    assert_true(isinf(config->spaces[1].rules.acclimation_mol));
    assert_true(lettuce->stages[1].ceiling_umol == 400 && isinf(config->stages[2].ceiling_umol));
    assert_true(lettuce->nightguard.threshold_umol == 0.2 && lettuce->integral.gap_s == 300);
    assert_int_equal(config->spaces[1].rules.clock_policy, CLOCK_POLICY_LOW);
    assert_int_equal(config->spaces[2].rules.day.start_s, 7 * 3600);
    assert_int_equal(config->site.utc_offset_s, 3600);
    assert_true(config->trust_held_over_clock);
    assert_int_equal(config->journal.keep_days, 400);
    assert_string_equal(config->journal.path, "/var/lib/lampwarden/journal.db");
    assert_int_equal(lettuce->ageing.commissioned, 0);
    assert_true(isnan(lettuce->ageing.heat_c) && lettuce->ageing.limit == 0.8);
    config_free(config);
}

static void a_lamp_without_dimming(void **state)
{
    (void)state;
    struct config *config = load_good(TESTS_DATA "/good/switch_only.conf");
    assert_int_equal(config->fixtures[0].dim_output, -1);
    assert_int_equal(config->fixtures[0].switch_output, 0);
    assert_true(dimcurve_watts(&config->fixture_rules[0].curve, 1) == 100);
    assert_true(config->spaces[0].rules.sees_daylight);
    const struct ageing_rules *ageing = &config->spaces[0].rules.ageing;
    assert_int_equal(ageing->commissioned, 20549); /* days from 1970-01-01 to 2026-04-06 */
    assert_true(ageing->heat_c == 41.5 && ageing->limit == 0.85);
    assert_int_equal(ageing->sensor_count, 1);
    assert_int_not_equal(ageing->sensor[0], 0);
    config_free(config);
}

static void drivers_know_power_on_values(void **state)
{
    (void)state;
    struct config *config = load_good(TESTS_DATA "/good/probes.conf");
    assert_true(config->sensors[0].quality.power_on_c == 85.25); /* as the probe is corrected */
    assert_true(config->sensors[1].quality.power_on_c == -100);
    assert_true(isnan(config->sensors[2].quality.power_on_c));
    assert_true(isnan(config->sensors[3].quality.power_on_c));
    config_free(config);
}

static void what_cannot_be_read(void **state)
{
    (void)state;
    struct config *config = NULL;
    struct config_report report;
    assert_int_equal(config_load("/nonexistent/x.conf", &config, &report), -ENOENT);
    assert_string_equal(report.text,
                        "/nonexistent/x.conf: cannot open /nonexistent/x.conf: No such "
                        "file or directory\n");
    assert_int_equal(report.errors, 1);
    assert_null(config);
    config_report_free(&report);
    assert_int_equal(config_load("/tmp", &config, &report), -EISDIR);
    config_report_free(&report);
    assert_int_equal(config_load("/dev/zero", &config, &report), -EINVAL);
    config_report_free(&report);
    config_free(NULL);
}

static int load_points(const char *text, struct config **ret, struct config_report *ret_report)
{
    char path[] = "/tmp/lampwarden-points-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, strlen(text)), strlen(text));
    assert_int_equal(close(fd), 0);
    int code = config_load_points(path, ret, ret_report);
    assert_int_equal(unlink(path), 0);
    return code;
}

/* An installer's half a file: what is not looked at may be wrong, or missing. */
static void points_alone(void **state)
{
    (void)state;
    struct config *config = NULL;
    struct config_report report;
    const char *least = "buses = ( { name = \"b\"; driver = \"bench\"; } );";
    assert_int_equal(load_points(least, &config, &report), 0);
    assert_int_equal(config->bus_count, 1);
    assert_int_equal(config->sensor_count, 0);
    config_report_free(&report);
    config_free(config);
    const char *half = "site = { warp = 9; }; outputs = ( { bus = \"b\"; } ); fixtures = 7;"
                       "buses = ( { name = \"b\"; driver = \"bench\"; } );"
                       "sensors = ( { name = \"s\"; bus = \"b\"; kind = \"ppfd\"; high = 9.0; } );";
    assert_int_equal(load_points(half, &config, &report), 0);
    assert_int_equal(report.errors, 0);
    assert_int_equal(config->sensor_count, 1);
    assert_int_equal(config->output_count, 0);
    assert_int_equal(config->fixture_count, 0);
    assert_true(config->sensors[0].quality.high == 9);
    config_report_free(&report);
    config_free(config);
}

static void bad_points(void **state)
{
    (void)state;
    static const struct {
        const char *text, *want;
    } cases[] = {
        {"site = { name = \"x\"; };", "buses: missing"},
        {"busses = ();", "buses: missing"},
        {"buses = ( { name = \"b\"; driver = \"warp\"; } );", "no driver \"warp\""},
        {"buses = ( { name = \"b\"; driver = \"bench\"; } );"
         "sensors = ( { name = \"s\"; bus = \"c\"; kind = \"ppfd\"; } );",
         "sensors[0].bus: no entry of buses is called \"c\""},
        {"buses = ( { name = \"b\"; driver = \"bench\"; } );"
         "sensors = ( { name = \"s\"; bus = \"b\"; kind = \"ppfd\"; low = 9.0; high = 8.0; } );",
         "is not above low"},
        {"buses = (", "syntax error"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct config *config = NULL;
        struct config_report report;
        assert_int_equal(load_points(cases[i].text, &config, &report), -EINVAL);
        assert_null(config);
        if (!strstr(report.text, cases[i].want)) {
            print_error("%s\n", report.text);
        }
        assert_non_null(strstr(report.text, cases[i].want));
        config_report_free(&report);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_files_load),
        cmocka_unit_test(bad_files_are_told_word_for_word),
        cmocka_unit_test(warnings_are_told_word_for_word),
        cmocka_unit_test(the_demonstration_has_no_findings),
        cmocka_unit_test(defaults_and_inheritance),
        cmocka_unit_test(a_lamp_without_dimming),
        cmocka_unit_test(drivers_know_power_on_values),
        cmocka_unit_test(what_cannot_be_read),
        cmocka_unit_test(points_alone),
        cmocka_unit_test(bad_points),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
