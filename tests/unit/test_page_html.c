/* SPDX-License-Identifier: Apache-2.0 */
/* The page as it is sent: every text is escaped (the characters after OWASP's rule for HTML, from
 * memory: & < > " '). */
#include "page_html.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static char *page;

static const char *made(const char *index, const char *status)
{
    json_t *json = status ? json_loads(status, 0, NULL) : NULL;
    assert_true(!status || json);
    free(page);
    page = page_html(index, json);
    json_decref(json);
    assert_non_null(page);
    return page;
}

static int clear(void **state)
{
    (void)state;
    free(page);
    page = NULL;
    return 0;
}

static void marks_and_comments(void **state)
{
    (void)state;
    assert_string_equal(made("<!-- @SITE@ -->a<!---->b", NULL), "ab");
    assert_string_equal(made("<h1>@SITE@</h1>@SITE", "{\"site\":\"Room\"}"), "<h1>Room</h1>@SITE");
    assert_string_equal(made("@SITE@@MARK@", NULL), "Lampwarden");
    assert_string_equal(made("@MARK@", "{\"demonstration\":\"bench, 720 times as fast\"}"),
                        "Demonstration: bench, 720 times as fast");
    assert_string_equal(made("<!-- never closed", NULL), "<!-- never closed");
    assert_string_equal(made("", NULL), "");
}

static void before_the_first_picture(void **state)
{
    (void)state;
    assert_non_null(strstr(made("@SUMMARY@", NULL), "only just started"));
    assert_null(strstr(page, "alarms"));
}

static void a_space(void **state)
{
    (void)state;
    static const char status[] =
        "{\"site\":\"Room\",\"time\":\"2026-11-02T12:00:00+01:00\",\"clock\":\"synchronised\","
        "\"faults\":[],"
        "\"spaces\":[{\"space\":\"lettuce\",\"state\":\"on at 62 % by "
        "plan\",\"delivered_mol\":4.25,"
        "\"target_mol\":10.0,\"forecast_mol\":10.02,\"level\":0.62,\"limiter_words\":\"plan\","
        "\"ppfd_umol\":251.3,\"until_on_s\":0,\"until_off_s\":36000,\"air_c\":null,"
        "\"fixtures\":[{\"fixture\":\"left\",\"heat_c\":48.25}],\"faults\":[]}]}";
    static const char *const parts[] = {
        "<p class=\"moment\">2026-11-02 12:00:00 (UTC+01:00), clock synchronised</p>",
        "<p class=\"calm\">No alarms</p>",
        "<article class=\"strip\"><h2>lettuce</h2>",
        "<p class=\"state\">on at 62 % by plan</p>",
        "Light today: 4.2 of 10.0 mol per m², 10.0 expected by the end",
        "Lamps at 62 %: plan",
        "PPFD: 251.3 µmol/m²/s",
        "Lights off in 10 h",
        "Heatsink of left: 48.2 °C",
    };
    (void)made("@SUMMARY@", status);
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        if (!strstr(page, parts[i])) {
            fail_msg("no %s in %s", parts[i], page);
        }
    }
    assert_null(strstr(page, "Air")); /* not known */
    assert_null(strstr(page, "Lights on in"));
}

static void every_text_is_escaped(void **state)
{
    (void)state;
    static const char status[] =
        "{\"site\":\"<b>&\",\"time\":\"\\\"<i>\",\"clock\":\"'<u>\",\"demonstration\":\"<s>\","
        "\"faults\":[\"<script>alert(1)</"
        "script>\",7,null],\"spaces\":[{\"space\":\"<a>\",\"state\":\"<p>\\u0001\","
        "\"level\":1,\"limiter_words\":\"<q>\",\"fixtures\":[{\"fixture\":\"<x>\",\"heat_c\":1}],"
        "\"faults\":[\"<y>\"]}]}";
    (void)made("@SITE@@MARK@@SUMMARY@", status);
    static const char *const never[] = {"<b>", "<i>", "<u>", "<s>", "<script>", "<a>",
                                        "<p>", "<q>", "<x>", "<y>", "\x01"};
    for (size_t i = 0; i < sizeof never / sizeof never[0]; i++) {
        if (strstr(page, never[i])) {
            fail_msg("%s in %s", never[i], page);
        }
    }
    assert_non_null(strstr(page, "&lt;b&gt;&amp;"));
    assert_non_null(strstr(page, "&quot;&lt;i&gt;, clock &#39;&lt;u&gt;"));
    assert_non_null(strstr(page, "<li>&lt;script&gt;alert(1)&lt;/script&gt;</li>"));
    assert_non_null(strstr(page, "<li>&lt;y&gt;</li>"));
}

static void strange_shapes(void **state)
{
    (void)state;
    (void)made("@SUMMARY@",
               "{\"spaces\":[7,null,{\"fixtures\":7,\"faults\":{}}],\"faults\":\"x\"}");
    (void)made("@SUMMARY@", "[]");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(marks_and_comments, clear),
        cmocka_unit_test_teardown(before_the_first_picture, clear),
        cmocka_unit_test_teardown(a_space, clear),
        cmocka_unit_test_teardown(every_text_is_escaped, clear),
        cmocka_unit_test_teardown(strange_shapes, clear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
