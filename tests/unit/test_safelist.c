/* SPDX-License-Identifier: Apache-2.0 */
#include "safelist.h"

#include "config.h"
#include "err.h"
#include "prng.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static const char good[] = "lampwarden-safe-list 1\n"
                           "bus bench the first shelf\n"
                           "set layout 2,1\n"
                           "set seed 7\n"
                           "output dim a name with spaces\n"
                           "set unit 0\n"
                           "output switch b\n"
                           "set unit 2\n"
                           "bus bench second\n"
                           "output switch c\n"
                           "end 3\n";

static void a_good_list(void **state)
{
    (void)state;
    struct safelist list = {0};
    assert_int_equal(safelist_parse("list", good, &list, NULL), 0);
    assert_int_equal(list.bus_count, 2);
    assert_int_equal(list.output_count, 3);
    assert_string_equal(safelist_bus_name(&list, 0), "the first shelf");
    assert_int_equal(safelist_bus_outputs(&list, 0), 2);
    assert_int_equal(safelist_bus_outputs(&list, 1), 1);
    assert_int_equal(safelist_make_safe(&list, 0, NULL), 0);
    assert_int_equal(safelist_make_safe(&list, 0, NULL), 0); /* as often as one likes */
    safelist_finish(&list);
    safelist_finish(&list);
}

