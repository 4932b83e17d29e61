/* SPDX-License-Identifier: Apache-2.0 */
#include "findings.h"

#include "config.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

static void told_in_the_order_of_the_file(void **state)
{
    (void)state;
    struct findings findings;
    struct config_report report;
    findings_init(&findings, "x.conf");
    findings_error(&findings, 0, "no line");
    findings_error(&findings, 7, "seven: %d", 1);
    findings_warning(&findings, 3, "three");
    findings_error(&findings, 7, "seven: %d", 2);
    findings_error(&findings, 3, "three too");
    assert_int_equal(findings_report(&findings, &report), 0);
    assert_int_equal(report.errors, 4);
    assert_int_equal(report.warnings, 1);
    assert_string_equal(report.text, "x.conf:3: warning: three\n"
                                     "x.conf:3: three too\n"
                                     "x.conf:7: seven: 1\n"
                                     "x.conf:7: seven: 2\n"
                                     "x.conf: no line\n");
    config_report_free(&report);
    assert_null(report.text);
    config_report_free(&report);
    findings_finish(&findings);
    findings_finish(&findings);
}

static void nothing_found_is_an_empty_text(void **state)
{
    (void)state;
    struct findings findings;
    struct config_report report;
    findings_init(&findings, "x.conf");
    assert_int_equal(findings_report(&findings, &report), 0);
    assert_string_equal(report.text, "");
    config_report_free(&report);
    findings_finish(&findings);
}

static void many_are_counted(void **state)
{
    (void)state;
    struct findings findings;
    struct config_report report;
    findings_init(&findings, "x.conf");
    for (int i = 0; i < 100000; i++) {
        findings_error(&findings, 100000 - i, "number %d", i);
    }
    assert_int_equal(findings_report(&findings, &report), 0);
    assert_int_equal(report.errors, 100000);
    const char *tail = "x.conf: and 99800 more\n";
    assert_string_equal(report.text + strlen(report.text) - strlen(tail), tail);
    assert_memory_equal(report.text, "x.conf:99801: number 199\n", 25);
    config_report_free(&report);
    findings_finish(&findings);
}

static void one_finding_is_one_line(void **state)
{
    (void)state;
    struct findings findings;
    struct config_report report;
    char much[5000];
    memset(much, 'm', sizeof much - 1);
    much[sizeof much - 1] = '\0';
    findings_init(&findings, "a\nb.conf");
    findings_error(&findings, 1, "x\ny\x1B[2J");
    findings_error(&findings, 2, "%s", much);
    assert_int_equal(findings_report(&findings, &report), 0);
    assert_memory_equal(report.text, "a?b.conf:1: x?y?[2J\na?b.conf:2: mmm", 34);
    assert_true(strlen(report.text) < 1200);
    config_report_free(&report);
    findings_finish(&findings);
}

static void no_memory_is_no_report(void **state)
{
    (void)state;
    struct findings findings;
    struct config_report report;
    findings_init(&findings, "x.conf");
    findings.is_out_of_memory = true;
    assert_true(findings_report(&findings, &report) < 0);
    assert_null(report.text);
    findings_finish(&findings);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(told_in_the_order_of_the_file),
        cmocka_unit_test(nothing_found_is_an_empty_text),
        cmocka_unit_test(many_are_counted),
        cmocka_unit_test(one_finding_is_one_line),
        cmocka_unit_test(no_memory_is_no_report),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
