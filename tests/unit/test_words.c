/* SPDX-License-Identifier: Apache-2.0 */
/* The sentences: complete, with the values that count, never longer than their place. */
#include "words.h"

#include "prng.h"
#include "scene.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static struct scene scene;

/* Noon of a 16 h window from 06:00, UTC+1; the verdict is made by hand. */
static int begin(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * 3600);
    scene.verdict.stage = (struct stage_today){STAGE_RUNNING, 0, 5, 13};
    scene.verdict.place =
        (struct lightday_place){.is_lit = true, .since_on_s = 6 * 3600, .until_off_s = 10 * 3600};
    scene.verdict.level = 0.62;
    scene.verdict.planned_level = 0.62;
    scene.verdict.limiter = LIMITER_PLAN;
    return 0;
}

static void assert_state(const char *expected)
{
    char text[192];
    words_state(&scene.sim.config, 0, &scene.now, &scene.verdict, text, sizeof text);
    assert_string_equal(text, expected);
}

static void lit_states(void **state)
{
    (void)state;
    assert_state("on at 62 % by plan");
    scene.verdict.asked = 0.62; /* 100 µmol of 420, of which the sun has 20, are no reason for it */
    scene.verdict.full_umol = 420;
    scene.verdict.daylight_umol = 20;
    scene.sim.stages[0].floor_umol = 100;
    assert_state("on at 62 % by plan");
    scene.verdict.asked = scene.verdict.level = 80.0 / 420;
    assert_state("on at 19 % for the stage's least light");
    scene.verdict.daylight_umol = 100;
    assert_state("on at 19 % by plan");
    scene.sim.stages[0].floor_umol = 0;
    scene.verdict.asked = 0.5;
    assert_state("on at 19 %, rising to 50 % by plan");
    scene.verdict.asked = 0.03; /* less than the lamps can be dimmed to */
    assert_state("on at 19 %, falling to 10 % by plan");
    scene.verdict.level = 0.1;
    assert_state("on at 10 % by plan");
    scene.verdict.asked = 0;
    scene.verdict.limiter = LIMITER_DAWN;
    scene.verdict.level = 0.18;
    assert_state("dawn: 18 % rising to 62 %");
    scene.verdict.limiter = LIMITER_DUSK;
    scene.verdict.place.until_off_s = 600;
    assert_state("dusk: 18 % falling to dark at 12:10");
    scene.verdict.limiter = LIMITER_HEAT;
    scene.verdict.level = 0.41;
    scene_heat(&scene, 1, 68.24);
    assert_state("on at 41 %, held down by heat (heatsink 68.2 °C)");
    scene_heat(&scene, 0, UNITS_NONE);
    scene_heat(&scene, 1, UNITS_NONE);
    assert_state("on at 41 %, held down by heat");
    scene.verdict.limiter = LIMITER_FULL_LIGHT;
    scene.verdict.level = 1;
    assert_state("on at 100 %: all there is");
    scene.verdict.account.missing_mol[LIMITER_FULL_LIGHT] = 1.25;
    assert_state("on at 100 %: all there is, the day will be short by 1.2 mol");
    scene.verdict.limiter = LIMITER_BY_HAND;
    scene.verdict.level = 0.3;
    scene.now.hand.is_active = true;
    scene.now.hand.until_ns = scene.now.boot_ns + 5400 * UNITS_NS_PER_S;
    assert_state("on at 30 % by hand until 13:30");
    scene.now.hand.is_active = false;
    assert_state("on at 30 %, with an output moved by hand");
    scene.verdict.limiter = LIMITER_LIGHT_CEILING;
    assert_state("on at 30 %: PPFD ceiling of the stage");
    scene.verdict.limiter = LIMITER_SENSOR_LOST;
    assert_state("on at 30 %: no light reading");
}

