/* SPDX-License-Identifier: Apache-2.0 */
/* Who is let in: names after RFC 9110, 7.2 and RFC 3986, 3.2.2; passwords after RFC 7617, 2 with
 * its own example; base64 after the vectors of RFC 4648, 10. */
#include "page_guard.h"

#include "err.h"

#include <errno.h>
#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static void addresses(void **state)
{
    (void)state;
    static const struct {
        const char *address;
        enum page_reach reach;
    } cases[] = {
        {"127.0.0.1", PAGE_REACH_LOOPBACK},
        {"127.9.9.9", PAGE_REACH_LOOPBACK},
        {"::1", PAGE_REACH_LOOPBACK},
        {"0.0.0.0", PAGE_REACH_ALL},
        {"::", PAGE_REACH_ALL},
        {"192.0.2.7", PAGE_REACH_ONE},
        {"2001:db8::7", PAGE_REACH_ONE},
        {"localhost", PAGE_REACH_NONE},
        {"127.0.0.256", PAGE_REACH_NONE},
        {"127.1", PAGE_REACH_NONE},
        {"", PAGE_REACH_NONE},
        {"127.0.0.1 ", PAGE_REACH_NONE},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        if (page_reach(cases[i].address) != cases[i].reach) {
            fail_msg("%s: %d", cases[i].address, (int)page_reach(cases[i].address));
        }
    }
}

static void names_of_this_computer(void **state)
{
    (void)state;
    static const struct config_page config = {.address = "192.0.2.7",
                                              .host_names = "lamps.garden.example  shelf"};
    static const char *const ours[] = {
        "localhost", "LOCALHOST:8414", "localhost.", "127.0.0.1:9000",
        "[::1]",     "[::1]:8414",     "192.0.2.7",  "192.0.2.7:8414",
        "shelf",     "shelf:1",        "localhost:", "Lamps.Garden.Example:443",
    };
    static const char *const foreign[] = {
        "",
        ":8414",
        "evil.example",
        "localhost.evil.example",
        "garden",
        "lamps.garden",
        "shelf lamps",
        "localhost:80:80",
        "[::1",
        "[::1]x",
        "::1]",
        "localhost/x",
        "[]",
        "192.0.2.70",
        "user@localhost",
        "localhost:80@evil.example",
        " localhost",
        "198.51.100.1",
        "lamps.garden.exampl",
        "[localhost",
    };
    for (size_t i = 0; i < sizeof ours / sizeof ours[0]; i++) {
        if (!page_host_is_ours(&config, ours[i])) {
            fail_msg("%s is refused", ours[i]);
        }
    }
    for (size_t i = 0; i < sizeof foreign / sizeof foreign[0]; i++) {
        if (page_host_is_ours(&config, foreign[i])) {
            fail_msg("%s is taken", foreign[i]);
        }
    }
    char endless[4096];
    memset(endless, 'a', sizeof endless);
    endless[sizeof endless - 1] = '\0';
    assert_false(page_host_is_ours(&config, endless));
    assert_false(page_host_is_ours(&config, NULL));
}

static void any_address_where_all_are_listened_to(void **state)
{
    (void)state;
    static const struct config_page config = {.address = "0.0.0.0"};
    assert_true(page_host_is_ours(&config, "198.51.100.1:8414"));
    assert_true(page_host_is_ours(&config, "[2001:db8::7]:8414"));
    assert_false(page_host_is_ours(&config, "evil.example"));
}

static void base64(void **state)
{
    (void)state;
    static const char *const vectors[][2] = {{"", ""},
                                             {"f", "Zg=="},
                                             {"fo", "Zm8="},
                                             {"foo", "Zm9v"},
                                             {"foob", "Zm9vYg=="},
                                             {"fooba", "Zm9vYmE="},
                                             {"foobar", "Zm9vYmFy"}};
    char text[16];
    for (size_t i = 0; i < sizeof vectors / sizeof vectors[0]; i++) {
        page_base64((const unsigned char *)vectors[i][0], strlen(vectors[i][0]), text);
        assert_string_equal(text, vectors[i][1]);
    }
    page_base64((const unsigned char *)"\xfb\xff\xbf", 3, text);
    assert_string_equal(text, "+/+/");
}

