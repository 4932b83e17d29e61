/* SPDX-License-Identifier: Apache-2.0 */
/* LED drivers on a breaker, worked by hand, and the ratios that one maker's table has (common
 * practice): C16 100, C10 62, C20 125, B16 60, B10 37, B20 75 %. */
#include "breaker.h"

#include "err.h"
#include "near.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

static const struct breaker c16 = {BREAKER_C, 16};

static struct breaker_answer bears(struct breaker breaker, struct breaker_load load)
{
    struct breaker_answer answer;
    assert_int_equal(breaker_bears(&breaker, &load, &answer, NULL), 0);
    return answer;
}

static void by_hand(void **state)
{
    (void)state;
    /* C16 opens from 5 · 16 = 80 A: one driver of 60 A peak; 16 / 1.3 = 12.3 by what they draw */
    struct breaker_answer answer = bears(c16, (struct breaker_load){1.3, 60, 1, 1});
    assert_int_equal(answer.by_inrush, 1);
    assert_int_equal(answer.by_running, 12);
    assert_int_equal(answer.drivers, 1);
    /* a margin of 4 for its short pulse: 320 / 60 = 5.3 */
    answer = bears(c16, (struct breaker_load){1.3, 60, 4, 1});
    assert_int_equal(answer.drivers, 5);
    /* D16: 160 / 16 is ten; 0.8 · 16 / 2.746 = 4.66 */
    answer = bears((struct breaker){BREAKER_D, 16}, (struct breaker_load){2.746, 16, 1, 0.8});
    assert_int_equal(answer.by_inrush, 10);
    assert_int_equal(answer.by_running, 4);
    assert_int_equal(answer.drivers, 4);
    answer = bears(c16, (struct breaker_load){1.3, (double)NAN, 1, 1});
    assert_int_equal(answer.by_inrush, -1);
    assert_int_equal(answer.drivers, 12);
    assert_int_equal(bears(c16, (struct breaker_load){20, 100, 1, 1}).drivers, 0);
}

/* 0.7 · 3 · 10 / 2.1 is ten, though the binary numbers are a hair less. */
static void whole_numbers(void **state)
{
    (void)state;
    const struct breaker b10 = {BREAKER_B, 10};
    assert_int_equal(bears(b10, (struct breaker_load){0.1, 2.1, 0.7, 1}).by_inrush, 10);
    assert_int_equal(bears(b10, (struct breaker_load){0.1, 2.1, 0.7, 1}).by_running, 100);
}

static void ratios_of_a_makers_table(void **state)
{
    (void)state;
    static const struct {
        struct breaker breaker;
        double percent;
    } rows[] = {{{BREAKER_C, 10}, 62},
                {{BREAKER_C, 20}, 125},
                {{BREAKER_B, 16}, 60},
                {{BREAKER_B, 10}, 37},
                {{BREAKER_B, 20}, 75}};
    const struct breaker_load load = {0.001, 0.1, 1, 1};
    const double hundred = bears(c16, load).by_inrush;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const double percent = 100 * bears(rows[i].breaker, load).by_inrush / hundred;
        assert_near(percent, rows[i].percent, 0.51); /* printed without decimals */
    }
}

static void words(void **state)
{
    (void)state;
    struct breaker breaker = {BREAKER_D, 1};
    struct err err;
    assert_int_equal(breaker_parse("B10", &breaker, NULL), 0);
    assert_int_equal(breaker.band, BREAKER_B);
    assert_near(breaker.rated_a, 10, 0);
    assert_int_equal(breaker_letter(BREAKER_C), 'C');
    assert_near(breaker_least_multiple(BREAKER_D), 10, 0);
    assert_near(breaker_most_multiple(BREAKER_C), 10, 0);
    assert_int_equal(breaker_parse("K16", &breaker, &err), -EINVAL);
    assert_string_equal(err.text, "\"K16\" is no breaker: B, C or D and its amperes, as in C16");
    assert_int_equal(breaker_parse("C", &breaker, &err), -EINVAL);
    assert_int_equal(breaker_parse("C-16", &breaker, &err), -EINVAL);
    assert_int_equal(breaker_parse("", &breaker, &err), -EINVAL);
    assert_int_equal(breaker_parse("C400", &breaker, &err), -ERANGE);
    assert_near(breaker.rated_a, 10, 0);
}

static void bad_loads(void **state)
{
    (void)state;
    struct err err;
    struct breaker_answer answer = {.drivers = 7};
    const struct breaker_load less = {1.3, 1, 1, 1};
    assert_int_equal(breaker_bears(&c16, &less, &answer, &err), -ERANGE);
    assert_string_equal(err.text, "inrush peak of 1 is out of range (1.3 … 10000)");
    const struct breaker_load nothing = {(double)NAN, 60, 1, 1};
    assert_int_equal(breaker_bears(&c16, &nothing, &answer, &err), -ERANGE);
    const struct breaker_load margin = {1.3, 60, 0, 1};
    assert_int_equal(breaker_bears(&c16, &margin, &answer, &err), -ERANGE);
    const struct breaker_load use = {1.3, 60, 1, 1.2};
    assert_int_equal(breaker_bears(&c16, &use, &answer, &err), -ERANGE);
    assert_int_equal(answer.drivers, 7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(by_hand),
        cmocka_unit_test(whole_numbers),
        cmocka_unit_test(ratios_of_a_makers_table),
        cmocka_unit_test(words),
        cmocka_unit_test(bad_loads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
