/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Minimum times of 30–60 s off and 60 s on, dimming before opening and closing at minimum are
 * common practice for LED drivers with inrush limiters; no source.
 */
#include "switching.h"
#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static const struct switching_rules usual = {.min_on_s = 60, .min_off_s = 60, .settle_s = 2};

static const struct switching_ask light = {.want = true, .may_close = true};
static const struct switching_ask dark = {.want = false, .may_close = true};
static const struct switching_ask urgent = {.want = true, .may_close = true, .urgent = true};

static struct switching_answer run(struct switching *switching, struct switching_ask ask,
                                   double seconds)
{
    struct switching_answer answer = {0};

    for (int i = 0; i < (int)seconds; i++) {
        answer = switching_step(&usual, switching, &ask, 1);
    }
    return answer;
}

static struct switching closed_long_ago(void)
{
    struct switching switching;

    switching_reset(&switching);
    (void)run(&switching, light, 200);
    assert_int_equal(switching.phase, SWITCHING_CLOSED);
    return switching;
}

static void test_first_start_serves_the_minimum_off_time(void **state)
{
    (void)state;
    struct switching switching;
    struct switching_answer answer;

    switching_reset(&switching);
    answer = run(&switching, light, 59);
    assert_false(answer.closed);
    assert_true(answer.is_resting);
    assert_true(answer.at_minimum);
    answer = run(&switching, light, 1);
    assert_true(answer.closed && answer.moved && answer.at_minimum);
    assert_false(answer.is_resting);
    answer = run(&switching, light, 1);
    assert_true(answer.at_minimum);
    assert_false(answer.moved);
    answer = run(&switching, light, 1);
    assert_false(answer.at_minimum);
    assert_int_equal(switching.phase, SWITCHING_CLOSED);
    assert_int_equal(switching.operations_today, 1);
}

static void test_waits_for_leave_to_close(void **state)
{
    (void)state;
    struct switching switching;
    struct switching_ask held = {.want = true, .may_close = false};

    switching_reset(&switching);
    struct switching_answer answer = run(&switching, held, 500);
    assert_false(answer.closed);
    assert_false(answer.is_resting);
    assert_true(run(&switching, light, 1).moved);
}

static void test_dims_then_opens(void **state)
{
    (void)state;
    struct switching switching = closed_long_ago();

    struct switching_answer answer = run(&switching, dark, 1);
    assert_true(answer.closed && answer.at_minimum);
    assert_int_equal(switching.phase, SWITCHING_OPENING);
    assert_true(run(&switching, dark, 1).closed);
    answer = run(&switching, dark, 1);
    assert_false(answer.closed);
    assert_true(answer.moved);
    assert_int_equal(switching.operations_today, 2);
}

static void test_minimum_on_time_at_minimum_level(void **state)
{
    (void)state;
    struct switching switching;
    struct switching_answer answer;

    switching_reset(&switching);
    (void)run(&switching, light, 60);
    answer = run(&switching, dark, 59); /* also through CLOSING: it settles first */
    assert_true(answer.closed && answer.at_minimum && answer.is_held_on);
    answer = run(&switching, dark, 1);
    assert_true(answer.closed);
    assert_false(answer.is_held_on);
    assert_false(run(&switching, dark, 2).closed);
}

static void test_opening_turns_back_without_an_operation(void **state)
{
    (void)state;
    struct switching switching = closed_long_ago();

    (void)run(&switching, dark, 2);
    assert_int_equal(switching.phase, SWITCHING_OPENING);
    struct switching_answer answer = run(&switching, light, 1);
    assert_true(answer.closed);
    assert_false(answer.at_minimum || answer.moved);
    assert_int_equal(switching.operations_total, 1);
}

static void test_urgent_opens_every_closed_phase_at_once(void **state)
{
    (void)state;
    struct switching switching;

    switching_reset(&switching);
    (void)run(&switching, light, 60);
    assert_int_equal(switching.phase, SWITCHING_CLOSING);
    assert_false(run(&switching, urgent, 1).closed);

    switching = closed_long_ago();
    struct switching_answer answer = run(&switching, urgent, 1);
    assert_true(answer.moved);
    assert_false(answer.closed ||
                 answer.is_resting); /* held by the urgent reason, not by the rest */
    assert_false(run(&switching, urgent, 500).closed);

    switching = closed_long_ago();
    (void)run(&switching, dark, 1);
    assert_int_equal(switching.phase, SWITCHING_OPENING);
    assert_true(run(&switching, urgent, 1).moved);
    assert_int_equal(switching.phase, SWITCHING_OPEN);
}

static void test_no_settling_still_takes_a_step_each(void **state)
{
    (void)state;
    static const struct switching_rules quick = {0};
    struct switching switching;

    switching_reset(&switching);
    assert_true(switching_step(&quick, &switching, &light, 1).moved);
    assert_int_equal(switching.phase, SWITCHING_CLOSING);
    assert_false(switching_step(&quick, &switching, &light, 1).at_minimum);
    assert_true(switching_step(&quick, &switching, &dark, 1).closed);
    assert_int_equal(switching.phase, SWITCHING_OPENING);
    assert_false(switching_step(&quick, &switching, &dark, 1).closed);
}