static void dark_states(void **state)
{
    (void)state;
    scene.verdict.level = 0;
    assert_state("off by plan");
    scene.verdict.daylight_umol = 812;
    assert_state("off by plan: daylight gives 812 µmol m⁻² s⁻¹");
    scene.verdict.place =
        (struct lightday_place){.since_on_s = -1, .until_off_s = -1, .until_on_s = 18 * 3600};
    scene.verdict.limiter = LIMITER_NIGHT;
    assert_state("dark: night until 06:00");
    scene.verdict.stage = (struct stage_today){STAGE_WAITING, -1, 3, 0};
    assert_state("dark: the first stage begins in 3 days");
    scene.verdict.stage = (struct stage_today){STAGE_OVER, -1, 3, 0};
    assert_state("dark: the last stage has ended");
    scene.verdict.limiter = LIMITER_TARGET_MET;
    scene.verdict.account.delivered_mol = 13.02;
    assert_state("target met: 13.0 mol, off until 06:00");
    scene.verdict.place =
        (struct lightday_place){.is_lit = true, .since_on_s = 6 * 3600, .until_off_s = 10 * 3600};
    assert_state("target met: 13.0 mol, off until 06:00"); /* of tomorrow */
    scene.verdict.place = (struct lightday_place){.until_on_s = 5 * INT64_C(86400)};
    assert_state("target met: 13.0 mol, off until 2026-01-06 12:00");
    scene.verdict.limiter = LIMITER_HEAT_TRIP;
    scene.verdict.fixtures[1].limiter = LIMITER_HEAT_TRIP;
    assert_state("dark: heat trip of fixture 1, waiting for it to cool");
    scene.verdict.limiter = LIMITER_OUTPUT_FAULT;
    scene.verdict.fixtures[0].limiter = scene.verdict.fixtures[1].limiter = LIMITER_OUTPUT_FAULT;
    assert_state("dark: an output of fixture 0, fixture 1 does not obey");
    scene.verdict.limiter = LIMITER_DRIVER_TRIP;
    scene.verdict.fixtures[0].limiter = LIMITER_DRIVER_TRIP;
    assert_state("dark: LED driver trip of fixture 0, resting before the next try");
    scene.verdict.limiter = LIMITER_REST;
    assert_state("dark: minimum off time of the switch");
    scene.verdict.limiter = LIMITER_CLOCK_UNTRUSTED;
    assert_state("dark: time of day not known");
    scene.verdict.fixtures[1].unsure_s = 30;
    assert_state("dark: time of day not known; fixture 1 may still be lit");
    scene.verdict.fixtures[1].unsure_s = 0;
    scene.verdict.fixtures[0].is_unknown = true;
    assert_state("dark: time of day not known; switch not known, may be lit: fixture 0");
    scene.verdict.fixtures[1].is_unknown = true;
    assert_state("dark: time of day not known; switch not known, may be lit: fixture 0, fixture 1");
}

static struct decide_evidence evidence; /* of the next assert_event */

static void assert_event(enum core_event kind, int fixture, double a, double b,
                         const char *expected)
{
    char text[192];
    const struct decide_event event = {
        .kind = kind, .fixture = fixture, .a = a, .b = b, .evidence = evidence};
    words_event(&scene.sim.config, 0, &event, text, sizeof text);
    assert_string_equal(text, expected);
}

