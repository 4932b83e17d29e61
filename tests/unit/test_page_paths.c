/* SPDX-License-Identifier: Apache-2.0 */
/* Targets of requests, good and bad; escapes after RFC 3986, 2.1. */
#include "page_paths.h"

#include "err.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void take(const char *target, struct page_request *ret)
{
    struct err err = {""};
    if (page_parse(target, ret, &err) != 0) {
        fail_msg("%s: %s", target, err.text);
    }
}

static void every_path_with_its_parameters(void **state)
{
    (void)state;
    struct page_request request;
    take("/", &request);
    assert_int_equal(request.path->what, PAGE_INDEX);
    take("/page.css", &request);
    assert_int_equal(request.path->what, PAGE_FILE);
    assert_string_equal(request.file, "page.css");
    take("/dygraph.js?", &request);
    assert_string_equal(request.file, "dygraph.js");
    take("/status.json", &request);
    assert_int_equal(request.path->what, PAGE_STATUS);
    assert_int_equal(request.count, PAGE_COUNT_USUAL);
    take("/day.json?space=lettuce&day=2026-11-02", &request);
    assert_int_equal(request.path->what, PAGE_DAY);
    assert_string_equal(request.space, "lettuce");
    assert_true(request.has_day);
    assert_int_equal(request.day, 20759); /* `date -d 2026-11-02 +%s` / 86400 */
    take("/minutes.json?&&space=l%65ttuce&", &request);
    assert_string_equal(request.space, "lettuce");
    assert_false(request.has_day);
    take("/days.json?count=400&space=Shelf_1.a-b", &request);
    assert_int_equal(request.count, 400);
    assert_string_equal(request.space, "Shelf_1.a-b");
    take("/events.json", &request);
    assert_string_equal(request.space, "");
    take("/plan.json?space=basil", &request);
    assert_int_equal(request.path->what, PAGE_PLAN);
    take("/nights.json?space=a&count=7", &request);
    assert_int_equal(request.path->what, PAGE_NIGHTS);
    take("/why.json?space=a&time=2026-11-02T14%3A05%2B01:00", &request);
    assert_int_equal(request.path->what, PAGE_WHY);
    assert_string_equal(request.time, "2026-11-02T14:05+01:00");
    take("/metrics", &request);
    assert_int_equal(request.path->what, PAGE_METRICS);
    take("/live", &request);
    assert_int_equal(request.path->what, PAGE_LIVE);
}

static void what_is_not_there(void **state)
{
    (void)state;
    static const char *const targets[] = {
        "",
        "status.json",
        "//",
        "/status.json/",
        "/../status.json",
        "/./status.json",
        "/%73tatus.json",
        "/status.json%00",
        "/STATUS.JSON",
        "/index.html",
        "/page.css/../page.js",
        "/Page.js",
        "/.js",
        "/..js",
        "/a.b.js",
        "/a-very-long-name.js",
        "/abcdefghijklmnopqrstuvwxyzabcdefghijklmnop.js",
        "/etc/passwd",
        "http://localhost/status.json",
        "*",
    };
    for (size_t i = 0; i < sizeof targets / sizeof targets[0]; i++) {
        struct page_request request;
        struct err err = {""};
        if (page_parse(targets[i], &request, &err) != -ENOENT || request.path || !err.text[0]) {
            fail_msg("'%s' is taken", targets[i]);
        }
    }
    char endless[4096] = "/status.json?";
    struct page_request request;
    struct err err = {""};
    memset(endless + strlen(endless), 'a', sizeof endless - strlen(endless) - 1);
    assert_int_equal(page_parse(endless, &request, &err), -ENOENT);
}

/* The sentence names the parameter and what it may be. */
static void parameters_that_are_none(void **state)
{
    (void)state;
    static const char *const cases[][2] = {
        {"/day.json", "missing parameter space"},
        {"/day.json?space=", "space: \"\" is not the name of a space"},
        {"/day.json?space", "space: \"\""},
        {"/day.json?space=a&space=b", "space: given twice"},
        {"/day.json?space=a&day=2026-02-30", "day: \"2026-02-30\" is not a date (2026-11-02"},
        {"/day.json?space=a&day=yesterday", "is not a date"},
        {"/day.json?space=a&count=3", "/day.json has no parameter \"count\"; it has: space day"},
        {"/status.json?space=a", "/status.json has no parameter \"space\"; it has: none"},
        {"/status.json?=a", "has no parameter \"\""},
        {"/day.json?space day=a", "has no parameter"},
        {"/days.json?space=a&count=0", "count: \"0\" is not a number of days (1 … 400)"},
        {"/days.json?space=a&count=401", "(1 … 400)"},
        {"/days.json?space=a&count=1e2", "(1 … 400)"},
        {"/days.json?space=a&count=-1", "(1 … 400)"},
        {"/days.json?space=a&count=99999999999999999999", "(1 … 400)"},
        {"/day.json?space=a%00b", "no text"},
        {"/day.json?space=a%0a", "no text"},
        {"/day.json?space=a%", "no text"},
        {"/day.json?space=a%2", "no text"},
        {"/day.json?space=a%zz", "no text"},
        {"/day.json?space=a+b", "is not the name of a space"},
        {"/day.json?space=%22%3cscript%3e", "is not the name of a space"},
        {"/day.json?space=abcdefghijklmnopqrstuvwxyzabcdef", "1 … 31"},
        {"/day.json?space=aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa", "63"},
        {"/page.js?v=1", "has no parameter \"v\""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct page_request request;
        struct err err = {""};
        const int code = page_parse(cases[i][0], &request, &err);
        if (code != -EINVAL || !strstr(err.text, cases[i][1])) {
            fail_msg("%s: %d, %s", cases[i][0], code, err.text);
        }
        assert_non_null(request.path);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_path_with_its_parameters),
        cmocka_unit_test(what_is_not_there),
        cmocka_unit_test(parameters_that_are_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
