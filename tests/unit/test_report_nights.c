/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The night check. Doses are light × time (200 µmol m⁻² s⁻¹ for 600 s are 120 000 µmol m⁻²); the
 * days are lit from 06:00 to 22:00, the light days begin at midnight, so that each night lies in
 * two.
 */
#include "report_nights.h"

#include "decide.h"
#include "err.h"
#include "journal_bed.h"
#include "near.h"
#include "recorder.h"
#include "scene.h"
#include "units.h"

#include <errno.h>
#include <jansson.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define BEGIN_S (BED_DAY * INT64_C(86400))
#define HOUR_S  INT64_C(3600)

static struct bed bed;
static struct journal_reader *reader;
static struct report_nights *report;
static char *text;
static size_t text_size;

/* What is different from the usual three days. */
static struct {
    int64_t hole_from_s, hole_to_s;   /* no minutes */
    int64_t hand_from_s, hand_to_s;   /* lit by hand */
    int64_t blind_from_s, blind_to_s; /* no sensor */
    double dose[3], longest_s[3], possible[3], daylight_mol;
    bool is_guarded; /* minutes have what the guard counted: 200 µmol m⁻² s⁻¹ while a hand lights it
                      */
    double guard_dose, guard_longest_s, guard_possible;
} twist;

static bool is_between(int64_t at_s, int64_t from_s, int64_t to_s)
{
    return at_s >= from_s && at_s < to_s;
}

static void put_minute(int64_t at_s)
{
    struct journal_minute minute = bed_minute("lettuce", 0);
    const int64_t second = at_s % 86400;
    const bool is_lit = is_between(second, 6 * HOUR_S, 22 * HOUR_S);
    const bool is_hand = is_between(at_s, twist.hand_from_s, twist.hand_to_s);
    minute.wall_s = BEGIN_S + at_s;
    minute.light_day = BED_DAY + at_s / 86400;
    minute.limiter = is_hand ? LIMITER_BY_HAND : is_lit ? LIMITER_PLAN : LIMITER_NIGHT;
    minute.level = is_lit || is_hand ? 0.5 : 0;
    minute.ppfd_umol = is_lit || is_hand ? 200 : 0;
    if (is_between(at_s, twist.blind_from_s, twist.blind_to_s)) {
        minute.ppfd_umol = UNITS_NONE;
        minute.quality = READING_LOST;
    }
    if (twist.is_guarded && is_lit) {
        twist.guard_dose = twist.guard_longest_s = 0;
    } else if (twist.is_guarded) {
        twist.guard_dose += is_hand ? 200 * 60 : 0;
        twist.guard_longest_s += is_hand ? 60 : 0;
        minute.night_dose_umol_m2 = twist.guard_dose;
        minute.night_longest_s = twist.guard_longest_s;
        minute.night_possible_umol_m2 = second < 6 * HOUR_S ? twist.guard_possible : 0;
    }
    assert_true(journal_put_minute(bed.journal, &minute));
}

static void put_event(enum core_event kind, int64_t at_s, double a, double b, const char *words)
{
    struct journal_event event = bed_event("lettuce", JOURNAL_INFO, words);
    (void)snprintf(event.kind, sizeof event.kind, "%s", decide_event_name(kind));
    event.wall_s = BEGIN_S + at_s;
    event.light_day = BED_DAY + at_s / 86400;
    event.a = a;
    event.b = b;
    assert_true(journal_put_event(bed.journal, &event));
}

static void put_days(bool with_minutes)
{
    for (int d = 0; d < 3; d++) {
        struct journal_day day = bed_day("lettuce", BED_DAY + d, true);
        day.summary.integral.daylight_mol = twist.daylight_mol;
        day.summary.night_dose_umol_m2 = twist.dose[d];
        day.summary.night_longest_s = twist.longest_s[d];
        day.summary.night_possible_umol_m2 = twist.possible[d];
        assert_true(journal_put_day(bed.journal, &day));
        put_event(EVENT_LIGHTS_ON, d * 86400 + 6 * HOUR_S + 2, 0.5, UNITS_NONE, "lights on");
        put_event(EVENT_LIGHTS_OFF, d * 86400 + 22 * HOUR_S, 12, UNITS_NONE, "lights off");
    }
    for (int64_t at_s = 0; with_minutes && at_s < 3 * 86400; at_s += 60) {
        if (!is_between(at_s, twist.hole_from_s, twist.hole_to_s)) {
            put_minute(at_s);
        }
    }
}

