/* SPDX-License-Identifier: Apache-2.0 */
/* Options that pass their own ranges but not their driver are told by a check, not by a dark room.
 */
#include "config.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

/* What is said of a good configuration with one text put in place of another. */
static char *report_with(const char *path, const char *from, const char *to)
{
    static char text[16384];
    static char changed[16384];
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    const size_t size = fread(text, 1, sizeof text - 1, file);
    (void)fclose(file);
    text[size] = '\0';
    char *at = strstr(text, from);
    assert_non_null(at);
    const int length = snprintf(changed, sizeof changed, "%.*s%s%s", (int)(at - text), text, to,
                                at + strlen(from));
    struct config *config = NULL;
    struct config_report report = {0};
    assert_int_equal(config_load_text("trial", changed, (size_t)length, &config, &report), -EINVAL);
    assert_null(config);
    static char kept[8192];
    (void)snprintf(kept, sizeof kept, "%s", report.text);
    config_report_free(&report);
    return kept;
}

static void drivers_speak(void **state)
{
    (void)state;
    assert_non_null(
        strstr(report_with(TESTS_DATA "/good/warned.conf", "layout = \"2\"", "layout = \"1\""),
               "trial:11: outputs[1]: unit: fixture 1 does not exist (0 … 0"));
    assert_non_null(
        strstr(report_with(TESTS_DATA "/good/warned.conf", "driver = \"bench\"; layout = \"2\"",
                           "driver = \"bench\"; script = \"/nonexistent/faults\""),
               "trial:3: buses[0]: "));
}

static void a_name_is_no_address(void **state)
{
    (void)state;
    if (!driver_find("modbus-tcp")) {
        skip();
    }
    assert_non_null(strstr(report_with(SOURCE_DIR "/etc/demo.conf", "127.0.0.1", "gateway.local"),
                           "buses[0]: host \"gateway.local\" is not a numeric"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(drivers_speak),
        cmocka_unit_test(a_name_is_no_address),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
