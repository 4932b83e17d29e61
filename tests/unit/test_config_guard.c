/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Files that kill their reader. libconfig's own function is replaced by one that dies on a word,
 * since the ways in which version 1.5 really dies are refused before.
 */
#include "config.h"

#include "clock.h"
#include "fileio.h"
#include "prng.h"

#include <dlfcn.h>
#include <errno.h>
#include <libconfig.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

int config_read_string(config_t *config, const char *text)
{
    static int (*real)(config_t * config, const char *text);
    if (strstr(text, "DIE BY EXIT")) {
        /* As the library's scanner does by exit(2), without the leak check of a sanitizer, which
         * would put its own code in place of the 2. */
        (void)printf("noise\n");
        (void)fflush(NULL);
        _exit(2);
    }
    if (strstr(text, "DIE BY SIGNAL")) {
        (void)raise(SIGKILL);
    }
    while (strstr(text, "NEVER END")) {
        (void)pause();
    }
    if (!real) {
        *(void **)&real = dlsym(RTLD_NEXT, "config_read_string");
    }
    return real(config, text);
}

static char folder[] = "/tmp/test_config_guard_XXXXXX";
static char path[64];

static int enter_folder(void **state)
{
    (void)state;
    if (!mkdtemp(folder)) {
        return -1;
    }
    (void)snprintf(path, sizeof path, "%s/x.conf", folder);
    return 0;
}

static int leave_folder(void **state)
{
    (void)state;
    (void)unlink(path);
    return rmdir(folder);
}

static int load(const char *text, size_t size, struct config **ret,
                struct config_report *ret_report)
{
    *ret = (struct config *)folder; /* must be overwritten */
    assert_int_equal(fileio_replace(path, text, size, 0600, NULL), 0);
    return config_load_guarded(path, ret, ret_report);
}

/* libconfig 1.5 forgets the string at which a syntax error stands. */
const char *__lsan_default_suppressions(void);
const char *__lsan_default_suppressions(void)
{
    return "leak:libconfig.so\n";
}

static void expect_death(const char *text, const char *words)
{
    struct config *config = NULL;
    struct config_report report;
    char expected[256];
    assert_int_equal(load(text, strlen(text), &config, &report), -EINVAL);
    (void)snprintf(expected, sizeof expected, "%s: %s\n", path, words);
    assert_string_equal(report.text, expected);
    assert_int_equal(report.errors, 1);
    assert_null(config);
    config_report_free(&report);
}

static void deaths_are_told(void **state)
{
    (void)state;
    expect_death("# DIE BY EXIT", "reading it ended the reader (exit 2): not a usable file");
    expect_death("# DIE BY SIGNAL", "reading it ended the reader (signal 9): not a usable file");
}

static void the_time_is_limited(void **state)
{
    (void)state;
    int64_t begin_ns = clock_boot_ns();
    expect_death("# NEVER END", "reading it took longer than 5 s and was stopped");
    double taken_s = (double)(clock_boot_ns() - begin_ns) / 1e9;
    assert_true(taken_s >= 4.9 && taken_s < 30);
}

static void good_and_bad_files_as_without_a_guard(void **state)
{
    (void)state;
    static const char *const files[] = {TESTS_DATA "/good/propagation.conf",
                                        TESTS_DATA "/good/warned.conf",
                                        TESTS_DATA "/bad/types.conf",
                                        TESTS_DATA "/bad/deep.conf",
                                        "/nonexistent",
                                        "/tmp"};
    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        struct config *plain = NULL;
        struct config *guarded = NULL;
        struct config_report plain_report;
        struct config_report report;
        int plain_code = config_load(files[i], &plain, &plain_report);
        assert_int_equal(config_load_guarded(files[i], &guarded, &report), plain_code);
        assert_string_equal(report.text, plain_report.text);
        assert_int_equal(report.errors, plain_report.errors);
        assert_int_equal(report.warnings, plain_report.warnings);
        assert_true((guarded != NULL) == (plain != NULL));
        config_free(plain);
        config_free(guarded);
        config_report_free(&plain_report);
        config_report_free(&report);
    }
}