static void look(int64_t first, int64_t last)
{
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(journal_reader_open(bed.path, &reader, NULL), 0);
    struct err err;
    if (report_nights_create(reader, "lettuce", first, last, &report, &err) != 0) {
        fail_msg("%s", err.text);
    }
}

static int begin(void **state)
{
    (void)state;
    memset(&twist, 0, sizeof twist);
    bed_make(&bed);
    bed_open(&bed);
    return 0;
}

static int end(void **state)
{
    (void)state;
    free(text);
    text = NULL;
    report_nights_destroy(report);
    report = NULL;
    journal_reader_close(reader);
    reader = NULL;
    bed_remove(&bed);
    return 0;
}

static void assert_night(int index, int64_t from_s, int64_t to_s, const char *word)
{
    assert_true(index < report->count);
    const struct night *night = &report->nights[index];
    assert_int_equal(night->from_s - BEGIN_S, from_s);
    assert_int_equal(night->to_s - BEGIN_S, to_s);
    assert_string_equal(night_word(night), word);
}

static void assert_text(const struct night *night, const char *wanted)
{
    char words[800];
    night_text(night, 0, words, sizeof words);
    assert_string_equal(words, wanted);
}

static void quiet_nights(void **state)
{
    (void)state;
    put_days(true);
    look(BED_DAY, BED_DAY + 2);
    assert_int_equal(report->count, 4);
    assert_night(0, 0, 6 * HOUR_S, "dark");
    assert_false(report->nights[0].is_from_seen);
    assert_night(1, 22 * HOUR_S, 30 * HOUR_S, "dark");
    assert_true(report->nights[1].is_from_seen && report->nights[1].is_to_seen);
    assert_int_equal(report->nights[1].open_from_s, BEGIN_S + 22 * HOUR_S);
    assert_int_equal(report->nights[1].open_to_s, BEGIN_S + 30 * HOUR_S + 2);
    assert_text(&report->nights[1],
                "Night 22:00 to 06:00 (8 h 00 min). Switches open from 22:00 to "
                "06:00. No light was seen.");
    assert_night(3, 70 * HOUR_S, 72 * HOUR_S, "dark");
    assert_false(report->nights[3].is_to_seen);
    assert_text(&report->nights[3], "Night 22:00 to 00:00 and on (2 h 00 min). Switches open from "
                                    "22:00 on. No light was seen.");
}

static void those_of_some_days(void **state)
{
    (void)state;
    put_days(true);
    look(BED_DAY + 1, BED_DAY + 1);
    assert_int_equal(report->count, 1);
    assert_night(0, 46 * HOUR_S, 54 * HOUR_S, "dark");
}