static void events(void **state)
{
    (void)state;
    evidence = (struct decide_evidence){UNITS_NONE, false, UNITS_NONE, UNITS_NONE};
    assert_event(EVENT_DAY_BEGINS, -1, 13, 5,
                 "the light day begins: day 5 of its stage, target 13.0 mol");
    assert_event(EVENT_CARRIED_OVER, -1, 11.8, 1.2,
                 "the target is 13.0 mol less 1.2 mol that yesterday brought above its stage's");
    assert_event(EVENT_DAY_ENDS, -1, 12.31, 13, "the last light day ended with 12.31 of 13.00 mol");
    assert_event(EVENT_STAGE_BEGINS, -1, 0, 13, "stage growing begins");
    assert_event(EVENT_STAGE_BEGINS, -1, 9, 13, "a stage begins");
    assert_event(EVENT_LIGHTS_ON, -1, 0.1, UNITS_NONE, "lights on, 10 % asked");
    assert_event(EVENT_HEAT_TRIP, 1, 82.44, 80,
                 "heat trip of fixture 1 at 82.4 °C: its switch is open");
    assert_event(EVENT_DRIVER_TRIP, 0, 0.87, 0.82,
                 "the LED driver of fixture 0 tripped at 87 % drive: resting, then at most 82 %");
    assert_event(EVENT_SENSOR_LOST, -1, 0.55, UNITS_NONE,
                 "the light reading is lost: going on without it at 55 %");
    assert_event(EVENT_NIGHT_BREAK_ENDS, -1, 35.4, 130,
                 "the night is dark again: its dose is 35 µmol m⁻², longest light 2 min");
    assert_event(EVENT_HAND_BEGINS, -1, 0.3, 5400, "by hand: 30 % for 1 h 30 min");
    assert_event(EVENT_CLOCK_UNTRUSTED, -1, CLOCK_POLICY_LOW, UNITS_NONE,
                 "the time of day cannot be trusted: the lamps give a low, constant light");
    assert_event(EVENT_GAP, -1, 75, UNITS_NONE, "nothing was measured or decided for 75 s");
    assert_event(EVENT_TRY_DRIVE, 1, 0.4, 30,
                 "try: the drive of fixture 1 at 0.40 by hand for 30 s");
    assert_event(EVENT_TRY_CONTACT, 0, 1, 600,
                 "try: the switch of fixture 0 closed by hand for 10 min");
    assert_event(EVENT_TRY_ENDS, 0, 1, UNITS_NONE,
                 "the switch of fixture 0 is no longer moved by hand");
    assert_event(EVENT_SWITCH_FREED, 7, UNITS_NONE, UNITS_NONE,
                 "the switch of lettuce obeys again");
    assert_event(
        EVENT_OPENING_UNCONFIRMED, 1, 0.62, 10,
        "the switch of fixture 1 was told to open and does not answer: it may still be lit "
        "at 62 %");
    assert_event(EVENT_OPENING_CONFIRMED, 1, 212, 1234.4,
                 "the opening of the switch of fixture 1 is confirmed after 4 min; the night "
                 "may have had up to 1234 µmol m⁻² of it");
    assert_event(EVENT_OPENING_CONFIRMED, 1, 30, 0,
                 "the opening of the switch of fixture 1 is confirmed after 30 s");
    evidence = (struct decide_evidence){0.5, true, 41.2, 145};
    assert_event(EVENT_CURVE_WRONG, 0, 41.2, 145,
                 "fixture 0 gives 41 W at drive 0.50, its curve says 145 W; for 10 min");
    assert_event(EVENT_DRIVER_TRIP, 0, 0.87, 0.82,
                 "the LED driver of fixture 0 tripped at 87 % drive (41 W seen, 145 by its curve): "
                 "resting, then at most 82 %");
    assert_event(EVENT_SWITCH_STUCK, 0, 41.2, UNITS_NONE,
                 "the switch of fixture 0 is open, yet power is seen (41.2 W): is its contact "
                 "welded?");
    evidence = (struct decide_evidence){0.5, false, 3, 210};
    assert_event(
        EVENT_DRIVER_GAVE_UP, 1, 3, UNITS_NONE,
        "fixture 1 gave no light after 3 tries (3 µmol m⁻² s⁻¹ seen, 210 by its curve): it "
        "looks broken and rests longer now");
}

static void assert_reach(const struct reach *reach, const char *expected)
{
    char text[192];
    words_reach(reach, text, sizeof text);
    assert_string_equal(text, expected);
}

/* Only what binds is named. */
static void what_is_out_of_reach(void **state)
{
    (void)state;
    struct reach reach = {.target_mol = 17,
                          .reach_mol = 15.21,
                          .is_short = true,
                          .left_h = 16,
                          .is_whole = true,
                          .light_umol = 380,
                          .by_ceiling = true,
                          .heat_share = 0.061,
                          .fault_share = 0.004,
                          .daylight_mol = UNITS_NONE};
    assert_reach(&reach, "17.0 mol asked, 15.2 reachable: window 16 h, ceiling 380 µmol m⁻² s⁻¹, "
                         "heat −6 %");
    reach = (struct reach){.target_mol = 17,
                           .reach_mol = 12,
                           .is_short = true,
                           .left_h = 4.25,
                           .light_umol = 300,
                           .power_share = 0.21,
                           .fault_share = 0.1,
                           .daylight_mol = 1.5};
    assert_reach(&reach, "17.0 mol asked, 12.0 reachable: 4.2 h of the window left, lamps 300 µmol "
                         "m⁻² s⁻¹, power limit −21 %, faults and drive ceilings −10 %, at most 1.5 "
                         "mol of daylight to "
                         "come");
    const struct decide_event event = {
        .kind = EVENT_TARGET_OUT_OF_REACH, .fixture = -1, .a = 17, .b = 12, .reach = reach};
    char text[192];
    words_event(&scene.sim.config, 0, &event, text, sizeof text);
    assert_reach(&reach, text);
    char tight[20];
    words_reach(&reach, tight, sizeof tight);
    assert_string_equal(tight, "17.0 mol asked, 12.");
}

