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

/* Cut anywhere, the list is refused: a lamp that is missing from it would stay lit. */
static void cut_anywhere(void **state)
{
    (void)state;
    char text[sizeof good];
    for (size_t cut = 0; cut < sizeof good - 1; cut++) {
        struct safelist list = {0};
        memcpy(text, good, cut);
        text[cut] = '\0';
        assert_int_equal(safelist_parse("list", text, &list, NULL), -EINVAL);
    }
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
        (void)safelist_parse("list", text, &list, NULL);
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
        cmocka_unit_test(written_and_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
