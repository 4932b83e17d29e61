/* SPDX-License-Identifier: Apache-2.0 */
/* A file put in the place of a line, and errors that name the right line of the right file. */
#include "config_include.h"

#include "fileio.h"
#include "findings.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[] = "/tmp/test_config_include_XXXXXX";

static const char head[] =
    "site = { utc_offset = \"+01:00\"; };\n"
    "buses = ( { name = \"room\"; driver = \"bench\"; } );\n"
    "sensors = ( { name = \"par\"; bus = \"room\"; kind = \"ppfd\"; high = 650.0; },\n"
    "  { name = \"heat\"; bus = \"room\"; kind = \"temperature\"; } );\n"
    "outputs = ( { name = \"dim\"; bus = \"room\"; kind = \"dim\"; },\n"
    "  { name = \"contact\"; bus = \"room\"; kind = \"switch\"; } );\n"
    "fixtures = ( { name = \"lamp\"; dim = \"dim\"; switch = \"contact\"; heat_sensors = [ "
    "\"heat\" "
    "];\n";
static const char tail[] =
    "} );\n"
    "stages = ( { name = \"growing\"; days = 0; lights_on = \"06:00\"; day_length_h = 16.0; "
    "target_mol = 12.0; } );\n"
    "spaces = ( { name = \"shelf\"; fixtures = [ \"lamp\" ]; ppfd_sensors = [ \"par\" ]; stages = "
    "[ "
    "\"growing\" ];\n"
    "  start = \"2026-11-02\"; } );\n";

/* As `lampwarden sweep` writes it. */
static const char record[] = "# Fixture record\n"
                             "curve = (\n"
                             "  { drive = 0.000000; level = 0.000000; watts = 2.10; },\n"
                             "  { drive = 0.100000; level = 0.120000; watts = 30.00; },\n"
                             "  { drive = 0.900000; level = 1.000000; watts = 280.00; }\n"
                             ");\n"
                             "ppfd_full = 387.40;\n"
                             "drive_ceiling = 0.8200;\n"
                             "commissioned = \"2026-11-20\";\n"
                             "commissioned_c = 41.5;\n"
                             "measured = {\n"
                             "  date = \"2026-11-20\";\n"
                             "  sensor = \"hand-held \\\"17\\\"\";\n"
                             "  heat_low_c = 20.5;\n"
                             "  rms_level = 0.002;\n"
                             "  droop = 0.019;\n"
                             "  readings = (\n"
                             "    { drive = 0.5000; level = 0.55499; watts = 151.0; },\n"
                             "    { drive = 0.9000; level = 1.00100; }\n"
                             "  );\n"
                             "};\n";

