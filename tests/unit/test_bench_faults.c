/* SPDX-License-Identifier: Apache-2.0 */
/* The fault script: what it takes, and what it says about what it does not take. */
#include "bench_faults.h"
#include "near.h"

#include "err.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <cmocka.h>

static struct bench_model *begin(void)
{
    struct bench_setup setup;
    bench_setup_defaults(&setup);
    setup.canopy_count = 2;
    setup.fixture_count = 3;
    for (int i = 0; i < 3; i++) {
        bench_fixture_defaults(&setup.fixtures[i], 200, 150);
    }
    struct bench_model *model = bench_model_create(&setup);
    assert_non_null(model);
    return model;
}

static int load(struct bench_model *model, const char *text, size_t size, struct err *err)
{
    char path[] = "/tmp/lampwarden-faults-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, text, size), (int)size);
    close(fd);
    int code = bench_faults_load(model, path, err);
    unlink(path);
    return code;
}

static void test_good_script(void **state)
{
    (void)state;
    const char text[] = "# a bad day in the propagation room\n"
                        "\n"
                        "0     10s   ppfd-silent 0\n"
                        "1min  1min  heat-step   2  25   # the fan of the shelf stopped\r\n"
                        "\t1h30min 90s late 0 2.5\n"
                        "2h 1h trip 1 0.85";
    struct bench_model *model = begin();
    struct err err = {.text = ""};
    assert_int_equal(load(model, text, strlen(text), &err), 0);
    assert_int_equal(bench_model_fault_count(model), 4);
    double value = 0;
    assert_true(bench_model_has_fault(model, BENCH_PPFD_SILENT, 0, NULL));
    assert_false(bench_model_has_fault(model, BENCH_PPFD_SILENT, 1, NULL));
    for (int i = 0; i < 61; i++) {
        bench_model_step(model, 1);
    }
    assert_false(bench_model_has_fault(model, BENCH_PPFD_SILENT, 0, NULL));
    assert_true(bench_model_has_fault(model, BENCH_HEAT_STEP, 2, &value));
    assert_near(value, 25, 0);
    for (int i = 0; i < 90; i++) {
        bench_model_step(model, 60);
    }
    assert_true(bench_model_has_fault(model, BENCH_LATE, 0, &value));
    assert_near(value, 2.5, 0);
    for (int i = 0; i < 30; i++) {
        bench_model_step(model, 60);
    }
    assert_true(bench_model_has_fault(model, BENCH_TRIP, 1, &value));
    assert_near(value, 0.85, 0);
    bench_model_destroy(model);
}

static void test_every_kind(void **state)
{
    (void)state;
    static const bool takes_value[BENCH_FAULT_KINDS] = {[BENCH_PPFD_GAIN] = true,
                                                        [BENCH_HEAT_STEP] = true,
                                                        [BENCH_TRIP] = true,
                                                        [BENCH_LATE] = true};
    for (int i = 0; i < BENCH_FAULT_KINDS; i++) {
        char text[64];
        struct err err = {.text = ""};
        for (int with_value = 0; with_value < 2; with_value++) {
            struct bench_model *model = begin();
            snprintf(text, sizeof text, "0 1h %s 0 %s", bench_fault_name((enum bench_fault_kind)i),
                     with_value ? "0.5" : "");
            bool good = takes_value[i] == (with_value == 1);
            assert_int_equal(load(model, text, strlen(text), &err), good ? 0 : -EINVAL);
            assert_true(bench_model_has_fault(model, (enum bench_fault_kind)i, 0, NULL) == good);
            bench_model_destroy(model);
        }
    }
    assert_string_equal(bench_fault_name(BENCH_FAULT_KINDS), "unknown");
}

static void test_bad_scripts(void **state)
{
    (void)state;
    static const struct {
        const char *line, *says;
    } bad[] = {
        {"12h 1h ppfd-silent", "3 of FROM LENGTH KIND UNIT [VALUE] given"},
        {"12 1h ppfd-silent 0", "from"},
        {"-1h 1h ppfd-silent 0", "from"},
        {"nan 1h ppfd-silent 0", "from"},
        {"12h 0 ppfd-silent 0", "length"},
        {"12h 0s ppfd-silent 0", "length"},
        {"12h 99999999999d ppfd-silent 0", "length"},
        {"12h 1h ppfd-quiet 0", "\"ppfd-quiet\" is unknown (ppfd-stuck, ppfd-nan"},
        {"12h 1h ppfd-silent 2", "canopy"},
        {"12h 1h ppfd-silent -1", "canopy"},
        {"12h 1h ppfd-silent 0x0", "canopy"},
        {"12h 1h dead 3", "fixture"},
        {"12h 1h bus-down 1", "unit"},
        {"12h 1h heat-step 0", "needs a value (-50 … 100, K)"},
        {"12h 1h heat-step 0 101", "K"},
        {"12h 1h heat-step 0 nan", "K"},
        {"12h 1h heat-step 0 1,5", "K"},
        {"12h 1h trip 0 1.01", "drive"},
        {"12h 1h ppfd-gain 0 inf", "times the reading"},
        {"12h 1h dead 0 1", "takes no value"},
        {"12h 1h heat-step 0 20 30", "one word too many"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct bench_model *model = begin();
        const struct bench_fault earlier = {.length_s = 5, .kind = BENCH_DEAD, .unit = 2};
        assert_int_equal(bench_model_add_fault(model, &earlier), 0);
        char text[160];
        snprintf(text, sizeof text, "0 1h welded 1\n%s\n", bad[i].line);
        struct err err = {.text = ""};
        int code = load(model, text, strlen(text), &err);
        if (code >= 0 || !strstr(err.text, bad[i].says) || !strstr(err.text, ":2: ")) {
            fail_msg("%s → %d: %s (wanted: %s)", bad[i].line, code, err.text, bad[i].says);
        }
        assert_int_equal(bench_model_fault_count(model), 1); /* none of the file, all from before */
        bench_model_destroy(model);
    }
}

static void test_hostile_files(void **state)
{
    (void)state;
    struct bench_model *model = begin();
    struct err err = {.text = ""};
    assert_int_equal(load(model, "0 1h dead 0\n\0\n", 14, &err), -EINVAL);
    assert_non_null(strstr(err.text, "NUL"));
    assert_true(bench_faults_load(model, "/nonexistent/script", &err) < 0);
    assert_non_null(strstr(err.text, "/nonexistent/script"));
    assert_true(bench_faults_load(model, "/tmp", &err) < 0);

    char many[300 * 12 + 1];
    int size = 0;
    for (int i = 0; i < 300; i++) {
        size += snprintf(many + size, sizeof many - (size_t)size, "0 1h dead 0\n");
    }
    assert_int_equal(load(model, many, (size_t)size, &err), -ENOSPC);
    assert_non_null(strstr(err.text, ":257: more than 256 faults"));
    assert_int_equal(bench_model_fault_count(model), 0);

    assert_int_equal(load(model, "", 0, &err), 0);
    bench_model_destroy(model);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_good_script),
        cmocka_unit_test(test_every_kind),
        cmocka_unit_test(test_bad_scripts),
        cmocka_unit_test(test_hostile_files),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