/* A hold of ten minutes from 02:00 on: 200 µmol m⁻² s⁻¹ · 600 s = 120 000 µmol m⁻². */
static void a_hand_breaks_it(void **state)
{
    (void)state;
    twist.hand_from_s = 26 * HOUR_S;
    twist.hand_to_s = 26 * HOUR_S + 600;
    twist.dose[1] = 120000;
    twist.longest_s[1] = 600;
    put_days(true);
    put_event(EVENT_HAND_BEGINS, 26 * HOUR_S, 0.5, 600, "by hand: 50 % for 10 min");
    put_event(EVENT_LIGHTS_ON, 26 * HOUR_S + 1, 0.5, UNITS_NONE, "lights on");
    put_event(EVENT_NIGHT_BREAK, 26 * HOUR_S + 11, 200, UNITS_NONE, "light in the night");
    put_event(EVENT_HAND_ENDS, 26 * HOUR_S + 600, UNITS_NONE, UNITS_NONE, "ended");
    put_event(EVENT_LIGHTS_OFF, 26 * HOUR_S + 601, 1, UNITS_NONE, "lights off");
    put_event(EVENT_NIGHT_BREAK_ENDS, 26 * HOUR_S + 601, 120000, 600, "dark again");
    look(BED_DAY, BED_DAY + 1);
    assert_int_equal(report->count, 3); /* it does not end the night */
    assert_night(1, 22 * HOUR_S, 30 * HOUR_S, "broken");
    const struct night *night = &report->nights[1];
    assert_near(night->dose_umol_m2, 120000, 1e-6);
    assert_near(night->longest_s, 600, 1e-6);
    assert_int_equal(night->break_count, 1);
    assert_int_equal(night->breaks[0].cause, NIGHT_CAUSE_HAND);
    assert_string_equal(night->breaks[0].text, "by hand: 50 % for 10 min");
    assert_near(night->breaks[0].dose_umol_m2, 120000, 1e-6);
    assert_int_equal(night->open_from_s, BEGIN_S + 22 * HOUR_S);
    assert_int_equal(night->open_to_s, BEGIN_S + 30 * HOUR_S + 2);
    assert_text(night,
                "Night 22:00 to 06:00 (8 h 00 min). Switches open from 22:00 to 06:00. Broken "
                "1 time: longest light 10 min, dose 120000 µmol m⁻².");
    assert_night(2, 46 * HOUR_S, 54 * HOUR_S, "dark"); /* the same light day, another night */
}

/* The guard's own counters tell apart what the sums of the light days cannot: no event is needed.
 */
static void the_guard_knows_best(void **state)
{
    (void)state;
    twist.is_guarded = true;
    twist.hand_from_s = 23 * HOUR_S + 3000;
    twist.hand_to_s = 24 * HOUR_S + 600; /* over midnight: 20 min */
    twist.guard_possible = 40;           /* counted from midnight on, each day anew */
    for (int i = 0; i < 3; i++) {
        twist.dose[i] = 999;
        twist.longest_s[i] = 99;
        twist.possible[i] = 40;
    }
    put_days(true);
    put_event(EVENT_OPENING_UNCONFIRMED, 24 * HOUR_S, 0.2, 10, "does not answer");
    look(BED_DAY, BED_DAY + 1);
    assert_int_equal(report->count, 3);
    assert_near(report->nights[0].dose_umol_m2, 0, 1e-9);
    assert_near(report->nights[0].longest_s, 0, 1e-9);
    assert_night(1, 22 * HOUR_S, 30 * HOUR_S, "possible");
    assert_near(report->nights[1].dose_umol_m2, 200 * 1200, 1e-6);
    assert_near(report->nights[1].longest_s, 1200, 1e-9);
    assert_near(report->nights[1].possible_umol_m2, 40, 1e-9);
    assert_near(report->nights[2].dose_umol_m2, 0, 1e-9);
    report_nights_destroy(report);
    report = NULL;
    struct journal_day day = bed_day("lettuce", BED_DAY + 1, true);
    assert_int_equal(report_nights_within(reader, &day, &report, NULL), 0);
    assert_int_equal(report->count, 2);
    assert_near(report->nights[0].dose_umol_m2, 200 * 600, 1e-6); /* of this light day alone */
}

/* So many seconds of the daemon's own decisions, recorded. */
static void live(struct scene *scene, struct recorder *recorder, int seconds)
{
    static const struct recorder_air air = {{21.5, 1, READING_GOOD}, {63, 1, READING_GOOD}};
    for (int i = 0; i < seconds; i++) {
        scene_tick(scene, 1);
        recorder_tick(recorder, bed.journal,
                      &(struct recorder_tick){.now = &scene->now,
                                              .air = &air,
                                              .state = &scene->state,
                                              .verdict = &scene->verdict,
                                              .dt_s = 1});
    }
}