static char *in_folder(const char *name)
{
    static char path[128];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void write_file(const char *name, const char *text)
{
    assert_int_equal(fileio_replace(in_folder(name), text, strlen(text), 0600, NULL), 0);
}

static void write_config(const char *line)
{
    char text[8192];
    (void)snprintf(text, sizeof text, "%s%s%s", head, line, tail);
    write_file("x.conf", text);
}

/* Guarded and plain: the same report, in which the folder is "DIR". */
static void load(struct config **ret, int code, const char *expected)
{
    char path[128];
    (void)snprintf(path, sizeof path, "%s", in_folder("x.conf"));
    for (int guarded = 0; guarded < 2; guarded++) {
        struct config_report report;
        struct config *config = NULL;
        const int r = guarded ? config_load_guarded(path, &config, &report)
                              : config_load(path, &config, &report);
        char shown[2048];
        size_t used = 0;
        for (const char *p = report.text; *p && used + 4 < sizeof shown;) {
            const bool is_folder = strncmp(p, folder, strlen(folder)) == 0;
            used += (size_t)snprintf(shown + used, sizeof shown - used, "%.*s", is_folder ? 3 : 1,
                                     is_folder ? "DIR" : p);
            p += is_folder ? strlen(folder) : 1;
        }
        shown[used] = '\0';
        assert_string_equal(shown, expected);
        assert_int_equal(r, code);
        config_report_free(&report);
        if (guarded && ret) {
            *ret = config;
        } else {
            config_free(config);
        }
    }
}

static void a_record_is_the_fixtures(void **state)
{
    (void)state;
    struct config *config = NULL;
    write_file("lamp.record", record);
    write_config("  @include \"lamp.record\"\n");
    load(&config, 0, "");
    const struct fixture_rules *rules = &config->fixture_rules[0];
    assert_true(rules->full_umol == 387.40 && rules->ceiling.drive_max == 0.82);
    assert_int_equal(rules->curve.count, 3);
    assert_true(dimcurve_min_level(&rules->curve) == 0.12);
    assert_true(dimcurve_watts(&rules->curve, 1) == 280);
    const struct config_fixture *lamp = &config->fixtures[0];
    assert_true(lamp->is_commissioned && lamp->commissioned_c == 41.5);
    assert_int_equal(lamp->commissioned, 20777); /* days since 1970: date -d 2026-11-20 +%s */
    assert_int_equal(config->spaces[0].rules.ageing.commissioned, 20777);
    assert_string_equal(lamp->measured.date, "2026-11-20");
    assert_true(lamp->measured.rms_level == 0.002 && isnan(lamp->measured.ceiling_margin));
    assert_int_equal(lamp->measured.reading_count, 2);
    assert_true(lamp->measured.readings[0].watts == 151);
    assert_true(lamp->measured.readings[1].level == 1.001 &&
                isnan(lamp->measured.readings[1].watts));
    /* what is printed stands in one file */
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(config_print(config, out), 0);
    (void)fclose(out);
    assert_non_null(strstr(text, "sensor = \"hand-held \\\"17\\\"\""));
    assert_null(strstr(text, "@include"));
    write_file("x.conf", text);
    struct config *again = NULL;
    load(&again, 0, "");
    assert_true(again->fixture_rules[0].ceiling.drive_max == 0.82);
    config_free(again);
    config_free(config);
    free(text);
    /* by its whole path, with the line ends of another system, and without an end */
    char line[256];
    (void)snprintf(line, sizeof line, "@include \"%s\" \r\n", in_folder("lamp.record"));
    write_config(line);
    load(NULL, 0, "");
}

static void errors_name_the_right_line(void **state)
{
    (void)state;
    char bad[2048];
    (void)snprintf(bad, sizeof bad, "%s", record);
    memcpy(strstr(bad, "0.8200"), "8.2000", 6);
    write_file("lamp.record", bad);
    write_config("  @include \"lamp.record\"\n  hat = 1;\n");
    load(NULL, -EINVAL,
         "DIR/lamp.record:8: fixtures[0].drive_ceiling: 8.2 is out of range (0.01 … 1, share of "
         "the output's range)\n"
         "DIR/x.conf:9: fixtures[0].hat: unknown key, did you mean \"heat\"?\n");
    write_file("lamp.record", "curve = (\n  { drive = ; } );\n");
    write_config("  @include \"lamp.record\"\n");
    load(NULL, -EINVAL,
         "DIR/lamp.record:2: syntax error at or before: { drive = ; } ); (is a comma "
         "or a ';' missing before it?)\n");
    /* the same key in both files */
    write_file("lamp.record", record);
    write_config("  ppfd_full = 400.0;\n  @include \"lamp.record\"\n");
    load(NULL, -EINVAL,
         "DIR/lamp.record:7: duplicate setting name at or before: ppfd_full = 387.40;\n");
}

static void what_is_refused(void **state)
{
    (void)state;
    write_config("@include \"none.record\"\n@include lamp\n@include \"\"\n@include \"a\" \"b\"\n");
    load(NULL, -EINVAL,
         "DIR/x.conf:8: @include: cannot open DIR/none.record: No such file or directory\n"
         "DIR/x.conf:9: @include wants the name of a file in quotes, and nothing behind it\n"
         "DIR/x.conf:10: @include wants the name of a file in quotes, and nothing behind it\n"
         "DIR/x.conf:11: @include wants the name of a file in quotes, and nothing behind it\n");
    /* one file deep */
    write_file("outer.record", "# a\n@include \"lamp.record\"\n");
    write_config("@include \"outer.record\"\n");
    load(NULL, -EINVAL,
         "DIR/outer.record:2: @include is read in the configuration alone, outside of comments\n");
    write_file("zero.record", "");
    write_config("@include \"zero.record\"\n  hat = 1;\n");
    load(NULL, -EINVAL,
         "DIR/x.conf:7: fixtures[0].ppfd_full: missing (1 … 5000, µmol m⁻² s⁻¹)\n"
         "DIR/x.conf:7: fixtures[0].curve: missing (2 … 32 points; needed with a dimming output)\n"
         "DIR/x.conf:9: fixtures[0].hat: unknown key, did you mean \"heat\"?\n");
    char many[4096];
    size_t used = 0;
    for (int i = 0; i <= CONFIG_INCLUDES_MAX; i++) {
        used += (size_t)snprintf(many + used, sizeof many - used, "@include \"zero.record\"\n");
    }
    write_config(many);
    load(NULL, -EINVAL, "DIR/x.conf:72: more than 64 files to include\n");
}

/* Comments and strings hide the word, and what looks like one does not. */
static void where_it_counts(void **state)
{
    (void)state;
    static const struct {
        const char *text, *whole;
    } cases[] = {
        {"a = 1;\n@include \"f\"\nb = 2;", "a = 1;\nIN\nb = 2;"},
        {"# \"\n@include \"f\"\n", "# \"\nIN\n"},
        {"// /*\n@include \"f\"\n", "// /*\nIN\n"},
        {"a = \"/*\";\n@include \"f\"\n", "a = \"/*\";\nIN\n"},
        {"a = \"\\\"/*\";\n@include \"f\"\n", "a = \"\\\"/*\";\nIN\n"},
        {"/* *//* */\n@include \"f\"\n", "/* *//* */\nIN\n"},
        {"/*\n@include \"f\"\n*/", "/*\n@include \"f\"\n*/"},
        {"a = \"\n@include \"f\"\n", "a = \"\n@include \"f\"\n"},
        {"a = 1; @include \"f\"\n", "a = 1; @include \"f\"\n"},
        {"@include \"f\"", "IN\n"},
        {"", ""},
    };
    char name[128];
    (void)snprintf(name, sizeof name, "%s", in_folder("x.conf"));
    write_file("f", "IN");
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct config_whole whole;
        struct findings findings;
        findings_init(&findings, name);
        assert_int_equal(
            config_whole_read(name, cases[i].text, strlen(cases[i].text), &whole, &findings), 0);
        assert_string_equal(whole.text, cases[i].whole);
        assert_int_equal(whole.size, strlen(cases[i].whole));
        config_whole_free(&whole);
        findings_finish(&findings);
    }
}

static int enter(void **state)
{
    (void)state;
    return mkdtemp(folder) ? 0 : -1;
}

static int leave(void **state)
{
    (void)state;
    static const char *const names[] = {"x.conf", "lamp.record", "outer.record", "zero.record",
                                        "f"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        (void)unlink(in_folder(names[i]));
    }
    return rmdir(folder);
}

/* libconfig 1.5 forgets the string at which a syntax error stands. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libconfig.so\n";
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_record_is_the_fixtures),
        cmocka_unit_test(errors_name_the_right_line),
        cmocka_unit_test(what_is_refused),
        cmocka_unit_test(where_it_counts),
    };
    return cmocka_run_group_tests(tests, enter, leave);
}
