/* SPDX-License-Identifier: Apache-2.0 */
/* Small records of a space come back whole, or not at all. */
#include "keepsake.h"

#include "err.h"
#include "journal_bed.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define LONGEST "a-space-of-thirty-one-letters-x" /* the longest name that a space may have */

static const struct keepsake largest = {"/longest", "the record", 3, KEEPSAKE_SIZE_MAX};
static const struct keepsake small = {"/small", "the record", 3, 5};

static struct bed bed;

static int begin(void **state)
{
    (void)state;
    bed_make(&bed);
    bed_open(&bed);
    return 0;
}

static int end(void **state)
{
    (void)state;
    bed_close(&bed);
    bed_remove(&bed);
    return 0;
}

static int get(const struct keepsake *kind, const char *space, void *ret, struct err *err)
{
    struct journal_reader *reader = NULL;
    assert_true(journal_flush(bed.journal, 10));
    assert_int_equal(journal_reader_open(bed.path, &reader, err), 0);
    const int code = keepsake_get(kind, reader, space, ret, err);
    journal_reader_close(reader);
    return code;
}

static void the_largest_and_the_longest(void **state)
{
    (void)state;
    static unsigned char record[KEEPSAKE_SIZE_MAX];
    static unsigned char back[KEEPSAKE_SIZE_MAX];
    struct err err;
    assert_int_equal(strlen(LONGEST), CONFIG_NAME_MAX - 1);
    assert_int_equal(strlen(largest.suffix), KEEPSAKE_SUFFIX_MAX);
    for (size_t i = 0; i < sizeof record; i++) {
        record[i] = (unsigned char)(i * 7);
    }
    keepsake_put(&largest, bed.journal, LONGEST, BED_WALL_S, record);
    keepsake_put(&small, bed.journal, LONGEST, BED_WALL_S, "salad");
    assert_int_equal(get(&largest, LONGEST, back, &err), 0);
    assert_memory_equal(back, record, sizeof back);
    assert_int_equal(get(&small, LONGEST, back, &err), 0);
    assert_memory_equal(back, "salad", 5);
    keepsake_put(&small, bed.journal, LONGEST, BED_WALL_S, "cress");
    assert_int_equal(get(&small, LONGEST, back, &err), 0);
    assert_memory_equal(back, "cress", 5);
    keepsake_put(&small, NULL, LONGEST, BED_WALL_S, "mache"); /* no journal: nothing happens */
    assert_int_equal(get(&small, "basil", back, &err), -ENOENT);
}

static void versions_and_damage(void **state)
{
    (void)state;
    const struct keepsake later = {small.suffix, small.words, 4, 5};
    const struct keepsake longer = {small.suffix, small.words, 3, 6};
    char back[8] = "before";
    struct err err = {""};
    keepsake_put(&small, bed.journal, "basil", BED_WALL_S, "salad");
    assert_int_equal(get(&later, "basil", back, &err), -EPROTO);
    assert_string_equal(err.text, "the record is of another version");
    assert_int_equal(get(&longer, "basil", back, &err), -EPROTO);
    struct journal_state cut = {.space = "basil/small", .wall_s = 1, .data = "ab", .size = 2};
    assert_true(journal_put_state(bed.journal, &cut));
    assert_int_equal(get(&small, "basil", back, &err), -EPROTO);
    unsigned char raw[17] = {3, 0, 0, 0, 17, 0, 0, 0, 1, 2, 3, 4, 's', 'a', 'l', 'a', 'd'};
    struct journal_state bad = {.space = "basil/small", .wall_s = 1, .data = raw, .size = 17};
    assert_true(journal_put_state(bed.journal, &bad));
    assert_int_equal(get(&small, "basil", back, &err), -EILSEQ);
    assert_string_equal(err.text, "the record is damaged");
    assert_string_equal(back, "before");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_largest_and_the_longest, begin, end),
        cmocka_unit_test_setup_teardown(versions_and_damage, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