/* From the decisions to the check: lights off at 22:00, a hold of ten minutes at 22:10. */
static void a_hold_as_the_daemon_tells_it(void **state)
{
    (void)state;
    struct scene *scene = calloc(1, sizeof *scene);
    struct recorder *recorder = calloc(1, sizeof *recorder);
    assert_true(scene && recorder);
    scene_begin(scene, 2, 21 * HOUR_S + 3000);
    recorder_init(recorder, &scene->sim.config, 0, scene->now.wall_s);
    live(scene, recorder, 1200);
    scene->now.hand = (struct hand){true, 0.3, scene->now.boot_ns + 600 * UNITS_NS_PER_S, true};
    live(scene, recorder, 600);
    scene->now.hand.is_active = false;
    live(scene, recorder, 600);
    recorder_finish(recorder, bed.journal, &scene->state, scene->now.wall_s);
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(journal_reader_open(bed.path, &reader, NULL), 0);
    assert_int_equal(report_nights_newest(reader, scene->sim.space.name, 1, &report, NULL), 0);
    assert_int_equal(report->count, 1);
    const struct night *night = &report->nights[0];
    assert_string_equal(night_word(night), "broken");
    assert_true(night->is_from_seen);
    assert_near((double)(night->open_from_s - night->from_s), 0, 60);
    assert_int_equal(night->break_count, 1);
    assert_int_equal(night->breaks[0].cause, NIGHT_CAUSE_HAND);
    assert_string_equal(night->breaks[0].text, "by hand: 30 % for 10 min");
    assert_near(night->longest_s, 600, 5);
    assert_near(night->dose_umol_m2, scene->state.nightguard.dose_umol_m2, 1e-6);
    assert_true(night->dose_umol_m2 > 0.8 * 0.3 * 420 * 600);
    free(recorder);
    free(scene);
}

static void causes(void **state)
{
    (void)state;
    static const struct {
        enum core_event kind;
        double a;
        int64_t after_s;
        enum night_cause cause;
    } cases[] = {{EVENT_TRY_CONTACT, 1, -20, NIGHT_CAUSE_TRY},
                 {EVENT_TRY_DRIVE, 0.3, -20, NIGHT_CAUSE_TRY},
                 {EVENT_SWITCH_STUCK, 30, 60, NIGHT_CAUSE_SWITCH},
                 {EVENT_SENSOR_BACK, 0, -20, NIGHT_CAUSE_OTHER}};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const int64_t at_s = 24 * HOUR_S + (int64_t)i * HOUR_S;
        put_event(cases[i].kind, at_s + cases[i].after_s, cases[i].a, 10, "what happened");
        put_event(EVENT_NIGHT_BREAK, at_s, 3, UNITS_NONE, "light in the night");
        put_event(EVENT_TRY_ENDS, at_s + 30, 0, UNITS_NONE, "ends");
        put_event(EVENT_NIGHT_BREAK_ENDS, at_s + 120, 100 * (double)(i + 1), 120, "dark again");
        put_event(EVENT_SWITCH_FREED, at_s + 130, UNITS_NONE, UNITS_NONE, "freed");
    }
    put_days(true);
    look(BED_DAY, BED_DAY);
    const struct night *night = &report->nights[1];
    assert_int_equal(night->break_count, 4);
    for (int i = 0; i < 4; i++) {
        assert_int_equal(night->breaks[i].cause, cases[i].cause);
        assert_near(night->breaks[i].dose_umol_m2, 100, 1e-9);
        assert_string_equal(night->breaks[i].text,
                            cases[i].cause == NIGHT_CAUSE_OTHER
                                ? "no lamp of this space was told to give it: a door, a torch, "
                                  "another lamp?"
                                : "what happened");
    }
}

