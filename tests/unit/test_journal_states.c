/* SPDX-License-Identifier: Apache-2.0 */
#include "journal_states.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct journal_states states;

static bool put(const char *space, const char *data)
{
    struct journal_state state = {.wall_s = 5, .size = strlen(data), .data = data};
    (void)snprintf(state.space, sizeof state.space, "%s", space);
    return journal_states_put(&states, &state);
}

static void the_newest_counts(void **unused)
{
    (void)unused;
    struct journal_states_copy copy = {0};
    assert_true(put("a", "one"));
    assert_true(put("b", "x"));
    assert_true(put("a", "longer than one"));
    assert_int_equal(journal_states_waiting(&states), 2);
    assert_int_equal(journal_states_copy(&states, 0, &copy), 0);
    assert_string_equal(copy.state.space, "a");
    assert_int_equal(copy.state.size, 15);
    assert_memory_equal(copy.state.data, "longer than one", 15);
    journal_states_settle(&states, 0, copy.mark);
    assert_int_equal(journal_states_waiting(&states), 1);
    assert_int_equal(journal_states_copy(&states, 0, &copy), 0);
    assert_int_equal(copy.state.size, 0); /* nothing new to write */
    free(copy.buffer);
    journal_states_finish(&states);
}

/* A state put while the one before is being written still waits afterwards. */
static void a_later_one_is_not_settled_by_an_earlier(void **unused)
{
    (void)unused;
    struct journal_states_copy copy = {0};
    assert_true(put("a", "first"));
    assert_int_equal(journal_states_copy(&states, 0, &copy), 0);
    assert_true(put("a", "2nd"));
    assert_memory_equal(copy.state.data, "first", 5);
    journal_states_settle(&states, 0, copy.mark);
    assert_int_equal(journal_states_waiting(&states), 1);
    assert_int_equal(journal_states_copy(&states, 0, &copy), 0);
    assert_memory_equal(copy.state.data, "2nd", 3);
    free(copy.buffer);
    journal_states_finish(&states);
}

static void limits(void **unused)
{
    (void)unused;
    char name[JOURNAL_NAME_MAX];
    assert_false(put("a", "")); /* an empty state is none */
    for (int i = 0; i < JOURNAL_STATES_MAX; i++) {
        (void)snprintf(name, sizeof name, "space-%d", i);
        assert_true(put(name, "x"));
    }
    assert_false(put("one more", "x"));
    assert_true(put("space-0", "y"));
    journal_states_finish(&states);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_newest_counts),
        cmocka_unit_test(a_later_one_is_not_settled_by_an_earlier),
        cmocka_unit_test(limits),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
