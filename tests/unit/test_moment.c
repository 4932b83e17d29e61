/* SPDX-License-Identifier: Apache-2.0 */
/* A moment becomes a text and is read again; a text that was not written by us hurts nobody. */
#include "moment.h"

#include "err.h"
#include "journal.h"
#include "near.h"
#include "prng.h"
#include "scene.h"
#include "units.h"

#include <math.h>
#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct scene scene;
static struct moment taken, back;
static char text[JOURNAL_CHAIN_MAX];

static void begin(int fixtures, int64_t second)
{
    scene_begin(&scene, fixtures, second);
    for (int i = 0; i < fixtures; i++) {
        (void)snprintf(scene.sim.fixtures[i].name, CONFIG_NAME_MAX, "shelf-%d.left_", i);
    }
}

static void take(void)
{
    moment_take(&scene.sim.space, &scene.sim.config, &scene.now, &scene.state, &scene.verdict,
                &taken);
}

static void there_and_back(void)
{
    struct err err = {""};
    moment_write(&taken, text, sizeof text);
    if (moment_read(text, taken.wall_s / 60 * 60, &back, &err) != 0) {
        fail_msg("%s: %s", text, err.text);
    }
}

static void same(double value, double expected, double tolerance)
{
    if (units_known(expected)) {
        assert_near(value, expected, tolerance);
    } else {
        assert_true(isnan(value));
    }
}

static void same_reading(const struct moment_reading *one, const struct moment_reading *other,
                         double tolerance)
{
    same(one->value, other->value, tolerance);
    same(one->age_s, other->age_s, 0.501);
    assert_int_equal(one->quality, other->quality);
}

static void same_rules(const struct chain_rules *one, const struct chain_rules *other)
{
    assert_int_equal(one->said, other->said);
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        if (chain_has_said(one, (enum limiter)i)) {
            assert_near(one->allowed[i], other->allowed[i], 0.000051);
        }
    }
}

/* A dark fixture without a word is not stored. */
static bool is_dull(int i)
{
    const struct chain_fixture *chain = &taken.chain.fixtures[i];
    return !taken.is_lit && taken.fixtures[i].level <= 0 && chain->rules.said == 0 &&
           chain->pace == CHAIN_THERE && chain->asked_by == taken.limiter;
}

static void compare(void)
{
    assert_int_equal(back.wall_s, taken.wall_s);
    assert_int_equal(back.limiter, taken.limiter);
    assert_int_equal(back.phase, taken.phase);
    assert_int_equal(back.is_lit, taken.is_lit);
    assert_int_equal(back.chain.plan, taken.chain.plan);
    same(back.level, taken.level, 0.000051);
    same(back.planned_level, taken.is_lit ? taken.planned_level : 0, 0.000051);
    same(back.chain.light_price, taken.chain.light_price, 0.5e-6);
    same(back.forecast_mol, taken.forecast_mol, 0.0051);
    same(back.until_s, taken.until_s, 30);
    same(back.ceiling_umol, taken.ceiling_umol, 0.06);
    if (taken.is_lit) {
        same_reading(&back.ppfd, &taken.ppfd, 0.0501);
    }
    same_rules(&back.chain.rules, &taken.chain.rules);
    for (int i = 0, k = 0; k < taken.fixture_count; i++, k++) {
        while (k < taken.fixture_count && is_dull(k)) {
            k++;
        }
        if (k == taken.fixture_count) {
            assert_int_equal(back.fixture_count, i);
            return;
        }
        const struct moment_fixture *fixture = &taken.fixtures[k];
        const struct chain_fixture *chain = &taken.chain.fixtures[k];
        assert_string_equal(back.fixtures[i].name, fixture->name);
        same(back.fixtures[i].level, fixture->level, 0.000051);
        same(back.fixtures[i].heat_from_c, fixture->heat_from_c, 0.06);
        same(back.fixtures[i].rearm_c, fixture->rearm_c, 0.06);
        same(back.fixtures[i].drive_cap, fixture->drive_cap, 0.0001);
        same(back.fixtures[i].rest_left_s, fixture->rest_left_s, 0.51);
        assert_int_equal(back.fixtures[i].is_latched, fixture->is_latched);
        same_reading(&back.fixtures[i].heat, &fixture->heat, 0.0501);
        if (chain_has_said(&chain->rules, LIMITER_DRIVER_TRIP)) {
            same_reading(&back.fixtures[i].power, &fixture->power, 0.501);
        }
        same_rules(&back.chain.fixtures[i].rules, &chain->rules);
        assert_int_equal(back.chain.fixtures[i].asked_by, chain->asked_by);
        assert_int_equal(back.chain.fixtures[i].pace, chain->pace);
        assert_near(back.chain.fixtures[i].asked, chain->asked, 0.000051);
    }
}

static uint32_t all_said(void)
{
    uint32_t said = taken.chain.rules.said;
    for (int i = 0; i < taken.fixture_count; i++) {
        said |= taken.chain.fixtures[i].rules.said;
        said |= UINT32_C(1) << taken.chain.fixtures[i].asked_by;
    }
    return said;
}

