/* SPDX-License-Identifier: Apache-2.0 */
/* The lead of a remote LED driver, worked by hand from the tables named in test_conductor.c. */
#include "lead.h"

#include "err.h"
#include "near.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

/* 2.1 A · 13.3 Ω/km · 60 m = 1.6758 V; · 2.1 A = 3.519 W. */
static const struct lead thirty_metres = {
    .conductor = {CONDUCTOR_MM2_FLEXIBLE, 1.5},
    .length_m = 30,
    .current_a = 2.1,
    .temperature_c = 20,
};

static void by_hand(void **state)
{
    (void)state;
    struct lead_answer answer;
    assert_int_equal(lead_of(&thirty_metres, &answer, NULL), 0);
    assert_near(answer.drop_v, 1.6758, 1e-4);
    assert_near(answer.loss_w, 3.519, 1e-3);
    assert_near(answer.ohm, 0.798, 1e-9);
    assert_true(isnan(answer.share));
    /* 1.4 A · 3.14 Ω/kft · 0.2 kft = 0.8792 V of 48 V */
    const struct lead hundred_feet = {
        {CONDUCTOR_AWG_STRANDED, 14}, .length_m = 30.48, 1.4, 75, .output_v = 48};
    assert_int_equal(lead_of(&hundred_feet, &answer, NULL), 0);
    assert_near(answer.drop_v, 0.8792, 1e-4);
    assert_near(answer.share, 0.8792 / 48, 1e-6);
}

static void the_thinnest_that_will_do(void **state)
{
    (void)state;
    struct lead thin;
    struct lead lead = thirty_metres;
    lead.output_v = 48;
    assert_int_equal(lead_thinnest(&lead, 0.03, &thin, NULL), 0);
    assert_near(thin.conductor.size, 2.5, 0); /* 1.5: 3.49 %, 2.5: 2.09 % */
    assert_int_equal(lead_thinnest(&lead, 0.035, &thin, NULL), 0);
    assert_near(thin.conductor.size, 1.5, 0);
    struct err err;
    lead.length_m = 900;
    assert_int_equal(lead_thinnest(&lead, 0.03, &thin, &err), -ENOENT);
    assert_string_equal(err.text,
                        "no size of IEC 60228 keeps the drop within 3 %: the lead is too long");
}

static void bad_leads(void **state)
{
    (void)state;
    struct err err;
    struct lead_answer answer = {.ohm = 7};
    struct lead lead = thirty_metres;
    lead.length_m = 0;
    assert_int_equal(lead_of(&lead, &answer, &err), -ERANGE);
    assert_string_equal(err.text, "length of 0 is out of range (above 0 … 1000, m)");
    lead = thirty_metres;
    lead.current_a = (double)NAN;
    assert_int_equal(lead_of(&lead, &answer, &err), -ERANGE);
    lead = thirty_metres;
    lead.output_v = 1.6;
    assert_int_equal(lead_of(&lead, &answer, &err), -EDOM);
    assert_string_equal(err.text, "the lead would take 1.7 V, and the LED driver gives 1.6 V");
    assert_near(answer.ohm, 7, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(by_hand),
        cmocka_unit_test(the_thinnest_that_will_do),
        cmocka_unit_test(bad_leads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
