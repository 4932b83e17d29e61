/* SPDX-License-Identifier: Apache-2.0 */
/* Offsets of zones through the years: against moments of the IANA tz database and against the C
 * library, which reads the same files and rules by code of its own. */
#include "config_zone.h"

#include "err.h"
#include "fileio.h"
#include "prng.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

static const int64_t end_s = 4102444800; /* 2100-01-01 */

static struct civil civil_of(const struct zone_table *table)
{
    return (struct civil){table->offset_s, table->count, table->changes};
}

/* IANA tz database, 2026. Lord Howe's summer time is half an hour. */
static void known_changes(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        int64_t at_s;
        int32_t before_s, after_s;
    } cases[] = {
        {"Europe/Berlin", 1774746000, 3600, 7200},         /* 2026-03-29T01:00Z */
        {"Europe/Berlin", 1792890000, 7200, 3600},         /* 2026-10-25T01:00Z */
        {"America/New_York", 1772953200, -18000, -14400},  /* 2026-03-08T07:00Z */
        {"America/New_York", 1793512800, -14400, -18000},  /* 2026-11-01T06:00Z */
        {"Australia/Lord_Howe", 1775314800, 39600, 37800}, /* 2026-04-04T15:00Z */
        {"Australia/Lord_Howe", 1791041400, 37800, 39600}, /* 2026-10-03T15:30Z */
    };
    static struct zone_table table;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        print_message("%s\n", cases[i].name);
        assert_int_equal(zone_changes(ZONE_FOLDER, cases[i].name, &table, NULL), 0);
        struct civil civil = civil_of(&table);
        assert_int_equal(civil_offset(&civil, cases[i].at_s - 1), cases[i].before_s);
        assert_int_equal(civil_offset(&civil, cases[i].at_s), cases[i].after_s);
        assert_true(civil_next_change(&civil, cases[i].at_s - 1) == cases[i].at_s);
    }
    assert_int_equal(zone_changes(ZONE_FOLDER, "Asia/Kathmandu", &table, NULL), 0);
    struct civil civil = civil_of(&table);
    assert_int_equal(civil_offset(&civil, 1772953200), 20700);
    assert_true(civil_next_change(&civil, 1772953200) == INT64_MAX);
}

static void check_table(const struct zone_table *table)
{
    int32_t offset_s = table->offset_s;
    for (int i = 0; i < table->count; i++) {
        assert_true(table->changes[i].offset_s != offset_s);
        assert_true(table->changes[i].from_s > (i > 0 ? table->changes[i - 1].from_s : 0));
        offset_s = table->changes[i].offset_s;
    }
}

/* TZ must say the zone. Random moments, and both sides of every change. */
static void compare(const struct zone_table *table, int64_t from_s, struct prng *prng)
{
    struct civil civil = civil_of(table);
    check_table(table);
    tzset();
    for (int i = 0; i < 2000 + 2 * table->count; i++) {
        time_t moment = i < 2 * table->count ? table->changes[i / 2].from_s - i % 2
                                             : prng_int(prng, from_s, end_s - 1);
        struct tm want;
        assert_non_null(localtime_r(&moment, &want));
        if (moment >= from_s && civil_offset(&civil, moment) != want.tm_gmtoff) {
            print_error("%s at %lld\n", getenv("TZ"), (long long)moment);
            assert_int_equal(civil_offset(&civil, moment), want.tm_gmtoff);
        }
    }
}

static void agrees_with_the_c_library(void **state)
{
    (void)state;
    static const char *const names[] = {
        "America/New_York",  "Europe/Berlin",    "Australia/Lord_Howe",
        "Asia/Tokyo",        "Europe/London",    "Africa/Casablanca",
        "Europe/Dublin",     "America/Santiago", "Africa/Cairo",
        "America/Sao_Paulo", "Pacific/Apia",     "Asia/Gaza",
        "America/Nuuk",      "Antarctica/Troll", "UTC"};
    struct prng prng = prng_start("agrees_with_the_c_library");
    static struct zone_table table;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        print_message("%s\n", names[i]);
        assert_int_equal(zone_changes(ZONE_FOLDER, names[i], &table, NULL), 0);
        assert_int_equal(setenv("TZ", names[i], 1), 0);
        compare(&table, 0, &prng);
    }
}

/* Two headers, the second with one type of 0 s, then the rule. */
static size_t make_table(char *table, size_t size, int32_t offset_s, const char *rule)
{
    static const char magic[] = {'T', 'Z', 'i', 'f', '3'};
    memset(table, 0, size);
    memcpy(table, magic, sizeof magic);
    memcpy(table + 44, magic, sizeof magic);
    table[44 + 20 + 4 * 4 + 3] = 1;
    for (int i = 0; i < 4; i++) {
        table[88 + i] = (char)((uint32_t)offset_s >> (24 - 8 * i));
    }
    return 94 + (size_t)snprintf(table + 94, size - 94, "\n%s\n", rule);
}

struct folder {
    char path[64], file[80];
};

static int setup_folder(void **state)
{
    static struct folder folder;
    (void)snprintf(folder.path, sizeof folder.path, "/tmp/test_config_zone_XXXXXX");
    assert_non_null(mkdtemp(folder.path));
    (void)snprintf(folder.file, sizeof folder.file, "%s/Zone", folder.path);
    *state = &folder;
    return 0;
}

