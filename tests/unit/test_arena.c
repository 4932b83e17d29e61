/* SPDX-License-Identifier: Apache-2.0 */
#include "arena.h"

#include "prng.h"

#include <setjmp.h>
#include <stdalign.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

#define PIECES 2000

static void pieces_are_zeroed_aligned_and_apart(void **state)
{
    (void)state;
    static unsigned char *pieces[PIECES];
    static size_t sizes[PIECES];
    struct prng prng = prng_start("arena");
    struct arena *arena = arena_create();
    assert_non_null(arena);
    for (int i = 0; i < PIECES; i++) {
        sizes[i] = (size_t)prng_int(&prng, 0, i % 100 == 0 ? 40000 : 200);
        pieces[i] = arena_take(arena, sizes[i], 1);
        assert_non_null(pieces[i]);
        assert_int_equal((uintptr_t)pieces[i] % alignof(max_align_t), 0);
        for (size_t k = 0; k < sizes[i]; k++) {
            assert_int_equal(pieces[i][k], 0);
        }
        memset(pieces[i], i % 251 + 1, sizes[i]);
    }
    for (int i = 0; i < PIECES; i++) { /* nobody wrote into anybody else */
        for (size_t k = 0; k < sizes[i]; k++) {
            assert_int_equal(pieces[i][k], i % 251 + 1);
        }
    }
    arena_destroy(arena);
}

static void texts_are_copied(void **state)
{
    (void)state;
    struct arena *arena = arena_create();
    char text[] = "abc";
    char *copy = arena_text(arena, text);
    text[0] = 'x';
    assert_string_equal(copy, "abc");
    assert_string_equal(arena_text(arena, ""), "");
    arena_destroy(arena);
    arena_destroy(NULL);
}

static void absurd_sizes_are_refused(void **state)
{
    (void)state;
    struct arena *arena = arena_create();
    assert_null(arena_take(arena, SIZE_MAX / 2, 4));
    assert_null(arena_take(arena, SIZE_MAX, 1));
    assert_non_null(arena_take(arena, 0, 8));
    arena_destroy(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pieces_are_zeroed_aligned_and_apart),
        cmocka_unit_test(texts_are_copied),
        cmocka_unit_test(absurd_sizes_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