static void light_that_drifts(void **state)
{
    (void)state;
    assert_event(EVENT_LIGHT_DRIFT, -1, 0.94, 9,
                 "where the lamps switch the sensor shows 94 % of the light that they promise "
                 "(median of 9); sensor wrong: canopy_factor × 1.06; lamps aged: ppfd_full × 0.94; "
                 "see lampwarden gain");
    assert_event(EVENT_SENSOR_CORRECTED, -1, 1.05, 9,
                 "accepted: the PPFD sensor shows 1.05 times the light that falls; readings are "
                 "divided by it (median of 9 steps of the lamps)");
    assert_event(EVENT_LAMP_CORRECTED, -1, 0.93, 9,
                 "accepted: the lamps give 0.93 times their ppfd_full (median of 9 steps)");
    assert_event(EVENT_CORRECTION_ENDS, -1, 1.05, 0.93,
                 "sensor and lamps count as configured again (before: readings ÷ 1.05, ppfd_full × "
                 "0.93)");
    assert_event(EVENT_LIGHT_DRIFT, -1, 1.01, 9,
                 "where the lamps switch the sensor shows 101 % of the light that they promise "
                 "(median of 9): they agree again");
}

static void lamps_that_age(void **state)
{
    (void)state;
    assert_event(EVENT_LIGHT_AGED, -1, 0.796, 400,
                 "the lamps give 80 % of what they were commissioned with, after 400 days: clean "
                 "lamps and light sensors, then measure again");
    assert_event(EVENT_SENSOR_FALLEN, -1, 0.88, 0,
                 "light sensor 1 of 1 shows 88 % of what it did beside the others: dust on it, or "
                 "it was moved");
}

static void assert_held(const struct words_lamp *lamp, bool of_contact, const char *expected)
{
    char text[128];
    words_trial(lamp, of_contact, text, sizeof text);
    assert_string_equal(text, expected);
}

static void outputs_held_back(void **state)
{
    (void)state;
    struct fixture_rules rules = {.has_switch = true,
                                  .switching = {.min_on_s = 60, .min_off_s = 300}};
    struct fixture_now now = {.try_drive = {true, 0.9, 100, false},
                              .try_contact = {true, 1, 100, false}};
    struct fixture_state its = {.switching = {.phase = SWITCHING_CLOSED, .since_change_s = 88.5}};
    struct fixture_verdict verdict = {
        .closed = true, .drive = 0.88, .limiter = LIMITER_DRIVE_CEILING};
    struct words_lamp lamp = {&rules, &now, &its, &verdict, 50};
    assert_held(&lamp, false, "held at 0.88 by: drive ceiling of the LED driver");
    assert_held(&lamp, true, "");
    verdict.drive = 0.9;
    assert_held(&lamp, false, "");
    verdict.drive = 0.1;
    its.switching.phase = SWITCHING_CLOSING;
    assert_held(&lamp, false, "stays at 0.10 while the switch settles");
    its.switching.phase = SWITCHING_OPEN;
    verdict.closed = false;
    verdict.limiter = LIMITER_REST;
    assert_held(&lamp, false, "stays at 0.10: waits until the dark is sure, up to 20 s");
    now.opening_unconfirmed = true;
    assert_held(&lamp, false, "stays at 0.10: its switch is not known to be open");
    now.opening_unconfirmed = false;
    assert_held(&lamp, true, "stays open for another 212 s: minimum off time of the switch");
    verdict.limiter = LIMITER_HEAT_TRIP;
    assert_held(&lamp, true, "stays open: heat trip");
    verdict.limiter = LIMITER_BY_HAND;
    its.switching.since_change_s = 400;
    assert_held(&lamp, true, "waits its turn to close");
    now.try_contact.value = 0;
    verdict.closed = true;
    its.switching.since_change_s = 20;
    assert_held(&lamp, true, "stays closed for another 40 s: minimum on time of the switch");
    its.switching.since_change_s = 61;
    assert_held(&lamp, true, "is dimmed before it opens");
    lamp.boot_ns = 100; /* over */
    assert_held(&lamp, true, "");
    assert_held(&lamp, false, "");
}

