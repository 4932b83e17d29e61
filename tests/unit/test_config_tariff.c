/* SPDX-License-Identifier: Apache-2.0 */
/* From keys and files to the tariff, and what is said of it. Moments of changes: IANA tz database,
 * Europe/Berlin 2026. */
#include "config.h"

#include "fileio.h"
#include "near.h"
#include "tariff_words.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

enum { H = 3600 };
static const int64_t spring_s = 1774746000; /* 2026-03-29T01:00Z: 02:00 becomes 03:00 */

static struct config *load_good(void)
{
    struct config *config = NULL;
    struct config_report report;
    int r = config_load(TESTS_DATA "/good/tariff.conf", &config, &report);
    print_message("%s", report.text);
    assert_int_equal(r, 0);
    config_report_free(&report);
    return config;
}

static void what_holds_when(void **state)
{
    (void)state;
    struct config *config = load_good();
    const struct tariff *tariff = &config->site.tariff;
    assert_int_equal(config->site.utc_offset_s, H); /* of the light days, all year */
    assert_int_equal(civil_offset(&tariff->civil, spring_s), 2 * H);
    assert_int_equal(tariff->rule_count, 2);
    assert_int_equal(tariff->series_count, 4);
    /* 2026-03-29 is a Sunday */
    assert_near(tariff_price(tariff, spring_s - 3 * H), 0.22,
                1e-12);                                              /* Sunday's night from 22:00 */
    assert_near(tariff_price(tariff, spring_s + 4 * H), 0.3, 1e-12); /* 07:00 */
    assert_near(tariff_price(tariff, spring_s + 20 * H), 0.22, 1e-12);
    /* Monday 2026-11-02, 17:30 */
    assert_near(tariff_price(tariff, 1793637000), 0.41, 1e-12);
    /* 2026-11-03, 02:00 in the file: 0.02 and 0.14 on top */
    assert_near(tariff_price(tariff, 1793667600), 0.16, 1e-12);
    assert_near(tariff_price(tariff, 1793667600 + H), 0.09, 1e-12);
    assert_near(tariff_price(tariff, 1793667600 + 3 * H), 0.22, 1e-12);
    config_free(config);
}

static void in_a_sentence(void **state)
{
    (void)state;
    char text[TARIFF_WORDS_MAX];
    struct config *config = load_good();
    tariff_words_day(&config->site, 1793637000 + 86400, text, sizeof text);
    assert_string_equal(text, "prices of 2026-11-03: 0.09 … 0.41 EUR per kWh, cheapest 03:00 to "
                              "04:00; the file of prices ends at 2026-11-03T05:00:00+01:00");
    tariff_words_end(&config->site, 1793637000 + 86400, text, sizeof text);
    assert_string_equal(text, ""); /* it ended before that hour */
    tariff_words_end(&config->site, 1793667600, text, sizeof text);
    assert_string_equal(text, "the file of prices ends at 2026-11-03T05:00:00+01:00, before the "
                              "day does: the tariff's rules stand in then");
    tariff_words_end(&config->site, 1793667600 - 86400, text, sizeof text);
    assert_string_equal(text, ""); /* on another day */
    config->site.tariff.series_count = 0;
    tariff_words_day(&config->site, 1793637000 + 86400, text, sizeof text);
    assert_string_equal(text, "prices of 2026-11-03: 0.22 … 0.41 EUR per kWh, cheapest 00:00 to "
                              "06:00");
    config->site.tariff.series_count = 4;
    config->site.currency[0] = '\0';
    config->site.tariff.rule_count = 0;
    tariff_words_day(&config->site, spring_s, text, sizeof text);
    assert_string_equal(text, "prices of 2026-03-29: 0.3 per kWh all day; the file of prices ends "
                              "at 2026-11-03T05:00:00+01:00");
    tariff_words_gap(&config->site, spring_s, text, sizeof text);
    assert_string_equal(text, "the file of prices says nothing of 2026-03-29T03:00:00+02:00 (it "
                              "covers 2026-11-03T01:00:00+01:00 to 2026-11-03T05:00:00+01:00): the "
                              "site's price_per_kwh stands in");
    config->site.tariff.series_count = 0;
    tariff_words_day(&config->site, spring_s, text, sizeof text);
    assert_string_equal(text, "");
    config_free(config);
}

static void an_offset_alone_never_changes(void **state)
{
    (void)state;
    struct config *config = NULL;
    struct config_report report;
    assert_int_equal(config_load(TESTS_DATA "/good/least.conf", &config, &report), 0);
    config_report_free(&report);
    const struct tariff *tariff = &config->site.tariff;
    assert_int_equal(civil_offset(&tariff->civil, spring_s + H), H);
    assert_true(civil_next_change(&tariff->civil, 0) == INT64_MAX);
    assert_true(tariff_price(tariff, spring_s) == 0);
    assert_false(tariff_misses_series(tariff, spring_s));
    config_free(config);
}

/* A file of prices that is missing or broken is an error of the configuration, told with both
 * places. */
