/* SPDX-License-Identifier: Apache-2.0 */
/* What is given up when records cannot be written, and in which order the rest is kept. */
#include "journal_queue.h"

#include "journal_bed.h"
#include "prng.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static struct journal_queue queue;

static void begin(size_t slots)
{
    assert_int_equal(journal_queue_init(&queue, slots), 0);
}

static void put_minute(int64_t index, bool is_taken)
{
    const struct journal_minute minute = bed_minute("lettuce", index);
    assert_int_equal(journal_queue_put_minute(&queue, &minute), is_taken);
}

static void put_event(enum journal_class class, const char *text, bool is_taken)
{
    const struct journal_event event = bed_event("lettuce", class, text);
    assert_int_equal(journal_queue_put_event(&queue, &event), is_taken);
}

/* The texts of the waiting events, joined. */
static void assert_events(const char *texts)
{
    char seen[256] = "";
    const struct journal_record *at = queue.waiting[JOURNAL_EVENT].first;
    for (; at; at = at->next) {
        (void)strncat(seen, at->event.text, sizeof seen - strlen(seen) - 1);
    }
    assert_string_equal(seen, texts);
}

static int64_t first_minute(void)
{
    return (queue.waiting[JOURNAL_MINUTE].first->minute.wall_s - BED_WALL_S) / 60;
}

static void minutes_go_before_events(void **state)
{
    (void)state;
    begin(4);
    put_minute(0, true);
    put_event(JOURNAL_INFO, "a", true);
    put_minute(1, true);
    put_event(JOURNAL_ALARM, "B", true);
    put_minute(2, true); /* pushes out minute 0 */
    assert_int_equal(first_minute(), 1);
    put_event(JOURNAL_INFO, "c", true); /* minute 1 */
    put_event(JOURNAL_INFO, "d", true); /* minute 2 */
    assert_int_equal(queue.waiting[JOURNAL_MINUTE].count, 0);
    assert_events("aBcd");
    assert_int_equal(queue.dropped, 3);
    put_minute(3, false); /* a minute never pushes out an event */
    assert_int_equal(queue.dropped, 4);
    put_event(JOURNAL_INFO, "e", true); /* the oldest of the lowest class */
    assert_events("Bcde");
    put_event(JOURNAL_ALARM, "F", true);
    put_event(JOURNAL_ALARM, "G", true);
    put_event(JOURNAL_ALARM, "H", true);
    assert_events("BFGH");
    put_event(JOURNAL_NOTICE, "i", false); /* nothing at or below its class is left */
    put_event(JOURNAL_ALARM, "J", true);
    assert_events("FGHJ");
    assert_int_equal(queue.dropped, 10);
    journal_queue_finish(&queue);
}

static void days_replace_the_running_one(void **state)
{
    (void)state;
    begin(3);
    struct journal_day day = bed_day("lettuce", BED_DAY, false);
    assert_true(journal_queue_put_day(&queue, &day));
    day.summary.account.delivered_mol = 12.5;
    assert_true(journal_queue_put_day(&queue, &day));
    assert_int_equal(queue.waiting[JOURNAL_DAY].count, 1);
    assert_true(queue.waiting[JOURNAL_DAY].first->day.summary.account.delivered_mol > 12.4);
    day = bed_day("lettuce", BED_DAY, true);
    assert_true(journal_queue_put_day(&queue, &day));
    assert_true(queue.waiting[JOURNAL_DAY].first->day.is_closed);
    day = bed_day("basil", BED_DAY, true);
    assert_true(journal_queue_put_day(&queue, &day));
    put_event(JOURNAL_ALARM, "a", true);
    day = bed_day("basil", BED_DAY + 1, true);
    assert_true(journal_queue_put_day(&queue, &day)); /* a day is worth more than an event */
    assert_events("");
    day = bed_day("basil", BED_DAY + 2, true);
    assert_false(journal_queue_put_day(&queue, &day)); /* but not more than another day */
    put_event(JOURNAL_ALARM, "b", false);
    assert_int_equal(journal_queue_waiting(&queue), 3);
    journal_queue_finish(&queue);
}

