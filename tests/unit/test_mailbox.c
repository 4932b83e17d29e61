/* SPDX-License-Identifier: Apache-2.0 */
#include "mailbox.h"

#include "clock.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

enum { DIM, CONTACT, CONTACT_TWO, OUTPUTS };

static const enum output_kind kinds[OUTPUTS] = {OUTPUT_DIM, OUTPUT_SWITCH, OUTPUT_SWITCH};
static const int64_t second = CLOCK_NS_PER_S;

static void begin(struct mailbox *mailbox)
{
    assert_int_equal(mailbox_init(mailbox, 2, kinds, OUTPUTS), 0);
    mailbox_up(mailbox, 100 * second);
}

static void starts_with_nothing(void **state)
{
    (void)state;
    struct mailbox mailbox;
    struct sample samples[2];
    struct mailbox_output outputs[OUTPUTS];
    struct mailbox_health health;
    double value = 0;
    assert_int_equal(mailbox_init(&mailbox, 2, kinds, OUTPUTS), 0);
    mailbox_look(&mailbox, samples, outputs, &health);
    assert_int_equal(samples[1].error, -EAGAIN);
    assert_true(isnan(outputs[DIM].written));
    assert_false(health.is_connected);
    assert_false(mailbox_want(&mailbox, 0, (const double[]){1, 1, 1})); /* no line, no wish */
    assert_int_equal(mailbox_pick(&mailbox, second, false, &value), -1);
    mailbox_finish(&mailbox);
    mailbox_finish(&mailbox);
}

static void picks_by_rank(void **state)
{
    (void)state;
    struct mailbox mailbox;
    double value = 0;
    int64_t now = 101 * second;
    begin(&mailbox);
    assert_true(mailbox_want(&mailbox, 1, (const double[]){0.4, 1, 0}));
    assert_false(mailbox_want(&mailbox, 1, (const double[]){0.4, 1, 0})); /* no news */
    static const int order[] = {CONTACT_TWO, DIM, CONTACT};
    assert_int_equal(mailbox_pick(&mailbox, now, true, &value), CONTACT_TWO);
    for (int i = 0; i < OUTPUTS; i++) {
        assert_int_equal(mailbox_pick(&mailbox, now, false, &value), order[i]);
        mailbox_wrote(&mailbox, order[i], value, value, now + i);
    }
    assert_int_equal(mailbox_pick(&mailbox, now, false, &value), -1);
    assert_int_equal(mailbox_pick(&mailbox, now, true, &value), -1);
    /* Standing values are written again, the oldest first … */
    now += 11 * second;
    assert_int_equal(mailbox_pick(&mailbox, now, false, &value), CONTACT_TWO);
    mailbox_wrote(&mailbox, CONTACT_TWO, 0, 0, now);
    assert_int_equal(mailbox_pick(&mailbox, now, false, &value), DIM);
    mailbox_wrote(&mailbox, DIM, 0.4, 0.4, now);
    /* … but never a closed contact: a device that reset has opened it. */
    assert_int_equal(mailbox_pick(&mailbox, now, false, &value), -1);
    mailbox_finish(&mailbox);
}

static void waits_before_a_repeat(void **state)
{
    (void)state;
    struct mailbox mailbox;
    double value = 0;
    int64_t now = 101 * second;
    begin(&mailbox);
    mailbox_want(&mailbox, 1, (const double[]){0.4, (double)NAN, (double)NAN});
    mailbox_write_failed(&mailbox, DIM, -ETIMEDOUT, "no answer", now);
    assert_int_equal(mailbox_pick(&mailbox, now + second / 2, false, &value), -1);
    assert_int_equal(mailbox_pick(&mailbox, now + 2 * second, false, &value), DIM);
    /* Another value is news and does not wait. */
    mailbox_write_failed(&mailbox, DIM, -ETIMEDOUT, "no answer", now);
    mailbox_want(&mailbox, 1, (const double[]){0.3, (double)NAN, (double)NAN});
    assert_int_equal(mailbox_pick(&mailbox, now + second / 2, false, &value), DIM);
    assert_true(value == 0.3);
    /* The driver's sentence stays with the output until it obeys. */
    struct mailbox_output outputs[3];
    mailbox_look(&mailbox, NULL, outputs, NULL);
    assert_string_equal(outputs[DIM].reason, "no answer");
    mailbox_wrote(&mailbox, DIM, 0.3, 0.3, now);
    mailbox_look(&mailbox, NULL, outputs, NULL);
    assert_string_equal(outputs[DIM].reason, "");
    mailbox_finish(&mailbox);
}

static void never_passes_on_nonsense(void **state)
{
    (void)state;
    struct mailbox mailbox;
    double value = 0;
    static const double bad[] = {-0.1, 1.1, (double)NAN, (double)INFINITY, -(double)INFINITY};
    begin(&mailbox);
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        mailbox_want(&mailbox, 1, (const double[]){bad[i], bad[i], (double)NAN});
        assert_int_equal(mailbox_pick(&mailbox, 200 * second, false, &value), -1);
    }
    mailbox_finish(&mailbox);
}

static void counts_lines(void **state)
{
    (void)state;
    struct mailbox mailbox;
    struct mailbox_health health;
    struct mailbox_output outputs[OUTPUTS];
    double value = 0;
    begin(&mailbox);
    mailbox_want(&mailbox, 1, (const double[]){0.4, 1, 1});
    mailbox_wrote(&mailbox, CONTACT, 1, 1, 101 * second);
    assert_true(mailbox_down(&mailbox, -EIO, "gone", 130 * second) == 30 * second);
    assert_true(mailbox_down(&mailbox, -EIO, "gone", 140 * second) == 0);
    mailbox_look(&mailbox, NULL, outputs, &health);
    assert_true(health.since_ns == 130 * second && health.failures == 2);
    assert_string_equal(health.reason, "gone");
    assert_true(isnan(outputs[CONTACT].wanted) && outputs[CONTACT].error == -EIO);
    mailbox_up(&mailbox, 150 * second);
    assert_false(mailbox_want(&mailbox, 1, (const double[]){0.4, 1, 1}));
    assert_int_equal(mailbox_pick(&mailbox, 151 * second, false, &value), -1);
    assert_true(mailbox_want(&mailbox, 2, (const double[]){0.4, 1, 1}));
    mailbox_finish(&mailbox);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(starts_with_nothing),   cmocka_unit_test(picks_by_rank),
        cmocka_unit_test(waits_before_a_repeat), cmocka_unit_test(never_passes_on_nonsense),
        cmocka_unit_test(counts_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
