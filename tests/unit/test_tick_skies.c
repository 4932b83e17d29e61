/* SPDX-License-Identifier: Apache-2.0 */
/* What light days taught a space without a sky, its heat and its age, outlives a restart of the
 * daemon. */
#include "tick.h"

#include "ageings.h"
#include "clock.h"
#include "err.h"
#include "journal_bed.h"
#include "lamp_config.h"
#include "log.h"
#include "near.h"
#include "skies.h"
#include "tickrun.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

static const int64_t midnight_s = 1794355200; /* 2026-11-11T00:00:00Z */

static void keep(struct bed *bed, float evening)
{
    struct learned learned;
    learned_init(&learned);
    learned.heat_cap[18] = evening;
    skies_keep(bed->journal, "basil", midnight_s, &learned);
    struct ageing ageing;
    ageing_init(&ageing);
    ageing.band_c = 100 * evening;
    ageings_keep(bed->journal, "basil", midnight_s, &ageing);
    assert_true(journal_flush(bed->journal, 10));
}

static float kept(const struct bed *bed)
{
    struct journal_reader *reader = NULL;
    struct learned learned;
    struct err err = {""};
    assert_int_equal(journal_reader_open(bed->path, &reader, &err), 0);
    assert_int_equal(skies_restore(reader, "basil", &learned, &err), 0);
    journal_reader_close(reader);
    return learned.heat_cap[18];
}

static float kept_band_c(const struct bed *bed)
{
    struct journal_reader *reader = NULL;
    struct ageing ageing;
    assert_int_equal(journal_reader_open(bed->path, &reader, NULL), 0);
    assert_int_equal(ageings_restore(reader, "basil", &ageing, NULL), 0);
    journal_reader_close(reader);
    return ageing.band_c;
}

static void heat_and_age_are_kept(void **state)
{
    (void)state;
    struct bed bed;
    struct err err = {""};
    struct tick *tick = NULL;
    log_set_level(LOG_LEVEL_ERROR);
    bed_make(&bed);
    bed_open(&bed);
    keep(&bed, 0.5F);
    struct config *config = lamp_config(midnight_s, 8 * 3600, 8, 10);
    (void)snprintf(config->journal.path, sizeof config->journal.path, "%s", bed.path);
    const struct tick_setup setup = {
        .config = config,
        .resume_path = "",
        .journal = bed.journal,
        .build_s = 1790000000,
        .now_boot_ns = clock_boot_ns(),
        .now_wall_ns = (midnight_s - 10) * CLOCK_NS_PER_S,
        .sync = CLOCK_SYNC_YES,
    };
    assert_int_equal(tick_create(&setup, &tick, &err), 0);
    keep(&bed, 0.9F); /* what comes later must come from the tick */
    tick_let_light(tick, clock_boot_ns());
    tickrun_at(tick, midnight_s - 9, CLOCK_SYNC_YES);
    tickrun_at(tick, midnight_s + 1, CLOCK_SYNC_YES);
    assert_true(journal_flush(bed.journal, 10));
    assert_near((double)kept(&bed), 0.5, 1e-6);
    assert_near((double)kept_band_c(&bed), 50, 1e-6);
    tick_destroy(tick);
    bed_close(&bed);
    bed_remove(&bed);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(heat_and_age_are_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