static void a_failed_batch_comes_first_again(void **state)
{
    (void)state;
    begin(8);
    put_event(JOURNAL_INFO, "a", true);
    put_event(JOURNAL_INFO, "b", true);
    put_minute(0, true);
    journal_queue_take(&queue);
    assert_int_equal(journal_queue_waiting(&queue), 0);
    assert_int_equal(journal_queue_count(&queue), 3);
    put_event(JOURNAL_INFO, "c", true);
    put_minute(1, true);
    journal_queue_settle(&queue, false);
    assert_events("abc");
    assert_int_equal(first_minute(), 0);
    assert_int_equal(journal_queue_waiting(&queue), 5);
    journal_queue_take(&queue);
    journal_queue_settle(&queue, true);
    assert_int_equal(journal_queue_count(&queue), 0);
    assert_int_equal(queue.dropped, 0);
    journal_queue_finish(&queue);
}

/* What is in flight is the writer's: it is not touched to make room. */
static void in_flight_is_not_given_up(void **state)
{
    (void)state;
    begin(2);
    put_minute(0, true);
    put_minute(1, true);
    journal_queue_take(&queue);
    put_event(JOURNAL_ALARM, "a", false);
    assert_int_equal(queue.dropped, 1);
    journal_queue_settle(&queue, true);
    put_event(JOURNAL_ALARM, "a", true);
    journal_queue_drop_all(&queue);
    assert_int_equal(queue.dropped, 2);
    assert_int_equal(journal_queue_count(&queue), 0);
    journal_queue_finish(&queue);
}

/* Memory follows the backlog: a queue that is emptied every time touches only what it used. */
static void slots_are_reused(void **state)
{
    (void)state;
    begin(8192);
    for (int turn = 0; turn < 1000; turn++) {
        put_minute(turn, true);
        put_minute(turn, true);
        journal_queue_take(&queue);
        journal_queue_settle(&queue, true);
    }
    assert_int_equal(queue.slots_touched, 2);
    journal_queue_finish(&queue);
}

/* Whatever happens, nothing is lost uncounted: put = waiting + in flight + written + dropped. */
static void nothing_is_lost_uncounted(void **state)
{
    (void)state;
    struct prng prng = prng_start("nothing_is_lost_uncounted");
    begin(17);
    uint64_t put = 0;
    uint64_t written = 0;
    for (int turn = 0; turn < 20000; turn++) {
        switch (prng_int(&prng, 0, 5)) {
        case 0:
            if (journal_queue_count(&queue) == journal_queue_waiting(&queue)) {
                journal_queue_take(&queue);
            }
            break;
        case 1: {
            const uint64_t flying = journal_queue_count(&queue) - journal_queue_waiting(&queue);
            const bool is_written = prng_int(&prng, 0, 1) == 0;
            written += is_written ? flying : 0;
            journal_queue_settle(&queue, is_written);
            break;
        }
        case 2: {
            const struct journal_event event =
                bed_event("s", (enum journal_class)prng_int(&prng, 0, 2), "x");
            (void)journal_queue_put_event(&queue, &event);
            put++;
            break;
        }
        default: {
            const struct journal_minute minute = bed_minute("s", turn);
            (void)journal_queue_put_minute(&queue, &minute);
            put++;
        }
        }
        if (put != written + queue.dropped + journal_queue_count(&queue)) {
            fail_msg("turn %d", turn);
        }
        assert_true(journal_queue_count(&queue) <= 17);
    }
    journal_queue_finish(&queue);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(minutes_go_before_events),
        cmocka_unit_test(days_replace_the_running_one),
        cmocka_unit_test(a_failed_batch_comes_first_again),
        cmocka_unit_test(in_flight_is_not_given_up),
        cmocka_unit_test(slots_are_reused),
        cmocka_unit_test(nothing_is_lost_uncounted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
