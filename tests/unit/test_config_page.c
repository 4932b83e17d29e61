/* SPDX-License-Identifier: Apache-2.0 */
/* The group `page`: from keys to values, and what is refused. */
#include "config.h"
#include "page.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static const char shelf[] =
    "site = { utc_offset = \"+01:00\"; };\n"
    "buses = ( { name = \"room\"; driver = \"bench\"; layout = \"1\"; } );\n"
    "outputs = ( { name = \"dim\"; bus = \"room\"; kind = \"dim\"; unit = 0; },\n"
    "            { name = \"contact\"; bus = \"room\"; kind = \"switch\"; unit = 0; } );\n"
    "fixtures = ( { name = \"lamp\"; dim = \"dim\"; switch = \"contact\"; ppfd_full = 420.0;\n"
    "  curve = ( { drive = 0.1; level = 0.1; watts = 12.0; },\n"
    "            { drive = 1.0; level = 1.0; watts = 100.0; } ); } );\n"
    "stages = ( { name = \"growing\"; days = 0; lights_on = \"06:00\"; day_length_h = 16.0;\n"
    "             target_mol = 12.0; } );\n"
    "spaces = ( { name = \"lettuce\"; fixtures = [ \"lamp\" ]; stages = [ \"growing\" ];\n"
    "             start = \"2026-11-02\"; } );\n"
    "%s\n";

/* says: a part of the report; NULL: it does not speak of the page. */
static struct config_page load(const char *page, int code, const char *says)
{
    char text[4096];
    struct config *config = NULL;
    struct config_report report;
    struct config_page ret = {.port = -1};
    (void)snprintf(text, sizeof text, shelf, page);
    const int r = config_load_text("FILE", text, strlen(text), &config, &report);
    if ((r < 0) != (code < 0) || (says && !strstr(report.text, says)) ||
        (!says && strstr(report.text, "page"))) {
        fail_msg("%s: %d: %s", page, r, report.text);
    }
    if (config) {
        ret = config->page;
    }
    config_report_free(&report);
    config_free(config);
    return ret;
}

static void none_and_some(void **state)
{
    (void)state;
    struct config_page page = load("", 0, NULL);
    assert_int_equal(page.port, 0);
    page = load("page = { address = \"::1\"; };", 0, "page: there is none without a port");
    assert_int_equal(page.port, 0);
    (void)load("page = { };", 0, "page: there is none without a port");
    (void)load("page = { behind_proxy = true; };", 0, "page: there is none without a port");
    /* as `check --print` writes the defaults */
    (void)load("page = { address = \"127.0.0.1\"; behind_proxy = false; };", 0, NULL);
    if (page_missing()[0]) {
        (void)load("page = { port = 8414; };", 0, page_missing());
        return;
    }
    page = load("page = { port = 8414; };", 0, NULL);
    assert_int_equal(page.port, 8414);
    assert_string_equal(page.address, "127.0.0.1");
    assert_string_equal(page.password_file, "");
    assert_false(page.is_behind_proxy);
    page = load("page = { address = \"0.0.0.0\"; port = 1024; password_file = \"/etc/secret\"; "
                "host_names = \"lamps.garden.example shelf\"; };",
                0, NULL);
    assert_string_equal(page.host_names, "lamps.garden.example shelf");
    assert_string_equal(page.password_file, "/etc/secret");
    page = load("page = { address = \"192.0.2.7\"; port = 65535; behind_proxy = true; };", 0, NULL);
    assert_true(page.is_behind_proxy);
}

static void what_is_refused(void **state)
{
    (void)state;
    (void)load("page = { port = 80; };", -1, "page.port: 80 is out of range (1024 … 65535");
    (void)load("page = { port = 8414; address = \"lamps.example\"; };", -1,
               "page.address: \"lamps.example\" is no IP address");
    (void)load("page = { port = 8414; address = \"0.0.0.0\"; };", -1,
               "page.address: 0.0.0.0 can be reached from other computers: give password_file");
    (void)load("page = { port = 8414; address = \"2001:db8::7\"; behind_proxy = false; };", -1,
               "can be reached from other computers");
    (void)load("page = { port = 8414; host_names = \"lamps.example:8414\"; };", -1,
               "page.host_names: \"lamps.example:8414\" are no names");
    (void)load("page = { port = 8414; host_name = \"a\"; };", -1, "did you mean \"host_names\"?");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(none_and_some),
        cmocka_unit_test(what_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
