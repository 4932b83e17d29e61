/* SPDX-License-Identifier: Apache-2.0 */
/* What was learned of the sky comes back from the journal, or not at all. */
#include "skies.h"

#include "err.h"
#include "journal_bed.h"
#include "near.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define LONGEST "a-space-of-thirty-one-letters-x" /* the longest name that a space may have */

static struct bed bed;
static struct learned learned;

static int begin(void **state)
{
    (void)state;
    bed_make(&bed);
    bed_open(&bed);
    learned_init(&learned);
    for (int i = 0; i < 40; i++) {
        learned_push_day(&learned, 0.3 + 0.01 * i);
        learned_push_residual(&learned, i % CLEARNESS_ROWS, 0.02 * (i - 20));
    }
    return 0;
}

static int end(void **state)
{
    (void)state;
    bed_close(&bed);
    bed_remove(&bed);
    return 0;
}

static void keep(const char *space)
{
    skies_keep(bed.journal, space, BED_WALL_S, &learned);
    assert_true(journal_flush(bed.journal, 10));
}

static int restore(const char *space, struct learned *ret)
{
    struct journal_reader *reader = NULL;
    struct err err = {""};
    assert_int_equal(journal_reader_open(bed.path, &reader, &err), 0);
    const int code = skies_restore(reader, space, ret, &err);
    journal_reader_close(reader);
    return code;
}

static void comes_back(void **state)
{
    (void)state;
    struct learned back;
    keep("lettuce");
    assert_int_equal(restore("lettuce", &back), 0);
    assert_memory_equal(&back, &learned, sizeof back);
    assert_int_equal(restore("basil", &back), -ENOENT);
    learned_push_day(&learned, 0.9);
    keep("lettuce");
    assert_int_equal(restore("lettuce", &back), 0);
    assert_near((double)back.yesterday, 0.9, 1e-6);
    skies_keep(NULL, "lettuce", BED_WALL_S, &learned); /* no journal: nothing happens */
}

/* Neither takes the other's place, however long the name. */
static void beside_the_state_of_the_space(void **state)
{
    (void)state;
    assert_int_equal(strlen(LONGEST), 31);
    struct journal_state other = {.space = LONGEST, .wall_s = BED_WALL_S, .data = "abc", .size = 3};
    assert_true(journal_put_state(bed.journal, &other));
    keep(LONGEST);
    struct learned back;
    assert_int_equal(restore(LONGEST, &back), 0);
    assert_int_equal(bed_ask(&bed, "SELECT count(*) FROM state"), 2);
    assert_int_equal(bed_ask(&bed, "SELECT min(length(data)) FROM state"), 3);
}

static void damage_is_not_used(void **state)
{
    (void)state;
    struct learned back;
    struct learned untouched;
    memset(&back, 0x5a, sizeof back);
    untouched = back;
    learned.yesterday = (float)NAN; /* a sound record of what cannot be */
    keep("lettuce");
    assert_int_equal(restore("lettuce", &back), -EILSEQ);
    uint32_t raw[3 + sizeof learned / 4] = {1, sizeof raw, 0}; /* the checksum is another */
    struct journal_state bad = {
        .space = "lettuce/sky", .wall_s = BED_WALL_S, .data = raw, .size = sizeof raw};
    assert_true(journal_put_state(bed.journal, &bad) && journal_flush(bed.journal, 10));
    assert_int_equal(restore("lettuce", &back), -EILSEQ);
    raw[0] = 2;
    assert_true(journal_put_state(bed.journal, &bad) && journal_flush(bed.journal, 10));
    assert_int_equal(restore("lettuce", &back), -EPROTO);
    bad.size = 100;
    assert_true(journal_put_state(bed.journal, &bad) && journal_flush(bed.journal, 10));
    assert_int_equal(restore("lettuce", &back), -EPROTO);
    assert_memory_equal(&back, &untouched, sizeof back);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(comes_back, begin, end),
        cmocka_unit_test_setup_teardown(beside_the_state_of_the_space, begin, end),
        cmocka_unit_test_setup_teardown(damage_is_not_used, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
