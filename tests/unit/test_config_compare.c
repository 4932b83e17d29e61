/* SPDX-License-Identifier: Apache-2.0 */
/* Which changes of a configuration need the devices opened again. */
#include "config.h"

#include "fileio.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define GOOD TESTS_DATA "/good/propagation.conf"

static struct config *load_with(const char *from, const char *to)
{
    char *text = NULL;
    assert_int_equal(fileio_read(GOOD, 1U << 20, &text, NULL, NULL), 0);
    char *place = strstr(text, from);
    assert_non_null(place);
    char *changed = NULL;
    assert_true(
        asprintf(&changed, "%.*s%s%s", (int)(place - text), text, to, place + strlen(from)) > 0);
    struct config *config = NULL;
    struct config_report report;
    int r = config_load_text("changed", changed, strlen(changed), &config, &report);
    if (r != 0) {
        print_message("%s", report.text);
    }
    assert_int_equal(r, 0);
    config_report_free(&report);
    free(changed);
    free(text);
    return config;
}

static void differences(void **state)
{
    (void)state;
    static const struct {
        const char *from, *to, *what; /* NULL: the same hardware */
    } cases[] = {
        {"seed = 7", "seed = 8", "buses[0].seed"},
        {"every_s = 1.0; ", "", NULL},
        {"every_s = 1.0", "every_s = 2.0", "buses[0].every_s"},
        {"unit = 0; high = 1300.0", "unit = 2; high = 1300.0", "sensors[0].unit"},
        {"high = 1300.0", "high = 1400.0", NULL},
        {"name = \"room_humidity\"; bus = \"room\"; kind = \"humidity\"; unit = 0;",
         "name = \"room_humidity\"; bus = \"room\"; kind = \"humidity\"; unit = 1;",
         "sensors[12].unit"},
        {"kind = \"dim\"; unit = 0; }", "kind = \"dim\"; unit = 0; tolerance = 0.2; }", NULL},
        {"\n  { name = \"lettuce_a_dim\"",
         "\n  { name = \"more\"; bus = \"room\"; kind = \"dim\"; unit = 5; },\n  { name = "
         "\"lettuce_a_dim\"",
         "outputs[0].name"},
        {"{ name = \"chrysanthemum_switch\"; bus = \"room\"; kind = \"switch\"; unit = 3; }",
         "{ name = \"chrysanthemum_switch\"; bus = \"room\"; kind = \"switch\"; unit = 3; },\n"
         "  { name = \"more\"; bus = \"room\"; kind = \"switch\"; unit = 5; }",
         "outputs"},
        {"target_mol = 10.0", "target_mol = 9.0", NULL},
        {"foldback_to_c = 70.0", "foldback_to_c = 69.0", NULL},
    };
    struct config *base = load_with("seed = 7", "seed = 7");
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        print_message("%s -> %s\n", cases[i].from, cases[i].to);
        struct config *other = load_with(cases[i].from, cases[i].to);
        const char *what = NULL;
        assert_true(config_same_hardware(base, other, &what) == (cases[i].what == NULL));
        assert_true(config_same_hardware(base, other, NULL) == (cases[i].what == NULL));
        if (cases[i].what) {
            assert_string_equal(what, cases[i].what);
        }
        config_free(other);
    }
    assert_true(config_same_hardware(base, base, NULL));
    config_free(base);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(differences),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