/* Whatever the values: a sentence for every event and limiter, inside its buffer, no NaN in the
 * ordinary ones, and never the same for two kinds. */
static void everything_has_words(void **state)
{
    (void)state;
    char texts[EVENT_KIND_COUNT][192];
    for (unsigned kind = 0; kind < EVENT_KIND_COUNT; kind++) {
        const struct decide_event event = {.kind = (enum core_event)kind, .a = 0.5, .b = 0.5};
        words_event(&scene.sim.config, 0, &event, texts[kind], sizeof texts[kind]);
        assert_true(strlen(texts[kind]) > 8);
        assert_null(strstr(texts[kind], "nan"));
        assert_null(strstr(texts[kind], "no name"));
        for (unsigned other = 0; other < kind; other++) {
            assert_string_not_equal(texts[kind], texts[other]);
        }
    }
    for (unsigned limiter = 0; limiter < LIMITER_COUNT; limiter++) {
        assert_true(strlen(words_limiter((enum limiter)limiter)) > 3);
        assert_true(strlen(words_limiter((enum limiter)limiter)) <=
                    31); /* a column of the report */
    }
    assert_string_equal(words_limiter(LIMITER_COUNT), "unknown");
}

static void stays_in_its_buffer(void **state)
{
    (void)state;
    struct prng prng = prng_start("stays_in_its_buffer");
    for (int turn = 0; turn < 20000; turn++) {
        char buffer[64];
        const size_t size = (size_t)prng_int(&prng, 1, 60);
        const struct decide_event event = {
            .kind = (enum core_event)prng_int(&prng, 0, EVENT_KIND_COUNT),
            .fixture = (int)prng_int(&prng, -2, 20),
            .a = prng_real(&prng, -1e18, 1e18),
            .b = UNITS_NONE,
            .evidence = {UNITS_NONE, false, 1e18, -1e18}};
        memset(buffer, 'x', sizeof buffer);
        words_event(&scene.sim.config, 0, &event, buffer, size);
        assert_true(strnlen(buffer, size) < size);
        assert_int_equal(buffer[size], 'x');
        scene.verdict.limiter = (enum limiter)prng_int(&prng, 0, LIMITER_COUNT);
        scene.verdict.level = prng_real(&prng, -1, 2);
        scene.verdict.fixtures[0].limiter = scene.verdict.limiter;
        scene.verdict.place.until_on_s = prng_int(&prng, -1, 1 << 20);
        memset(buffer, 'x', sizeof buffer);
        words_state(&scene.sim.config, 0, &scene.now, &scene.verdict, buffer, size);
        assert_true(strnlen(buffer, size) < size);
        assert_int_equal(buffer[size], 'x');
    }
}

static void the_clock(void **state)
{
    (void)state;
    assert_string_equal(words_clock("synchronised"), "synchronised");
    assert_string_equal(words_clock("held-over"), "not synchronised");
    assert_string_equal(words_clock("untrusted"), "not believed");
    assert_string_equal(words_clock(""), "");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(lit_states, begin),
        cmocka_unit_test(outputs_held_back),
        cmocka_unit_test_setup(dark_states, begin),
        cmocka_unit_test_setup(events, begin),
        cmocka_unit_test_setup(what_is_out_of_reach, begin),
        cmocka_unit_test_setup(light_that_drifts, begin),
        cmocka_unit_test_setup(lamps_that_age, begin),
        cmocka_unit_test_setup(everything_has_words, begin),
        cmocka_unit_test_setup(stays_in_its_buffer, begin),
        cmocka_unit_test(the_clock),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
