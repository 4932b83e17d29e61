/* SPDX-License-Identifier: Apache-2.0 */
/* The age of the lamps over a restart, and in words. */
#include "ageings.h"

#include "err.h"
#include "journal_bed.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define DAY 20760

static struct bed bed;
static struct ageing ageing;
static struct ageing_rules rules;

/* Two sensors; light that swings by 1 %; the second sensor falls with `dust`. */
static void live(int from, int days, double share, double dust)
{
    for (int day = from; day < from + days; day++) {
        const double ratio = share + (day % 2 ? 0.01 : -0.01);
        const struct ageing_sample sample = {
            .ratio = ratio, .heat_c = 45, .sensor_ratio = {ratio, ratio * dust}};
        ageing_book(&ageing, &rules, 420, &sample, 3600);
        (void)ageing_close(&ageing, &rules, DAY + day);
    }
}

static int begin(void **state)
{
    (void)state;
    bed_make(&bed);
    bed_open(&bed);
    ageing_init(&ageing);
    rules = (struct ageing_rules){.commissioned = DAY,
                                  .heat_c = (double)NAN,
                                  .limit = 0.8,
                                  .sensor_count = 2,
                                  .sensor = {3, 4}};
    return 0;
}

static int end(void **state)
{
    (void)state;
    bed_close(&bed);
    bed_remove(&bed);
    return 0;
}

static void comes_back(void **state)
{
    (void)state;
    struct ageing back;
    struct journal_reader *reader = NULL;
    live(1, 10, 0.95, 1);
    ageings_keep(bed.journal, "lettuce", BED_WALL_S, &ageing);
    ageings_keep(NULL, "lettuce", BED_WALL_S, &ageing); /* no journal: nothing happens */
    struct ageing bad = ageing;
    bad.value[3] = 40;
    ageings_keep(bed.journal, "basil", BED_WALL_S, &bad);
    assert_true(journal_flush(bed.journal, 10));
    assert_int_equal(journal_reader_open(bed.path, &reader, NULL), 0);
    assert_int_equal(ageings_restore(reader, "lettuce", &back, NULL), 0);
    assert_memory_equal(&back, &ageing, sizeof back);
    struct err err;
    assert_int_equal(ageings_restore(reader, "basil", &back, &err), -EILSEQ);
    assert_string_equal(err.text, "the age of the lamps is damaged");
    assert_int_equal(ageings_restore(reader, "chrysanthemum", &back, &err), -ENOENT);
    journal_reader_close(reader);
}

static void assert_words(const char *expected)
{
    char text[AGEINGS_WORDS_MAX];
    ageings_words(&rules, &ageing, text, sizeof text);
    assert_string_equal(text, expected);
}

/* Values that swing by 1 % have a standard deviation of 1.04 %, twice that is ±3 % rounded up. */
static void in_words(void **state)
{
    (void)state;
    assert_words("");
    live(1, 15, 1.0, 1);
    assert_words("101 % of commissioning after 15 days, ±3 %");
    live(196, 15, 0.95, 1);
    assert_words("94 % of commissioning after 210 days, ±3 %; all light sensors fell alike: the "
                 "lamps, or dust on all");
    live(211, 40, 0.93, 0.85);
    assert_words("92 % of commissioning after 250 days, ±3 %; light sensor 2 of 2 shows 85 % of "
                 "what it did beside the others: dust on it, or it was moved");
    char tight[12];
    ageings_words(&rules, &ageing, tight, sizeof tight);
    assert_string_equal(tight, "92 % of com");
    rules.commissioned = 0;
    assert_words("");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(comes_back, begin, end),
        cmocka_unit_test_setup_teardown(in_words, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