static void broken_files(void **state)
{
    (void)state;
    static const struct {
        const char *rows, *want;
    } cases[] = {
        {NULL, "cannot open FOLDER/p.csv: No such file or directory\n"},
        {"time,price_per_kwh\n2026-11-03T00:00Z,0.1\n2026-11-02T23:00Z,0.1\n",
         "FOLDER/p.csv:3: time '2026-11-02T23:00Z' is not later than the row before\n"},
        {"time,price_per_kwh\n2026-11-03T00:00Z,112000\n",
         "FOLDER/p.csv:2: 112000 is out of range (-10000 … 100000)\n"},
    };
    char folder[] = "/tmp/lampwarden-tariff-XXXXXX";
    char path[64];
    char *whole = NULL;
    assert_non_null(mkdtemp(folder));
    (void)snprintf(path, sizeof path, "%s/p.csv", folder);
    assert_int_equal(fileio_read(TESTS_DATA "/good/tariff.conf", 100000, &whole, NULL, NULL), 0);
    const char *at = strstr(whole, "\"tariff.csv\"");
    char text[4096];
    assert_non_null(at);
    (void)snprintf(text, sizeof text, "%.*s\"p.csv\"%s", (int)(at - whole), whole, at + 12);
    free(whole);
    char name[64];
    (void)snprintf(name, sizeof name, "%s/x.conf", folder);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct config *config = NULL;
        struct config_report report;
        char want[512];
        const char *behind = strstr(cases[i].want, "FOLDER") + strlen("FOLDER");
        (void)snprintf(want, sizeof want, "%s:6: site.tariff.prices_file: %.*s%s%s", name,
                       (int)(behind - cases[i].want - (long)strlen("FOLDER")), cases[i].want,
                       folder, behind);
        if (cases[i].rows) {
            assert_int_equal(fileio_replace(path, cases[i].rows, strlen(cases[i].rows), 0600, NULL),
                             0);
        }
        assert_int_not_equal(config_load_text(name, text, strlen(text), &config, &report), 0);
        assert_string_equal(report.text, want);
        assert_null(config);
        config_report_free(&report);
    }
    (void)unlink(path);
    assert_int_equal(rmdir(folder), 0);
}

/* "24:00" is the end of a civil day, as is "00:00". Prices in a currency whose kWh costs thousands
 * are fine; a thousand times the plain price is another unit. */
static void ends_and_units(void **state)
{
    (void)state;
    static const struct {
        const char *price, *rows, *want;
    } cases[] = {
        {"2440.0", "time,price_per_kwh\n2026-11-03T00:00Z,2100.5\n2026-11-03T01:00Z,2950\n", ""},
        {"0.3", "time,price_per_kwh\n2026-11-03T00:00Z,84\n2026-11-03T01:00Z,\n",
         "FILE:2: warning: site.tariff.prices_file: its prices are 84 in the mean, 280 times the "
         "site's price_per_kwh: are they prices per MWh?\n"},
    };
    char folder[] = "/tmp/lampwarden-tariff-XXXXXX";
    char path[64];
    char name[64];
    char *least = NULL;
    assert_non_null(mkdtemp(folder));
    (void)snprintf(path, sizeof path, "%s/p.csv", folder);
    (void)snprintf(name, sizeof name, "%s/x.conf", folder);
    assert_int_equal(fileio_read(TESTS_DATA "/good/least.conf", 100000, &least, NULL, NULL), 0);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct config *config = NULL;
        struct config_report report;
        char text[4096];
        char want[256];
        (void)snprintf(text, sizeof text,
                       "site = { utc_offset = \"+00:00\"; price_per_kwh = %s; tariff = {\n"
                       "prices_file = \"p.csv\"; rules = ( { from = \"18:00\"; to = \"24:00\"; "
                       "price_per_kwh = 0.5; } ); }; };\n%s",
                       cases[i].price, strstr(least, "buses"));
        (void)snprintf(want, sizeof want, "%s%s", cases[i].want[0] ? name : "",
                       cases[i].want + (cases[i].want[0] ? strlen("FILE") : 0));
        assert_int_equal(fileio_replace(path, cases[i].rows, strlen(cases[i].rows), 0600, NULL), 0);
        assert_int_equal(config_load_text(name, text, strlen(text), &config, &report), 0);
        assert_non_null(strstr(report.text, want));
        assert_int_equal(report.warnings, cases[i].want[0] ? 1 : 0);
        config_report_free(&report);
        const struct tariff *tariff = &config->site.tariff;
        assert_int_equal(tariff->rules[0].to_s, 24 * H);
        assert_near(tariff_price(tariff, 24 * H - 1), 0.5, 1e-12);
        assert_near(tariff_price(tariff, 24 * H), tariff->price_per_kwh, 1e-12);
        assert_true(tariff_next_change(tariff, 20 * H, 48 * H) == 24 * H);
        config_free(config);
    }
    free(least);
    (void)unlink(path);
    assert_int_equal(rmdir(folder), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_holds_when),
        cmocka_unit_test(in_a_sentence),
        cmocka_unit_test(an_offset_alone_never_changes),
        cmocka_unit_test(broken_files),
        cmocka_unit_test(ends_and_units),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
