/* SPDX-License-Identifier: Apache-2.0 */
#include "config_zone.h"

#include "err.h"
#include "fileio.h"

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

static void winter_offsets(void **state)
{
    (void)state;
    /* IANA time zone database (Debian package tzdata). Dublin's law calls summer time its standard:
     * winter is UTC all the same. Kolkata and Kathmandu have no summer time. */
    static const struct {
        const char *name;
        int32_t offset_s;
    } zones[] = {
        {"America/New_York", -5 * 3600},
        {"Europe/Berlin", 3600},
        {"Australia/Lord_Howe", 37800},
        {"Europe/Dublin", 0},
        {"Asia/Kolkata", 19800},
        {"Asia/Kathmandu", 20700},
        {"America/Santiago", -4 * 3600},
        {"America/St_Johns", -12600},
        {"UTC", 0},
        {"Pacific/Kiritimati", 50400},
    };
    char kept[256];
    const char *before = getenv("TZ");
    (void)snprintf(kept, sizeof kept, "%s", before ? before : "");
    for (size_t i = 0; i < sizeof zones / sizeof *zones; i++) {
        int32_t offset_s = -1;
        struct err err = {""};
        print_message("%s\n", zones[i].name);
        assert_int_equal(zone_standard_offset(ZONE_FOLDER, zones[i].name, &offset_s, &err), 0);
        assert_int_equal(offset_s, zones[i].offset_s);
    }
    const char *after = getenv("TZ");
    assert_string_equal(after ? after : "", kept);
}

/* The C library's own reading of the same table: the smallest offset of the coming year. */
static void agrees_with_the_c_library(void **state)
{
    (void)state;
    static const char *const names[] = {"America/New_York", "Europe/Berlin", "Australia/Lord_Howe",
                                        "Asia/Tokyo",       "Europe/London", "Africa/Lagos"};
    const char *before = getenv("TZ");
    char *kept = before ? strdup(before) : NULL;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        assert_int_equal(setenv("TZ", names[i], 1), 0);
        tzset();
        time_t moment = time(NULL);
        long least = 86400;
        for (int week = 0; week < 53; week++, moment += 7 * 86400) {
            struct tm civil;
            assert_non_null(localtime_r(&moment, &civil));
            least = civil.tm_gmtoff < least ? civil.tm_gmtoff : least;
        }
        int32_t offset_s = -1;
        assert_int_equal(zone_standard_offset(ZONE_FOLDER, names[i], &offset_s, NULL), 0);
        assert_int_equal(offset_s, least);
    }
    (void)(kept ? setenv("TZ", kept, 1) : unsetenv("TZ"));
    tzset();
    free(kept);
}

static void unusable_names(void **state)
{
    (void)state;
    static const char *const names[] = {"",
                                        "/etc/passwd",
                                        "../../etc/passwd",
                                        "Europe/../Berlin",
                                        "Europe/Ber lin",
                                        "Europe/Berlin\n",
                                        "-01",
                                        "."};
    int32_t offset_s = 77;
    struct err err;
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        assert_int_equal(zone_standard_offset(ZONE_FOLDER, names[i], &offset_s, &err), -EINVAL);
    }
    assert_int_equal(zone_standard_offset(ZONE_FOLDER, "Europe/Atlantis", &offset_s, &err),
                     -ENOENT);
    assert_non_null(strstr(err.text, "there is no time zone \"Europe/Atlantis\""));
    assert_int_equal(zone_standard_offset(ZONE_FOLDER, "Europe", &offset_s, &err), -EISDIR);
    assert_int_equal(zone_standard_offset(ZONE_FOLDER, "tzdata.zi", &offset_s, &err), -EINVAL);
    assert_int_equal(offset_s, 77);
}

/* Footers in the form of RFC 8536, 3.3, behind a header of 44 bytes. */
static void strange_tables(void **state)
{
    (void)state;
    static const struct {
        const char *rule;
        int32_t offset_s; /* −1: refused */
    } cases[] = {
        {"CET-1CEST,M3.5.0,M10.5.0/3", 3600},
        {"CET-1CEST", 3600},
        {"<+0330>-3:30", 12600},
        {"ABC+3:30:30", -12630},
        {"IST-1GMT0,M10.5.0,M3.5.0/1", 0},
        {"", -1},
        {"CET", -1},
        {"C-1", -1},
        {"<CET-1", -1},
        {"CET-99", -1},
        {"CET-1:99", -1},
        {"CET-1X", -1},
        {"CET-20", -1},
    };
    char folder[] = "/tmp/test_config_zone_XXXXXX";
    char path[64];
    assert_non_null(mkdtemp(folder));
    (void)snprintf(path, sizeof path, "%s/Zone", folder);
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char table[128] = "TZif2";
        int length = snprintf(table + 44, sizeof table - 44, "\n%s\n", cases[i].rule);
        assert_int_equal(fileio_replace(path, table, 44 + (size_t)length, 0600, NULL), 0);
        int32_t offset_s = -1;
        print_message("\"%s\"\n", cases[i].rule);
        int r = zone_standard_offset(folder, "Zone", &offset_s, NULL);
        assert_int_equal(r, cases[i].offset_s == -1 ? -EINVAL : 0);
        assert_int_equal(offset_s, cases[i].offset_s);
    }
    (void)unlink(path);
    assert_int_equal(rmdir(folder), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(winter_offsets),
        cmocka_unit_test(agrees_with_the_c_library),
        cmocka_unit_test(unusable_names),
        cmocka_unit_test(strange_tables),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