static void more_breaks_than_fit(void **state)
{
    (void)state;
    put_days(true);
    for (int i = 0; i < NIGHT_BREAKS_MAX + 3; i++) {
        put_event(EVENT_NIGHT_BREAK, 24 * HOUR_S + i * 60, 3, UNITS_NONE, "light");
        put_event(EVENT_NIGHT_BREAK_ENDS, 24 * HOUR_S + i * 60 + 30, i, 12, "dark again");
    }
    look(BED_DAY, BED_DAY);
    assert_int_equal(report->nights[1].break_count, NIGHT_BREAKS_MAX);
    assert_int_equal(report->nights[1].breaks_left_out, 3);
}

static void what_nobody_saw_is_not_dark(void **state)
{
    (void)state;
    twist.blind_from_s = 22 * HOUR_S;
    twist.blind_to_s = 27 * HOUR_S;
    twist.hole_from_s = 47 * HOUR_S;
    twist.hole_to_s = 49 * HOUR_S;
    put_days(true);
    look(BED_DAY, BED_DAY + 1);
    assert_night(1, 22 * HOUR_S, 30 * HOUR_S, "unseen");
    assert_text(&report->nights[1],
                "Night 22:00 to 06:00 (8 h 00 min). Switches open from 22:00 to "
                "06:00. No sensor showed the light for 5 h 00 min.");
    assert_night(2, 46 * HOUR_S, 54 * HOUR_S, "unrecorded");
    assert_text(&report->nights[2],
                "Night 22:00 to 06:00 (8 h 00 min). Switches open from 22:00 to "
                "06:00. Nothing is recorded of 2 h 00 min.");
}

/* A day and the hours around it without a record: two nights, not one of 32 hours. */
static void a_long_hole_parts_nights(void **state)
{
    (void)state;
    twist.hole_from_s = 29 * HOUR_S;
    twist.hole_to_s = 46 * HOUR_S + 60;
    put_days(true);
    look(BED_DAY, BED_DAY + 1);
    assert_night(1, 22 * HOUR_S, 29 * HOUR_S, "dark");
    assert_false(report->nights[1].is_to_seen);
    assert_night(2, 46 * HOUR_S + 60, 54 * HOUR_S, "dark");
    assert_false(report->nights[2].is_from_seen);
}

static void under_the_sky(void **state)
{
    (void)state;
    twist.daylight_mol = 5;
    put_days(true);
    look(BED_DAY, BED_DAY);
    assert_night(1, 22 * HOUR_S, 30 * HOUR_S, "unlit");
    assert_text(&report->nights[1],
                "Night 22:00 to 06:00 (8 h 00 min). Switches open from 22:00 to "
                "06:00. The sensor sees the sky too: only the lamps were "
                "watched.");
}

static void openings_not_confirmed(void **state)
{
    (void)state;
    twist.possible[0] = 300;
    twist.possible[1] = 500;
    put_days(true);
    put_event(EVENT_OPENING_UNCONFIRMED, 22 * HOUR_S + 10, 0.2, 10, "does not answer");
    put_event(EVENT_OPENING_CONFIRMED, 27 * HOUR_S, 18000, 800, "confirmed");
    look(BED_DAY, BED_DAY + 1);
    assert_night(0, 0, 6 * HOUR_S, "dark"); /* its light days are not it */
    assert_night(1, 22 * HOUR_S, 30 * HOUR_S, "possible");
    assert_night(2, 46 * HOUR_S, 54 * HOUR_S, "dark");
}

static void minutes_that_are_gone(void **state)
{
    (void)state;
    twist.dose[0] = 40;
    twist.longest_s[0] = 30;
    put_days(false);
    look(BED_DAY, BED_DAY + 2);
    assert_int_equal(report->count, 2);
    assert_true(report->nights[0].is_summary);
    assert_night(0, 22 * HOUR_S, 30 * HOUR_S, "broken");
    assert_night(1, 46 * HOUR_S, 54 * HOUR_S, "unrecorded");
    assert_text(&report->nights[1],
                "Night 22:00 to 06:00 (8 h 00 min). Switches open from 22:00 to 06:00. Its minutes "
                "are not kept any more.");
}