static int remove_folder(void **state)
{
    const struct folder *folder = *state;
    (void)unlink(folder->file);
    return rmdir(folder->path);
}

/* Every form of a rule; the first year is left out, in which the table's own offset may rule. */
static void rules_agree_with_the_c_library(void **state)
{
    const struct folder *folder = *state;
    static const char *const rules[] = {
        "ABC-1DEF,M3.5.0,M10.5.0/3",    "ABC5DEF,J60/2,J300/25:30",
        "ABC-3DEF,59/0,299/12:00:30",   "ABC3DEF2,M9.1.6/24,M4.1.6/24",
        "IST-1GMT0,M10.5.0,M3.5.0/1",   "<-02>2<-01>,M3.5.0/-1,M10.5.0/0",
        "ABC-2DEF,M3.4.4/50,M10.4.4/50"};
    struct prng prng = prng_start("rules_agree_with_the_c_library");
    static struct zone_table zone;
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        char table[256];
        print_message("%s\n", rules[i]);
        size_t size = make_table(table, sizeof table, 0, rules[i]);
        assert_int_equal(fileio_replace(folder->file, table, size, 0600, NULL), 0);
        assert_int_equal(zone_changes(folder->path, "Zone", &zone, NULL), 0);
        assert_int_equal(setenv("TZ", rules[i], 1), 0);
        compare(&zone, 366 * 86400, &prng);
    }
}

/* "One offset all year" as two changes that meet, RFC 8536, 3.3.1. */
static void summer_all_year(void **state)
{
    const struct folder *folder = *state;
    static struct zone_table zone;
    char table[256];
    size_t size = make_table(table, sizeof table, -14400, "ABC3EDT4,0/0,J365/23");
    assert_int_equal(fileio_replace(folder->file, table, size, 0600, NULL), 0);
    assert_int_equal(zone_changes(folder->path, "Zone", &zone, NULL), 0);
    struct civil civil = civil_of(&zone);
    for (int64_t at_s = 86400; at_s < end_s - 86400; at_s += 1234567) {
        assert_int_equal(civil_offset(&civil, at_s), -14400);
    }
}

static void damaged_files(void **state)
{
    const struct folder *folder = *state;
    struct prng prng = prng_start("damaged_files");
    static struct zone_table zone;
    char *whole = NULL;
    size_t size = 0;
    struct err err;
    assert_int_equal(fileio_read(ZONE_FOLDER "/America/New_York", 100000, &whole, &size, &err), 0);
    zone.count = 77;
    for (int i = 0; i < 300; i++) { /* cut, but for the rule */
        size_t kept = (size_t)prng_int(&prng, 0, 400);
        char cut[512];
        memcpy(cut, whole, kept);
        size_t length = kept + (size_t)snprintf(cut + kept, sizeof cut - kept, "\nEST5\n");
        assert_int_equal(fileio_replace(folder->file, cut, length, 0600, NULL), 0);
        assert_int_equal(zone_changes(folder->path, "Zone", &zone, &err), -EINVAL);
        assert_int_equal(zone.count, 77);
    }
    for (int i = 0; i < 300; i++) { /* whatever comes out is a table */
        char *copy = malloc(size);
        assert_non_null(copy);
        memcpy(copy, whole, size);
        for (int k = 0; k < 3; k++) {
            copy[prng_int(&prng, 0, (int64_t)size - 1)] = (char)prng_int(&prng, 0, 255);
        }
        assert_int_equal(fileio_replace(folder->file, copy, size, 0600, NULL), 0);
        if (zone_changes(folder->path, "Zone", &zone, &err) == 0) {
            check_table(&zone);
        }
        free(copy);
    }
    free(whole);
    static const char *const rules[] = {"CET-1CEST,M3.5.0", "CET-1CEST,M13.5.0,M10.5.0",
                                        "CET-1CEST,M3.5.0,M10.5.0/168", "CET-1CEST,J0,J365",
                                        "CET-1CEST,M3.5.0,M10.5.0x"};
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        char table[256];
        size_t length = make_table(table, sizeof table, 0, rules[i]);
        assert_int_equal(fileio_replace(folder->file, table, length, 0600, NULL), 0);
        assert_int_equal(zone_changes(folder->path, "Zone", &zone, &err), -EINVAL);
        assert_non_null(strstr(err.text, "says nothing about the time from now on"));
    }
}

static void names_are_checked(void **state)
{
    (void)state;
    static struct zone_table table;
    struct err err;
    assert_int_equal(zone_changes(ZONE_FOLDER, "../passwd", &table, &err), -EINVAL);
    assert_int_equal(zone_changes(ZONE_FOLDER, "Europe/Atlantis", &table, &err), -ENOENT);
    assert_non_null(strstr(err.text, "there is no time zone \"Europe/Atlantis\""));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(known_changes),
        cmocka_unit_test(agrees_with_the_c_library),
        cmocka_unit_test_setup_teardown(rules_agree_with_the_c_library, setup_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(summer_all_year, setup_folder, remove_folder),
        cmocka_unit_test_setup_teardown(damaged_files, setup_folder, remove_folder),
        cmocka_unit_test(names_are_checked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
