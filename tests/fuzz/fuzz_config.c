/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Any bytes as a configuration: a report, and what loads prints to what loads again. In the form
 * that libFuzzer calls; tests/fuzz/fuzz_main.c calls it with the files of a corpus and mutations of
 * them.
 */
#include "config.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* libconfig 1.5 forgets the string at which a syntax error stands. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libconfig.so\n";
}

static void require(bool holds)
{
    if (!holds) {
        abort();
    }
}

static void print_and_load_again(const struct config *config)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    require(out && config_print(config, out) == 0 && fclose(out) == 0);
    struct config *again = NULL;
    struct config_report report;
    require(config_load_text("printed", text, size, &again, &report) == 0);
    require(config_same_hardware(config, again, NULL));
    require(config->stage_count == again->stage_count);
    config_free(again);
    config_report_free(&report);
    free(text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char *text = malloc(size + 1); /* of exactly that size, so that a read behind it is seen */
    require(text != NULL);
    memcpy(text, data, size);
    text[size] = '\0';
    struct config *config = NULL;
    struct config_report report;
    int r = config_load_text("fuzz", text, size, &config, &report);
    require(report.text && (r == 0) == (config != NULL) && (r == 0) == (report.errors == 0));
    require(r == 0 || strlen(report.text) > 0);
    if (config) {
        print_and_load_again(config);
    }
    config_free(config);
    config_report_free(&report);
    free(text);
    return 0;
}