static void within_one_light_day(void **state)
{
    (void)state;
    put_days(true);
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(journal_reader_open(bed.path, &reader, NULL), 0);
    struct journal_day day = bed_day("lettuce", BED_DAY + 1, true);
    day.summary.integral.daylight_mol = 0;
    assert_int_equal(report_nights_within(reader, &day, &report, NULL), 0);
    assert_int_equal(report->count, 2);
    assert_night(0, 24 * HOUR_S, 30 * HOUR_S, "dark");
    assert_night(1, 46 * HOUR_S, 48 * HOUR_S, "dark");
    assert_int_equal(report->nights[1].open_to_s, 0); /* what comes later is not told */
}

static void json_and_table(void **state)
{
    (void)state;
    put_days(true);
    put_event(EVENT_NIGHT_BREAK, 24 * HOUR_S, 3.25, UNITS_NONE, "light");
    put_event(EVENT_NIGHT_BREAK_ENDS, 24 * HOUR_S + 100, 325, 100, "dark again");
    look(BED_DAY, BED_DAY + 1);
    FILE *out = open_memstream(&text, &text_size);
    assert_non_null(out);
    assert_int_equal(report_nights_json(report, out), 0);
    assert_int_equal(fclose(out), 0);
    json_t *object = json_loads(text, 0, NULL);
    const json_t *night = json_array_get(json_object_get(object, "nights"), 1);
    assert_string_equal(json_string_value(json_object_get(night, "night")), "broken");
    assert_string_equal(json_string_value(json_object_get(night, "begin")),
                        "2026-02-24T22:00:00+00:00");
    const json_t *its = json_array_get(json_object_get(night, "breaks"), 0);
    assert_string_equal(json_string_value(json_object_get(its, "cause")), "other");
    assert_near(json_real_value(json_object_get(its, "peak_umol")), 3.25, 1e-9);
    json_decref(object);
    free(text);
    text = NULL;
    out = open_memstream(&text, &text_size);
    assert_non_null(out);
    report_nights_text(report, false, out);
    assert_int_equal(fclose(out), 0);
    assert_non_null(strstr(text, "2026-02-24  22:00-06:00  22:00-06:00 "));
    assert_non_null(
        strstr(text, "  00:00 to 00:01: 3.25 umol m-2 s-1 when noticed, dose 325 umol"));
    for (const char *line = text; *line; line = strchr(line, '\n') + 1) {
        assert_true(strcspn(line, "\n") <= 80);
    }
}

static void days_that_are_not_there(void **state)
{
    (void)state;
    put_days(true);
    look(BED_DAY, BED_DAY);
    struct err err;
    struct report_nights *none = NULL;
    assert_int_equal(report_nights_create(reader, "lettuce", 10, 12, &none, &err), -ENOENT);
    assert_non_null(strstr(err.text, "days stored: 2026-02-24 to 2026-02-26"));
    assert_int_equal(report_nights_create(reader, "x", BED_DAY, BED_DAY, &none, &err), -ENOENT);
    assert_int_equal(report_nights_newest(reader, "lettuce", 1, &none, &err), 0);
    assert_int_equal(none->count, 1);
    report_nights_destroy(none);
}

#define night_test(name) cmocka_unit_test_setup_teardown(name, begin, end)

int main(void)
{
    const struct CMUnitTest tests[] = {
        night_test(quiet_nights),
        night_test(those_of_some_days),
        night_test(a_hand_breaks_it),
        night_test(the_guard_knows_best),
        night_test(a_hold_as_the_daemon_tells_it),
        night_test(causes),
        night_test(more_breaks_than_fit),
        night_test(what_nobody_saw_is_not_dark),
        night_test(a_long_hole_parts_nights),
        night_test(under_the_sky),
        night_test(openings_not_confirmed),
        night_test(minutes_that_are_gone),
        night_test(within_one_light_day),
        night_test(json_and_table),
        night_test(days_that_are_not_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