/* A day of all sorts: dark, dawn, plan, heat, a trip, a lost sensor, a hand, a try. */
static void a_day_comes_back(void **state)
{
    (void)state;
    begin(3, 5 * 3600);
    uint32_t seen = 0;
    for (int minute = 0; minute < 24 * 60; minute++) {
        scene_heat(&scene, 1, minute > 300 && minute < 360 ? 70 : 40);
        scene_heat(&scene, 2, minute > 400 && minute < 420 ? 95 : 40);
        scene.now.hand = (struct hand){.is_active = minute > 450 && minute < 480,
                                       .level = 0.3,
                                       .until_ns = scene.now.boot_ns + UNITS_NS_PER_S};
        scene.now.fixtures[0].try_contact =
            (struct trial){minute > 500 && minute < 520, 0, scene.now.boot_ns * 2, false};
        scene.now.fixtures[0].output_fault = minute > 550 && minute < 560;
        if (minute == 600) {
            scene_ppfd(&scene, UNITS_NONE);
        }
        for (int i = 0; i < 30; i++) {
            scene_tick(&scene, 2);
            if (i % 10 == 0) {
                take();
                there_and_back();
                compare();
                seen |= all_said();
            }
        }
    }
    const enum limiter expected[] = {
        LIMITER_NIGHT,       LIMITER_OUTPUT_FAULT, LIMITER_HEAT_TRIP, LIMITER_HEAT, LIMITER_REST,
        LIMITER_SENSOR_LOST, LIMITER_BY_HAND,      LIMITER_DAWN,      LIMITER_DUSK, LIMITER_PLAN};
    for (size_t i = 0; i < sizeof expected / sizeof *expected; i++) {
        if ((seen >> expected[i] & 1) == 0) {
            fail_msg("no %s in that day", limiter_name(expected[i]));
        }
    }
}

/* What a person would read in the file. */
static void the_text_is_plain(void **state)
{
    (void)state;
    begin(1, 12 * 3600);
    scene_run(&scene, 3600);
    scene_heat(&scene, 0, 71);
    scene_run(&scene, 300);
    take();
    moment_write(&taken, text, sizeof text);
    assert_non_null(strstr(text, " =h"));
    assert_non_null(strstr(text, " T71,"));
    assert_non_null(strstr(text, ";"));
    assert_true(strlen(text) < 160);
    for (const char *c = text; *c; c++) {
        assert_true(*c >= ' ' && *c < 0x7f);
    }
}

/* Sixteen fixtures with the longest names do not fit: whole ones are left out and counted. */
static void no_room(void **state)
{
    (void)state;
    begin(1, 12 * 3600);
    scene_run(&scene, 600);
    take();
    taken.fixture_count = SPACE_FIXTURES_MAX;
    for (int i = 0; i < SPACE_FIXTURES_MAX; i++) {
        taken.fixtures[i] = taken.fixtures[0];
        taken.chain.fixtures[i] = taken.chain.fixtures[0];
        taken.fixtures[i].level = 0.1234;
        (void)snprintf(taken.fixtures[i].name, CONFIG_NAME_MAX, "a-fixture-with-a-long-name-%03d",
                       i);
    }
    moment_write(&taken, text, 512);
    assert_int_equal(moment_read(text, taken.wall_s / 60 * 60, &back, NULL), 0);
    assert_true(back.left_out > 0 && back.fixture_count > 8);
    assert_int_equal(back.left_out + back.fixture_count, SPACE_FIXTURES_MAX);
    assert_string_equal(back.fixtures[1].name, taken.fixtures[1].name);
    assert_true(strlen(text) < 512);
}

static void damaged_texts_are_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "",
        "@",
        "@61 L5 =p p5",
        "L62 =p p62",
        "@59 L62 =p",
        "@59 L =p",
        "@59 Lnan =p p5",
        "@59 L62 =? p62",
        "@59 L62 =p p62;",
        "@59 =p p62; L5",
        "@59 =p p1e999",
        "@59 =p p62 T1,",
        "@59\n=p p62",
        "@59 =p p62;this_name_is_longer_than_any_configured_name_may_be L5",
    };
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        struct err err = {""};
        if (moment_read(bad[i], 0, &back, &err) == 0 && strcmp(bad[i], "@59 =p p62 T1,") != 0) {
            fail_msg("\"%s\" was taken", bad[i]);
        }
    }
    assert_int_equal(moment_read("@59 L62 =p p62 ?7 q9,1,2 F6.2;left L40 &3", 120, &back, NULL), 0);
    assert_int_equal(back.wall_s, 179); /* letters of later versions are passed over */
    assert_near(back.fixtures[0].level, 0.4, 1e-12);
    assert_near(back.forecast_mol, 6.2, 1e-12);
}

/* What an older, longer text left behind the end of this one is not part of it. */
static void nothing_is_read_behind_the_end(void **state)
{
    (void)state;
    static const char *const cut[] = {"@59 p62 \0"
                                      "7",
                                      "@59 p62;left \0"
                                      "7",
                                      "@\0"
                                      "59 p62",
                                      "@59 =\0p"};
    for (size_t i = 0; i < sizeof cut / sizeof *cut; i++) {
        assert_int_equal(moment_read(cut[i], 0, &back, NULL), -EINVAL);
    }
}

/* Bytes changed at random: read or refused, never more. The sanitizers watch. */
static void any_bytes(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    begin(3, 12 * 3600);
    scene_run(&scene, 600);
    take();
    for (int round = 0; round < 20000; round++) {
        moment_write(&taken, text, sizeof text);
        const int64_t length = (int64_t)strlen(text);
        for (int64_t i = prng_int(&prng, 1, 6); i > 0; i--) {
            text[prng_int(&prng, 0, length - 1)] = (char)prng_int(&prng, 0, 255);
        }
        if (moment_read(text, 0, &back, NULL) == 0) {
            assert_true(back.fixture_count >= 0 && back.fixture_count <= SPACE_FIXTURES_MAX);
            assert_true((unsigned)back.limiter < LIMITER_COUNT);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_day_comes_back),
        cmocka_unit_test(the_text_is_plain),
        cmocka_unit_test(no_room),
        cmocka_unit_test(damaged_texts_are_refused),
        cmocka_unit_test(nothing_is_read_behind_the_end),
        cmocka_unit_test(any_bytes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