static void output_is_not_written_twice(void **state)
{
    (void)state;
    /* A parent with text in its buffer, then a child that dies by exit(), which flushes buffers. */
    char *text = NULL;
    char name[80];
    (void)snprintf(name, sizeof name, "%s.out", path);
    FILE *out = fopen(name, "w");
    assert_non_null(out);
    (void)fprintf(out, "once");
    expect_death("# DIE BY EXIT", "reading it ended the reader (exit 2): not a usable file");
    assert_int_equal(fclose(out), 0);
    assert_int_equal(fileio_read(name, 100, &text, NULL, NULL), 0);
    assert_string_equal(text, "once");
    free(text);
    (void)unlink(name);
}

static void mutate(struct prng *prng, char *text, size_t *size, size_t room)
{
    static const char bits[] = "(){}[]=;,\"#/*@\\\n0123456789.-+eLxX \tabz\x80\xFF";
    int64_t changes = prng_int(prng, 1, 4);
    bool is_gentle =
        prng_int(prng, 0, 2) > 0; /* most: digits and letters alone, so that it parses */
    for (int64_t i = 0; i<changes && * size> 1; i++) {
        size_t place = (size_t)prng_int(prng, 0, (int64_t)*size - 1);
        size_t length = (size_t)prng_int(prng, 1, 40);
        length = length > *size - place ? *size - place : length;
        if (is_gentle) {
            char *c = text + place + strcspn(text + place, "0123456789");
            *c = *c ? (char)('0' + prng_int(prng, 0, 9)) : *c;
            c = text + place + strcspn(text + place, "\"");
            if (c[0] && c[1] && prng_int(prng, 0, 3) == 0) {
                c[1] = bits[prng_int(prng, 0, sizeof bits - 2)];
            }
            continue;
        }
        switch (prng_int(prng, 0, 3)) {
        case 0: /* another letter */
            text[place] = bits[prng_int(prng, 0, sizeof bits - 2)];
            break;
        case 1: /* a piece is lost */
            memmove(text + place, text + place + length, *size - place - length);
            *size -= length;
            break;
        case 2: /* a piece is doubled */
            if (*size + length <= room) {
                memmove(text + place + length, text + place, *size - place);
                *size += length;
            }
            break;
        default: /* any byte */
            text[place] = (char)prng_int(prng, 0, 255);
            break;
        }
    }
}

/* Never a crash, never an exit, always a message. */
static void hostile_files(void **state)
{
    (void)state;
    static const char *const files[] = {TESTS_DATA "/good/propagation.conf",
                                        TESTS_DATA "/good/least.conf", SOURCE_DIR "/etc/demo.conf",
                                        TESTS_DATA "/good/warned.conf"};
    struct prng prng = prng_start("hostile_files");
    int loaded = 0;
    for (int round = 0; round < 2000; round++) {
        char *text = NULL;
        size_t size = 0;
        assert_int_equal(fileio_read(files[round % 4], 1U << 20, &text, &size, NULL), 0);
        size_t room = size + 400;
        char *grown = realloc(text, room + 1);
        assert_non_null(grown);
        mutate(&prng, grown, &size, room);
        grown[size] = '\0';
        struct config *config = NULL;
        struct config_report report;
        bool is_guarded = round % 20 == 0; /* a process for each would take minutes */
        int r = is_guarded ? load(grown, size, &config, &report)
                           : config_load_text("hostile", grown, size, &config, &report);
        assert_non_null(report.text);
        assert_true((r == 0) == (config != NULL));
        assert_true((r == 0) == (report.errors == 0));
        assert_true(r == 0 || strlen(report.text) > 10);
        loaded += r == 0;
        config_free(config);
        config_report_free(&report);
        free(grown);
    }
    print_message("%d of 2000 still load\n", loaded);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(deaths_are_told),
        cmocka_unit_test(the_time_is_limited),
        cmocka_unit_test(good_and_bad_files_as_without_a_guard),
        cmocka_unit_test(output_is_not_written_twice),
        cmocka_unit_test(hostile_files),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
