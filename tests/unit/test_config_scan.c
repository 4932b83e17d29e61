/* SPDX-License-Identifier: Apache-2.0 */
/* What is refused before libconfig sees it, and what only looks like it. */
#include "config_node.h"

#include "config.h"
#include "findings.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static bool scan_bytes(const char *text, size_t size, char *ret_first, size_t room)
{
    struct findings findings;
    struct config_report report;
    findings_init(&findings, "f");
    bool is_good = node_scan(text, size, &findings);
    assert_int_equal(findings_report(&findings, &report), 0);
    assert_true(is_good == (report.errors == 0));
    ret_first[0] = '\0';
    (void)strncat(ret_first, report.text, room - 1);
    config_report_free(&report);
    findings_finish(&findings);
    return is_good;
}

static void texts(void **state)
{
    (void)state;
    static const struct {
        const char *text, *report; /* "": passes */
    } cases[] = {
        {"", ""},
        {"a = 1;", ""},
        {"a = \"Gärtnerei \xE2\x82\xAC \xF0\x9F\x8C\xB1\";", ""},
        {"\na = \"G\xE4rtnerei\";", "f:2: a byte of value 0xE4: this is not UTF-8 text\n"},
        {"\xC0\x80", "f:1: a byte of value 0xC0: this is not UTF-8 text\n"},
        {"a\xE0\x80\x80", "f:1: a byte of value 0xE0: this is not UTF-8 text\n"},
        {"\xED\xA0\x80", "f:1: a byte of value 0xED: this is not UTF-8 text\n"},
        {"\xF4\x90\x80\x80", "f:1: a byte of value 0xF4: this is not UTF-8 text\n"},
        {"\xE2\x82", "f:1: a byte of value 0xE2: this is not UTF-8 text\n"},
        {"@include \"x\"",
         "f:1: @include is read in the configuration alone, outside of comments\n"},
        {"a = 1;\n \t@include \".\"\n",
         "f:2: @include is read in the configuration alone, outside of comments\n"},
        {"/*\n@includeanything\n*/",
         "f:2: @include is read in the configuration alone, outside of comments\n"},
        {"a = \"@include\";", ""},
        {"a = 1; @include \"x\"",
         ""}, /* a syntax error to libconfig: only the first word counts there */
        {"a = 2147483647; b = -2147483647;", ""},
        {"a = 0002147483647;", ""},
        {"a = 2147483648L; b = 9007199254740992L;", ""},
        {"a = 2147483648;",
         "f:1: the whole number 2147483648 has more than 32 bits (at most 2147483647 or "
         "0xFFFFFFFF)\n"},
        {"\na = -4294967297;",
         "f:2: the whole number 4294967297 has more than 32 bits (at most 2147483647 or "
         "0xFFFFFFFF)\n"},
        {"a = 0xFFFFFFFF;", ""},
        {"a = 0x100000000L;", ""},
        {"a = 0x100000000;",
         "f:1: the whole number 0x100000000 has more than 32 bits (at most 2147483647 or "
         "0xFFFFFFFF)\n"},
        {"a = 12345678901.5; b = 0.12345678901234567; c = .12345678901; d = 12345678901e3;", ""},
        {"a99999999999 = 1; b-0x123456789a = 2;", ""},
        {"a = \"99999999999 (((((\"; # 99999999999 (((\n// {{{ 99999999999\n/* 99999999999 */", ""},
        {"a = \"\\\"99999999999\"; b = \"\\\\\"; c = 1;", ""},
        {"a = \"\\\\\"; c = 99999999999;",
         "f:1: the whole number 99999999999 has more than 32 bits (at most "
         "2147483647 or 0xFFFFFFFF)\n"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        char report[512];
        print_message("%s\n", cases[i].text);
        (void)scan_bytes(cases[i].text, strlen(cases[i].text), report, sizeof report);
        assert_string_equal(report, cases[i].report);
    }
}

static void depth(void **state)
{
    (void)state;
    static const char open[] = "({[";
    char report[512];
    for (int levels = 1; levels < 300000; levels = levels < 40 ? levels + 1 : levels * 3) {
        char *text = malloc((size_t)levels + 1);
        assert_non_null(text);
        for (int i = 0; i < levels; i++) {
            text[i] = open[i % 3];
        }
        text[levels] = '\0';
        bool is_good = scan_bytes(text, (size_t)levels, report, sizeof report);
        assert_true(is_good == (levels <= CONFIG_DEPTH_MAX));
        free(text);
    }
    assert_string_equal(report, "f:1: groups and lists are nested too deep (at most 32)\n");
}

static void bytes_and_size(void **state)
{
    (void)state;
    char report[512];
    assert_false(scan_bytes("a = 1;\n\0b = 2;", 14, report, sizeof report));
    assert_string_equal(report, "f:2: a byte of value 0: this is not a text file\n");
    char *much = malloc(CONFIG_BYTES_MAX + 1);
    assert_non_null(much);
    memset(much, '\n', CONFIG_BYTES_MAX + 1);
    assert_true(scan_bytes(much, CONFIG_BYTES_MAX, report, sizeof report));
    assert_false(scan_bytes(much, CONFIG_BYTES_MAX + 1, report, sizeof report));
    assert_string_equal(report, "f: the file has 1048577 bytes (at most 1048576)\n");
    free(much);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(texts),
        cmocka_unit_test(depth),
        cmocka_unit_test(bytes_and_size),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