static void test_restart_and_new_day(void **state)
{
    (void)state;
    /* A run before this one opened the contact 50 s ago: 10 s of rest are left. */
    struct switching switching = {
        .since_change_s = 50, .operations_today = 3, .operations_total = 9};

    assert_true(run(&switching, light, 9).is_resting);
    assert_true(run(&switching, light, 1).moved);
    switching_new_day(&switching);
    assert_int_equal(switching.operations_today, 0);
    assert_int_equal(switching.operations_total, 10);
}

static void test_an_unknown_contact_rests_from_now_on(void **state)
{
    (void)state;
    struct switching switching;
    struct switching_ask unknown = {.want = true, .may_close = true, .is_unknown = true};

    switching_reset(&switching);
    assert_true(run(&switching, unknown, 500).is_resting);
    assert_true(run(&switching, light, 59).is_resting);
    assert_true(run(&switching, light, 1).moved);
}

static void test_damaged_record_and_time(void **state)
{
    (void)state;
    struct switching switching = {.since_change_s = (double)NAN};

    assert_true(switching_step(&usual, &switching, &light, 1).is_resting);
    assert_near(switching.since_change_s, 0, 0);
    switching.since_change_s = -1e9;
    assert_true(switching_step(&usual, &switching, &light, 1).is_resting);
    double before = switching.since_change_s;
    (void)switching_step(&usual, &switching, &light, (double)NAN);
    (void)switching_step(&usual, &switching, &light, -5);
    assert_true(switching.since_change_s == before);
}

/* One random life of a switch, watched from outside: only answers and asks are used. */
static void live(const struct switching_rules *rules, struct prng *dice, int steps)
{
    struct switching switching;
    struct switching_ask ask = dark;
    bool was_closed = false;
    double since_move_s = 0, at_minimum_s = 0, since_closing_s = 1e9;
    uint32_t moves = 0;

    switching_reset(&switching);
    for (int i = 0; i < steps; i++) {
        double dt_s = prng_real(dice, 0.2, 3);
        ask.want = prng_int(dice, 0, 19) == 0 ? !ask.want : ask.want;
        ask.may_close = prng_int(dice, 0, 2) != 0;
        ask.urgent = prng_int(dice, 0, 59) == 0;
        struct switching_answer answer = switching_step(rules, &switching, &ask, dt_s);

        since_move_s += dt_s;
        at_minimum_s += dt_s;
        since_closing_s += dt_s;
        bool moved = answer.closed != was_closed;
        assert_int_equal(moved, answer.moved);
        if (moved && answer.closed) {
            assert_true(since_move_s >= rules->min_off_s - 1e-9);
            assert_true(ask.may_close && ask.want && !ask.urgent);
            since_closing_s = 0;
        } else if (moved && !ask.urgent) {
            assert_true(since_move_s >= rules->min_on_s - 1e-9);
            assert_true(at_minimum_s >= rules->settle_s - 1e-9);
        }
        assert_false(ask.urgent && answer.closed);
        assert_true(answer.at_minimum || (answer.closed && ask.want));
        assert_true(answer.at_minimum || since_closing_s >= rules->settle_s - 1e-9);
        if (!answer.at_minimum) {
            at_minimum_s = 0;
        }
        if (moved) {
            since_move_s = 0;
            moves++;
        }
        was_closed = answer.closed;
        assert_int_equal(switching.operations_total, moves);
        assert_int_equal(switching.operations_today, moves);
    }
    assert_true(moves > 0);
}

static void test_random_asks_keep_the_rules(void **state)
{
    (void)state;
    struct prng dice = prng_start(__func__);

    for (int i = 0; i < 100; i++) {
        struct switching_rules rules = {prng_real(&dice, 0, 90), prng_real(&dice, 0, 90),
                                        prng_real(&dice, 0, 5)};
        live(&rules, &dice, 3000);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_first_start_serves_the_minimum_off_time),
        cmocka_unit_test(test_waits_for_leave_to_close),
        cmocka_unit_test(test_dims_then_opens),
        cmocka_unit_test(test_minimum_on_time_at_minimum_level),
        cmocka_unit_test(test_opening_turns_back_without_an_operation),
        cmocka_unit_test(test_urgent_opens_every_closed_phase_at_once),
        cmocka_unit_test(test_no_settling_still_takes_a_step_each),
        cmocka_unit_test(test_restart_and_new_day),
        cmocka_unit_test(test_an_unknown_contact_rests_from_now_on),
        cmocka_unit_test(test_damaged_record_and_time),
        cmocka_unit_test(test_random_asks_keep_the_rules),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