/* A file of the test's own; returns what the reading says. */
static int read_secret(const char *content, mode_t mode, struct page_secret *ret, struct err *err)
{
    char path[] = "/tmp/page_secret.XXXXXX";
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, content, strlen(content)), (ssize_t)strlen(content));
    assert_int_equal(fchmod(fd, mode), 0);
    assert_int_equal(close(fd), 0);
    const int code = page_secret_read(path, ret, err);
    assert_int_equal(unlink(path), 0);
    return code;
}

static void a_password(void **state)
{
    (void)state;
    struct page_secret secret;
    struct err err = {""};
    assert_int_equal(read_secret("Aladdin:open sesame\n", 0640, &secret, &err), 0);
    assert_true(page_secret_fits(&secret, "Basic QWxhZGRpbjpvcGVuIHNlc2FtZQ=="));
    assert_true(page_secret_fits(&secret, "basic  QWxhZGRpbjpvcGVuIHNlc2FtZQ=="));
    static const char *const wrong[] = {"",
                                        "Basic",
                                        "Basic ",
                                        "Basic QWxhZGRpbjpvcGVuIHNlc2FtZQ=",
                                        "Basic QWxhZGRpbjpvcGVuIHNlc2FtZQ==A",
                                        "Basic QWxhZGRpbjpvcGVuIHNlc2FtZg==",
                                        "Basic qWxhZGRpbjpvcGVuIHNlc2FtZQ==",
                                        "Bearer QWxhZGRpbjpvcGVuIHNlc2FtZQ==",
                                        "QWxhZGRpbjpvcGVuIHNlc2FtZQ=="};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++) {
        if (page_secret_fits(&secret, wrong[i])) {
            fail_msg("'%s' is taken", wrong[i]);
        }
    }
    assert_false(page_secret_fits(&secret, NULL));
}

static void twenty_wrong_ones_a_minute(void **state)
{
    (void)state;
    const int64_t s = 1000000000;
    struct page_tries tries = {0};
    for (int i = 1; i <= PAGE_TRIES_MAX; i++) {
        assert_true(page_tries_are_left(&tries, (100 + i) * s));
        assert_int_equal(page_tries_note(&tries), i == PAGE_TRIES_MAX);
    }
    assert_false(page_tries_are_left(&tries, 121 * s));
    assert_false(page_tries_are_left(&tries, 161 * s - 1)); /* the first was at 101 s */
    assert_true(page_tries_are_left(&tries, 161 * s));
    assert_false(page_tries_note(&tries));
    for (int i = 0; i < 1000; i++) { /* right ones are not counted */
        assert_true(page_tries_are_left(&tries, (170 + i) * s));
    }
}

static void files_that_hold_none(void **state)
{
    (void)state;
    static const struct {
        const char *content;
        mode_t mode;
        int code;
    } cases[] = {
        {"a:b", 0600, 0},         {"a:b:c\r\n", 0640, 0},   {"a:b\n", 0400, 0},
        {"a:b\n", 0644, -EACCES}, {"a:b\n", 0660, -EACCES}, {"a:b\n", 0604, -EACCES},
        {"", 0600, -EINVAL},      {"\n", 0600, -EINVAL},    {"ab\n", 0600, -EINVAL},
        {":b\n", 0600, -EINVAL},  {"a:\n", 0600, -EINVAL},  {"a:b\nc:d\n", 0600, -EINVAL},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct page_secret secret = {"untouched"};
        struct err err = {""};
        const int code = read_secret(cases[i].content, cases[i].mode, &secret, &err);
        if (code != cases[i].code) {
            fail_msg("case %zu: %d, %s", i, code, err.text);
        }
        assert_true(code == 0 || strcmp(secret.token, "untouched") == 0);
    }
    char endless[600];
    struct page_secret secret;
    struct err err = {""};
    memset(endless, 'a', sizeof endless);
    endless[1] = ':';
    endless[sizeof endless - 1] = '\0';
    assert_int_equal(read_secret(endless, 0600, &secret, &err), -EFBIG);
    assert_int_equal(page_secret_read("/nowhere/at/all", &secret, &err), -ENOENT);
    assert_int_equal(page_secret_read("", &secret, &err), 0);
    assert_true(page_secret_fits(&secret, NULL)); /* none is asked for */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(addresses),
        cmocka_unit_test(names_of_this_computer),
        cmocka_unit_test(any_address_where_all_are_listened_to),
        cmocka_unit_test(base64),
        cmocka_unit_test(a_password),
        cmocka_unit_test(twenty_wrong_ones_a_minute),
        cmocka_unit_test(files_that_hold_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