static void bad_lists(void **state)
{
    (void)state;
    static const struct {
        const char *text, *want;
    } cases[] = {
        {"", "cut short"},
        {"lampwarden-safe-list 2\nend 0\n", "list:1: not a list of outputs"},
        {"hello\n", "list:1: not a line"},
        {"lampwarden-safe-list 1\n", "cut short"},
        {"lampwarden-safe-list 1\nend 1\n", "list:2: the list does not hold"},
        {"lampwarden-safe-list 1\nend 0\nend 0\n", "list:3: not a line"},
        {"lampwarden-safe-list 1\nbus warp w\nend 0\n", "list:2: no such driver: warp"},
        {"lampwarden-safe-list 1\noutput dim x\nend 1\n", "list:2: an output without a bus"},
        {"lampwarden-safe-list 1\nset a b\nend 0\n", "list:2: no such option here: a"},
        {"lampwarden-safe-list 1\nbus bench b\nset warp 9\nend 0\n", "no such option here: warp"},
        {"lampwarden-safe-list 1\nbus bench b\nset seed -1\nend 0\n", "list:3: seed: "},
        {"lampwarden-safe-list 1\nbus bench b\nset seed 1x\nend 0\n", "list:3: seed: "},
        {"lampwarden-safe-list 1\nbus bench b\nset room_c nan\nend 0\n", "list:3: room_c: "},
        {"lampwarden-safe-list 1\nbus bench b\noutput lamp x\nend 1\n", "dim or switch"},
        {"lampwarden-safe-list 1\nbus bench b\noutput dim x\nset what fog\nend 1\n", "what"},
        {"lampwarden-safe-list 1\nbus modbus-tcp b\nend 0\n", "an option is missing: host"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct safelist list = {.bus_count = 0};
        struct err err = {""};
        assert_true(safelist_parse("list", cases[i].text, &list, &err) < 0);
        if (!strstr(err.text, cases[i].want)) {
            print_error("'%s' is not in '%s'\n", cases[i].want, err.text);
        }
        assert_non_null(strstr(err.text, cases[i].want));
        assert_int_equal(list.bus_count, 0);
    }
}

/* Cut anywhere, it is not whole: a lamp that is missing from it would stay lit. The others are
 * safe. */
static void cut_anywhere(void **state)
{
    (void)state;
    char text[sizeof good];
    for (size_t cut = 0; cut < sizeof good - 1; cut++) {
        struct safelist list = {0};
        memcpy(text, good, cut);
        text[cut] = '\0';
        if (safelist_parse("list", text, &list, NULL) == 0) {
            assert_in_range(list.fault_count, 1, 3);
            assert_in_range(list.output_count, 1, 3);
            assert_non_null(strstr(list.faults, "the list is cut short"));
        }
        safelist_finish(&list);
    }
}

/* Line by line: what a damaged one costs. */
static void one_damaged_line(void **state)
{
    (void)state;
    static const struct {
        const char *line, *becomes;
        int buses, outputs;
    } cases[] = {
        {"lampwarden-safe-list 1", "#", 2, 3},
        {"bus bench the first shelf", "bus warp the first shelf", 1, 1},
        {"bus bench the first shelf", "b", 1, 1}, /* whose outputs would these be? */
        {"set layout 2,1", "set layout", 1, 1},
        {"set seed 7", "set seed -1", 1, 1},
        {"output dim a name with spaces", "output dom a", 2, 2},
        {"output dim a name with spaces", "putout dim a", 1, 1}, /* an option of the bus? */
        {"set unit 0", "set unit x", 2, 2},
        {"set unit 0", "set yunit 0", 2, 2},
        {"set unit 0", "sxt unit 0", 2, 1},
        {"output switch b", "", 2, 1}, /* the line before it may have lost its options too */
        {"bus bench second", "bos bench second", 1, 1},
        {"output switch c", "output", 1, 2},
        {"end 3", "end 4", 2, 3},
        {"end 3", "und 3", 2, 2},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        char text[sizeof good + 64];
        struct safelist list = {0};
        const char *at = strstr(good, cases[i].line);
        assert_non_null(at);
        (void)snprintf(text, sizeof text, "%.*s%s%s", (int)(at - good), good, cases[i].becomes,
                       at + strlen(cases[i].line));
        assert_int_equal(safelist_parse("list", text, &list, NULL), 0);
        if (list.bus_count != cases[i].buses || list.output_count != cases[i].outputs) {
            print_error("'%s': %d buses, %d outputs; %s", cases[i].becomes, list.bus_count,
                        list.output_count, list.faults);
        }
        assert_int_equal(list.bus_count, cases[i].buses);
        assert_int_equal(list.output_count, cases[i].outputs);
        assert_true(list.fault_count > 0);
        for (int bus = 0; bus < list.bus_count; bus++) {
            assert_int_equal(safelist_make_safe(&list, bus, NULL), 0);
        }
        safelist_finish(&list);
    }
}

static void many_faults(void **state)
{
    (void)state;
    static char text[4096] = "lampwarden-safe-list 1\nbus bench b\noutput switch c\n";
    struct safelist list = {0};
    for (int i = 0; i < 100; i++) {
        (void)strcat(text, "set no such\n");
    }
    (void)strcat(text, "output switch d\nend 1\n");
    assert_int_equal(safelist_parse("list", text, &list, NULL), 0);
    assert_int_equal(list.fault_count, 100);
    assert_int_equal(list.output_count, 1);
    safelist_finish(&list);
}

static void mutations(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    for (int round = 0; round < 5000; round++) {
        char text[sizeof good];
        struct safelist list = {0};
        memcpy(text, good, sizeof good);
        for (int64_t i = prng_int(&prng, 1, 5); i > 0; i--) {
            text[prng_int(&prng, 0, sizeof good - 2)] = (char)prng_int(&prng, 1, 126);
        }
        if (safelist_parse("list", text, &list, NULL) == 0) {
            for (int bus = 0; bus < list.bus_count; bus++) {
                (void)safelist_make_safe(&list, bus, NULL);
            }
        }
        safelist_finish(&list);
    }
}

/* What the daemon writes of a configuration, the stop step reads. */
static void written_and_read(void **state)
{
    (void)state;
    static const char *const names[] = {"least.conf", "propagation.conf", "switch_only.conf"};
    char folder[] = "/tmp/lampwarden-safe-XXXXXX";
    assert_non_null(mkdtemp(folder));
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char path[128];
        struct config *config = NULL;
        struct config_report report = {0};
        struct safelist list = {0};
        struct err err = {""};
        (void)snprintf(path, sizeof path, TESTS_DATA "/good/%s", names[i]);
        assert_int_equal(config_load(path, &config, &report), 0);
        config_report_free(&report);
        (void)snprintf(path, sizeof path, "%s/list", folder);
        assert_int_equal(safelist_write(config, path, &err), 0);
        int code = safelist_read(path, &list, &err);
        if (code < 0) {
            print_error("%s: %s\n", names[i], err.text);
        }
        assert_int_equal(code, 0);
        assert_int_equal(list.output_count, config->output_count);
        safelist_finish(&list);
        config_free(config);
        assert_int_equal(unlink(path), 0);
        assert_int_equal(safelist_read(path, &list, &err), -ENOENT);
    }
    assert_int_equal(rmdir(folder), 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_good_list),      cmocka_unit_test(bad_lists),
        cmocka_unit_test(cut_anywhere),     cmocka_unit_test(mutations),
        cmocka_unit_test(written_and_read), cmocka_unit_test(one_damaged_line),
        cmocka_unit_test(many_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
