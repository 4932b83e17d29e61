/* SPDX-License-Identifier: Apache-2.0 */
#include "scan.h"

#include "clock.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define S CLOCK_NS_PER_S

static void note(struct scan *scan, int address, int code, const char *words, int64_t now_ns)
{
    const struct scan_outcome outcome = {code, false, words};
    scan_note(scan, address, &outcome, now_ns);
}

static void asks_each_once(void **state)
{
    (void)state;
    static struct scan scan;
    struct scan_view view;
    struct scan_found found;
    scan_init(&scan);
    assert_int_equal(scan_next(&scan, 0), -1);
    assert_true(scan_start(&scan, 2, 4, S));
    assert_false(scan_start(&scan, 1, 247, S)); /* one at a time */
    assert_int_equal(scan_next(&scan, S), 2);
    note(&scan, 2, 0, "register 0 holds 7", S);
    note(&scan, 2, 0, "told twice", S);
    assert_int_equal(scan_next(&scan, S), 3);
    note(&scan, 3, -EBADMSG, "a wrong checksum", S);
    note(&scan, 4, -ETIMEDOUT, "no answer", S);
    scan_ask(&scan, 1, S, &view);
    assert_false(view.is_running);
    assert_int_equal(view.next, 5);
    assert_string_equal(view.reason, "");
    assert_int_equal(view.found_count, 2);
    assert_true(scan_find(&scan, 0, &found));
    assert_int_equal(found.address, 2);
    assert_false(found.is_garbled);
    assert_true(scan_find(&scan, 1, &found));
    assert_int_equal(found.address, 3);
    assert_true(found.is_garbled);
    assert_false(scan_find(&scan, 2, &found));
    assert_false(scan_find(&scan, -1, &found));
    assert_int_equal(scan_next(&scan, S), -1);
    assert_true(scan_start(&scan, 1, 1, S)); /* afresh */
    assert_false(scan_find(&scan, 0, &found));
    scan_finish(&scan);
}

static void everyone_answers(void **state)
{
    (void)state;
    static struct scan scan;
    struct scan_view view;
    char words[300];
    memset(words, 'x', sizeof words - 1);
    words[sizeof words - 1] = '\0';
    scan_init(&scan);
    assert_true(scan_start(&scan, SCAN_FIRST, SCAN_LAST, 0));
    for (int i = SCAN_FIRST; i <= SCAN_LAST; i++) {
        assert_int_equal(scan_next(&scan, 0), i);
        note(&scan, i, 0, words, 0);
    }
    scan_ask(&scan, 1, 0, &view);
    assert_false(view.is_running);
    assert_int_equal(view.found_count, SCAN_LAST);
    scan_finish(&scan);
}

/* Asking about another scan does not keep this one alive. */
static void ends_unasked(void **state)
{
    (void)state;
    static struct scan scan;
    struct scan_view view;
    scan_init(&scan);
    assert_true(scan_start(&scan, 1, 247, 0));
    scan_ask(&scan, 1, 4 * S, &view);
    assert_true(scan_is_running(&scan, 8 * S));
    scan_ask(&scan, 9, 8 * S, &view);
    assert_true(view.is_running);
    assert_int_equal(view.number, 1);
    assert_int_equal(scan_next(&scan, 9 * S + 1), -1);
    scan_ask(&scan, 1, 9 * S + 2, &view);
    assert_false(view.is_running);
    assert_string_equal(view.reason, "nobody asked for news any more");
    scan_finish(&scan);
}

static void ends_without_progress(void **state)
{
    (void)state;
    static struct scan scan;
    struct scan_view view;
    scan_init(&scan);
    assert_true(scan_start(&scan, 1, 247, 0));
    note(&scan, 1, -EAGAIN, "the line is left in peace", 0);
    scan_ask(&scan, 1, 0, &view);
    assert_true(view.is_running);
    assert_string_equal(view.reason, "the line is left in peace");
    for (int i = 0; i < 20; i += 4) {
        scan_ask(&scan, 1, i * S, &view);
    }
    assert_true(view.is_running);
    scan_ask(&scan, 1, 20 * S + 1, &view);
    assert_false(view.is_running);
    assert_string_equal(view.reason,
                        "address 1 could not be asked for 20 s: the line is left in peace");
    scan_finish(&scan);
}

static void ends_by_hand_and_with_the_line(void **state)
{
    (void)state;
    static struct scan scan;
    struct scan_view view;
    const struct scan_outcome lost = {-EIO, true, "unplugged"};
    scan_init(&scan);
    assert_true(scan_start(&scan, 1, 9, 0));
    scan_end(&scan);
    scan_end(&scan);
    scan_ask(&scan, 1, 0, &view);
    assert_string_equal(view.reason, "ended by hand");
    assert_true(scan_start(&scan, 1, 9, 0));
    scan_note(&scan, 1, &lost, 0);
    scan_ask(&scan, 2, 0, &view);
    assert_false(view.is_running);
    assert_string_equal(view.reason, "the line was lost when address 1 was asked: unplugged");
    scan_finish(&scan);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(asks_each_once),
        cmocka_unit_test(everyone_answers),
        cmocka_unit_test(ends_unasked),
        cmocka_unit_test(ends_without_progress),
        cmocka_unit_test(ends_by_hand_and_with_the_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
