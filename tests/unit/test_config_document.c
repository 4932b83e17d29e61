/* SPDX-License-Identifier: Apache-2.0 */
/* etc/lampwarden.conf is what the program writes; set LAMPWARDEN_UPDATE to write it anew. */
#include "config.h"

#include "fileio.h"
#include "schema.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define EXAMPLE SOURCE_DIR "/etc/lampwarden.conf"

static char *document(void)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    assert_int_equal(config_document(out), 0);
    assert_int_equal(fclose(out), 0);
    char *copy = strdup(text);
    free(text);
    return copy;
}

static void the_example_is_up_to_date(void **state)
{
    (void)state;
    if (driver_missing()[0] != '\0') {
        skip(); /* the example names every driver */
    }
    char *text = document();
    char *library =
        strstr(text, "(libgpiod 2)"); /* a build has one of two, the example the older */
    if (library) {
        library[strlen("(libgpiod ")] = '1';
    }
    if (getenv("LAMPWARDEN_UPDATE")) {
        assert_int_equal(fileio_replace(EXAMPLE, text, strlen(text), 0644, NULL), 0);
    }
    char *kept = NULL;
    assert_int_equal(fileio_read(EXAMPLE, 1U << 20, &kept, NULL, NULL), 0);
    assert_string_equal(text, kept);
    free(kept);
    free(text);
}

static void it_loads_and_means_the_demonstration(void **state)
{
    (void)state;
    char *text = document();
    struct config *example = NULL;
    struct config *demo = NULL;
    struct config_report report;
    assert_int_equal(config_load_text("example", text, strlen(text), &example, &report), 0);
    assert_string_equal(report.text, "");
    config_report_free(&report);
    assert_int_equal(config_load(SOURCE_DIR "/etc/demo.conf", &demo, &report), 0);
    config_report_free(&report);
    assert_true(config_same_hardware(example, demo, NULL));
    assert_int_equal(example->stage_count, demo->stage_count);
    for (int i = 0; i < demo->stage_count; i++) {
        assert_string_equal(example->stages[i].name, demo->stages[i].name);
        assert_true(example->stages[i].target_mol == demo->stages[i].target_mol);
    }
    for (int i = 0; i < demo->fixture_count; i++) {
        assert_true(example->fixture_rules[i].full_umol == demo->fixture_rules[i].full_umol);
    }
    config_free(example);
    config_free(demo);
    free(text);
}

static void find_every_key(const char *text, const struct key *keys)
{
    for (const struct key *key = keys; key->name; key++) {
        char head[24]; /* long ones are wrapped somewhere */
        (void)snprintf(head, sizeof head, "%s", key->help);
        char *cut = strrchr(head, ' ');
        if (cut) {
            *cut = '\0';
        }
        print_message("%s: %s\n", key->name, head);
        assert_non_null(strstr(text, key->name));
        assert_non_null(strstr(text, head));
        if (key->inner) {
            find_every_key(text, key->inner);
        }
    }
}

static void every_key_is_explained(void **state)
{
    (void)state;
    char *text = document();
    find_every_key(text, schema_root);
    for (size_t i = 0; driver_registry[i]; i++) {
        assert_non_null(strstr(text, driver_registry[i]->name));
    }
    free(text);
}

static void no_line_is_too_long(void **state)
{
    (void)state;
    char *text = document();
    for (const char *line = text; *line; line += strcspn(line, "\n") + 1) {
        int width = 0;
        for (const char *p = line; *p != '\n'; p++) {
            width += ((unsigned char)*p & 0xC0) != 0x80;
        }
        assert_true(width <= 100);
    }
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_example_is_up_to_date),
        cmocka_unit_test(it_loads_and_means_the_demonstration),
        cmocka_unit_test(every_key_is_explained),
        cmocka_unit_test(no_line_is_too_long),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
