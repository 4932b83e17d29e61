/* SPDX-License-Identifier: Apache-2.0 */
/* What is printed loads again and means the same, down to the last bit. */
#include "config.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct config *load(const char *text, const char *name)
{
    struct config *config = NULL;
    struct config_report report;
    int r = text ? config_load_text(name, text, strlen(text), &config, &report)
                 : config_load(name, &config, &report);
    if (r != 0) {
        print_message("%s", report.text);
    }
    assert_int_equal(r, 0);
    config_report_free(&report);
    return config;
}

/* Not inlined: gcc 12 would take the stream's text for a pointer into this function's frame. */
__attribute__((noinline)) static char *print(const struct config *config)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    assert_int_equal(config_print(config, out), 0);
    assert_int_equal(fclose(out), 0);
    return text;
}

/* Origins differ between the two printings; everything before the comment must not. */
static void strip_comments(char *text)
{
    char *to = text;
    bool is_quoted = false;
    bool is_comment = false;
    for (const char *p = text; *p; p++) {
        is_quoted = *p == '"' && (p == text || p[-1] != '\\') ? !is_quoted : is_quoted;
        is_comment = *p == '\n' ? false : is_comment || (*p == '#' && !is_quoted);
        if (!is_comment && *p != ' ') {
            *to++ = *p;
        }
    }
    *to = '\0';
}

static void check_same_stages(const struct config *a, const struct config *b)
{
    for (int i = 0; i < a->stage_count; i++) {
        assert_string_equal(a->stages[i].name, b->stages[i].name);
        assert_int_equal(a->stages[i].days, b->stages[i].days);
        assert_int_equal(a->stages[i].window.on_s, b->stages[i].window.on_s);
        assert_int_equal(a->stages[i].window.length_s, b->stages[i].window.length_s);
        assert_true(a->stages[i].target_mol == b->stages[i].target_mol);
        assert_true(a->stages[i].ceiling_umol == b->stages[i].ceiling_umol);
        assert_int_equal(a->stages[i].protects_night, b->stages[i].protects_night);
    }
}

static void check_same_lamps(const struct config *a, const struct config *b)
{
    for (int i = 0; i < a->fixture_count; i++) {
        const struct fixture_rules *ours = &a->fixture_rules[i];
        const struct fixture_rules *theirs = &b->fixture_rules[i];
        assert_int_equal(ours->curve.count, theirs->curve.count);
        assert_memory_equal(ours->curve.points, theirs->curve.points,
                            (size_t)ours->curve.count * sizeof *ours->curve.points);
        assert_true(ours->heat.trip_c == theirs->heat.trip_c);
        assert_true(ours->heat.rise_per_s == theirs->heat.rise_per_s);
        assert_true(ours->ceiling.drive_max == theirs->ceiling.drive_max);
        assert_int_equal(a->fixtures[i].space, b->fixtures[i].space);
    }
    for (int i = 0; i < a->sensor_count; i++) {
        const struct quality_rules *ours = &a->sensors[i].quality;
        const struct quality_rules *theirs = &b->sensors[i].quality;
        assert_true(ours->low == theirs->low && ours->high == theirs->high);
        assert_true(ours->stale_ns == theirs->stale_ns && ours->lost_ns == theirs->lost_ns);
        assert_true(ours->jump_per_s == theirs->jump_per_s);
    }
}

static void round_trip(const char *path)
{
    print_message("%s\n", path);
    struct config *first = load(NULL, path);
    char *printed = print(first);
    struct config *second = load(printed, "printed");
    char *again = print(second);
    strip_comments(printed);
    strip_comments(again);
    assert_string_equal(printed, again);
    assert_true(config_same_hardware(first, second, NULL));
    assert_int_equal(first->stage_count, second->stage_count);
    check_same_stages(first, second);
    check_same_lamps(first, second);
    assert_int_equal(first->site.utc_offset_s, second->site.utc_offset_s);
    assert_true(first->site.tariff.price_per_kwh == second->site.tariff.price_per_kwh);
    free(printed);
    free(again);
    config_free(first);
    config_free(second);
}

static void prints_what_loads_again(void **state)
{
    (void)state;
    round_trip(SOURCE_DIR "/etc/demo.conf");
    round_trip(SOURCE_DIR "/etc/lampwarden.conf");
    round_trip(TESTS_DATA "/good/propagation.conf");
    round_trip(TESTS_DATA "/good/least.conf");
    round_trip(TESTS_DATA "/good/warned.conf");
    round_trip(TESTS_DATA "/good/switch_only.conf");
}

static void tells_the_origin(void **state)
{
    (void)state;
    struct config *config = load(NULL, TESTS_DATA "/good/propagation.conf");
    char *text = print(config);
    const char *seed = strstr(text, "seed = 7;");
    const char *pace = strstr(text, "pace = 1.0;");
    assert_non_null(seed);
    assert_non_null(pace);
    assert_non_null(strstr(seed, "/good/propagation.conf:5\n"));
    assert_true(strcspn(pace, "#") < strcspn(pace, "\n"));
    assert_memory_equal(strchr(pace, '#'), "# default\n", 10);
    assert_non_null(strstr(text, "# latitude: not given\n"));
    free(text);
    config_free(config);
}

static void awkward_values_survive(void **state)
{
    (void)state;
    static const char rest[] =
        "buses = ( { name = \"b\"; driver = \"bench\"; every_s = 0.3333333333333333; seed = "
        "9007199254740991L;"
        " ppfd_noise = 1.0e-5; } );"
        "outputs = ( { name = \"d\"; bus = \"b\"; kind = \"dim\"; }, { name = \"s\"; bus = \"b\"; "
        "kind = \"switch\"; } );"
        "fixtures = ( { name = \"f\"; dim = \"d\"; switch = \"s\"; ppfd_full = 100; curve = ("
        " { drive = 0; level = 0; }, { drive = 0.1; level = 0.30000000000000004; }, { drive = 1; "
        "level = 1; } ); } );"
        "stages = ( { name = \"g\"; days = 0; lights_on = \"06:00:01\"; day_length_h = 16; "
        "target_mol = 3; } );"
        "spaces = ( { name = \"x\"; fixtures = \"f\"; stages = \"g\"; start = \"2026-11-02\"; } );"
        "site = { utc_offset = \"Z\"; name = \"a \\\"b\\\" \\\\ c\\n\\x7Fd # no comment é\"; "
        "price_per_kwh = 0.1; };";
    struct config *first = load(rest, "awkward");
    char *text = print(first);
    struct config *second = load(text, "printed");
    assert_string_equal(second->site.name, "a \"b\" \\ c\n\x7F"
                                           "d # no comment é");
    assert_string_equal(first->site.name, second->site.name);
    assert_true(second->buses[0].every_s == 0.3333333333333333);
    assert_true(second->buses[0].options[0].integer == 9007199254740991);
    assert_true(second->fixture_rules[0].curve.points[1].level == 0.30000000000000004);
    assert_int_equal(second->stages[0].window.on_s, 6 * 3600 + 1);
    assert_non_null(strstr(text, "seed = 9007199254740991L;"));
    free(text);
    config_free(first);
    config_free(second);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(prints_what_loads_again),
        cmocka_unit_test(tells_the_origin),
        cmocka_unit_test(awkward_values_survive),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
