/* SPDX-License-Identifier: Apache-2.0 */
/* The live streams, by the format of the HTML standard (WHATWG), 9.2.5: fields, comments, an empty
 * line behind each event. */
#include "page_live.h"

#include "clock.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static const int64_t s = CLOCK_NS_PER_S;
static struct page_live live;
static int peers[PAGE_LIVE_CLIENTS + 1];
static char got[4096];

static int begin(void **state)
{
    (void)state;
    live = (struct page_live){0};
    return 0;
}

static int end(void **state)
{
    (void)state;
    for (int i = 0; i < PAGE_LIVE_CLIENTS; i++) {
        if (live.clients[i].is_open) {
            page_live_leave(&live, i);
        }
    }
    page_live_finish(&live);
    return 0;
}

/* All that there is for a client, in pieces of `size`; returns how the last call ended. */
static ssize_t read_all(int client, size_t size, int64_t now_ns)
{
    size_t used = 0;
    ssize_t count = 0;
    while ((count = page_live_read(&live, client, got + used, size, now_ns)) > 0) {
        used += (size_t)count;
        assert_true(used + size < sizeof got);
    }
    got[used] = '\0';
    return count;
}

static void the_newest_at_once_and_then_what_is_new(void **state)
{
    (void)state;
    assert_true(page_live_show(&live, "{\"old\":1}"));
    assert_true(page_live_show(&live, "{\"a\":1}"));
    const int one = page_live_join(&live, &peers[0], 100 * s);
    assert_int_equal(read_all(one, 7, 100 * s), 0);
    assert_string_equal(got, "retry: 5000\n\nevent: status\ndata: {\"a\":1}\n\n");
    assert_int_equal(page_live_wake(&live, 101 * s), -1);
    assert_true(page_live_show(&live, "{\"a\":2}"));
    assert_int_equal(page_live_wake(&live, 102 * s), one);
    assert_int_equal(page_live_wake(&live, 102 * s), -1); /* woken once */
    assert_int_equal(read_all(one, 4096 / 2, 102 * s), 0);
    assert_string_equal(got, "event: status\ndata: {\"a\":2}\n\n");
}

static void a_slow_one_misses_what_came_between(void **state)
{
    (void)state;
    assert_true(page_live_show(&live, "{\"a\":1}"));
    const int slow = page_live_join(&live, &peers[0], 0);
    (void)page_live_read(&live, slow, got, 20, 0);
    for (int i = 0; i < 1000; i++) { /* the text that is half sent is kept, no other */
        assert_true(page_live_show(&live, "{\"a\":2}"));
    }
    assert_int_equal(read_all(slow, 5, 1 * s), 0);
    assert_non_null(strstr(got, "{\"a\":2}\n\n"));
    assert_null(strstr(strstr(got, "{\"a\":2}") + 1, "{\"a\":2}"));
}

static void a_comment_where_nothing_is_new(void **state)
{
    (void)state;
    const int one = page_live_join(&live, &peers[0], 0);
    assert_int_equal(read_all(one, 64, 0), 0);
    assert_int_equal(page_live_wake(&live, 15 * s - 1), -1);
    assert_int_equal(page_live_wake(&live, 15 * s), one);
    assert_int_equal(read_all(one, 64, 15 * s), 0);
    assert_string_equal(got, ": still here\n\n");
    assert_int_equal(page_live_wake(&live, 29 * s), -1);
}

static void four_and_no_more(void **state)
{
    (void)state;
    for (int i = 0; i < PAGE_LIVE_CLIENTS; i++) {
        assert_int_equal(page_live_join(&live, &peers[i], 0), i);
    }
    assert_int_equal(page_live_join(&live, &peers[4], 0), -1);
    page_live_leave(&live, 2);
    assert_int_equal(page_live_join(&live, &peers[4], 0), 2);
    assert_ptr_equal(live.clients[2].peer, &peers[4]);
    for (int i = 0; i < PAGE_LIVE_CLIENTS; i++) {
        page_live_leave(&live, i);
    }
    assert_true(page_live_is_empty(&live));
}

static void ten_minutes_and_the_end(void **state)
{
    (void)state;
    const int one = page_live_join(&live, &peers[0], 0);
    const int two = page_live_join(&live, &peers[1], 300 * s);
    assert_int_equal(read_all(one, 64, 590 * s), 0);
    assert_int_equal(read_all(two, 64, 590 * s), 0);
    assert_int_equal(page_live_wake(&live, 600 * s), one);
    assert_int_equal(read_all(one, 64, 600 * s), PAGE_LIVE_END);
    assert_int_equal(page_live_wake(&live, 600 * s), -1);
    live.is_closing = true;
    assert_int_equal(page_live_wake(&live, 600 * s), two);
    assert_int_equal(read_all(two, 64, 600 * s), PAGE_LIVE_END);
    page_live_leave(&live, one);
    assert_int_equal(page_live_join(&live, &peers[0], 600 * s), -1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_newest_at_once_and_then_what_is_new, begin, end),
        cmocka_unit_test_setup_teardown(a_slow_one_misses_what_came_between, begin, end),
        cmocka_unit_test_setup_teardown(a_comment_where_nothing_is_new, begin, end),
        cmocka_unit_test_setup_teardown(four_and_no_more, begin, end),
        cmocka_unit_test_setup_teardown(ten_minutes_and_the_end, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
