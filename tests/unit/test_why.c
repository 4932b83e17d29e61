/* SPDX-License-Identifier: Apache-2.0 */
/* The explanation of a moment: of now, of stored minutes, of minutes without a chain. */
#include "why.h"

#include "civil.h"
#include "err.h"
#include "journal_bed.h"
#include "moment.h"
#include "near.h"
#include "parse.h"
#include "recorder.h"
#include "scene.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static struct bed bed;
static struct scene scene;
static struct recorder recorder;
static struct picture_space space;
static struct picture picture;
static json_t *answer;
static const struct recorder_air air = {{21, 1, READING_GOOD}, {60, 1, READING_GOOD}};

static void start_at(int64_t second)
{
    scene_begin(&scene, 2, second);
    for (int i = 0; i < 2; i++) {
        (void)snprintf(scene.sim.fixtures[i].name, CONFIG_NAME_MAX, "shelf_%s",
                       i == 0 ? "left" : "right");
    }
    (void)snprintf(scene.sim.config.site.currency, sizeof scene.sim.config.site.currency, "EUR");
    recorder_init(&recorder, &scene.sim.config, 0, scene.now.wall_s);
}

static int begin(void **state)
{
    (void)state;
    bed_make(&bed);
    bed_open(&bed);
    start_at(8 * 3600);
    space = (struct picture_space){0};
    picture = (struct picture){.config = &scene.sim.config, .is_ready = true, .spaces = &space};
    return 0;
}

static int end(void **state)
{
    (void)state;
    json_decref(answer);
    answer = NULL;
    bed_remove(&bed);
    return 0;
}

static void run(int seconds)
{
    for (int i = 0; i < seconds; i++) {
        scene_tick(&scene, 1);
        recorder_tick(&recorder, bed.journal,
                      &(struct recorder_tick){&scene.now, &air, &scene.state, &scene.verdict, 1});
    }
}

static const char *text_of(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text ? text : "";
}

static double number_of(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : UNITS_NONE;
}

static void contains(const json_t *object, const char *key, const char *part)
{
    if (!strstr(text_of(object, key), part)) {
        fail_msg("%s: \"%s\" is without \"%s\"", key, text_of(object, key), part);
    }
}

static json_t *rule_of(const json_t *object, const char *limiter)
{
    size_t i;
    json_t *rule;
    json_array_foreach(json_object_get(object, "rules"), i, rule)
    {
        if (strcmp(text_of(rule, "limiter"), limiter) == 0) {
            return rule;
        }
    }
    fail_msg("no rule %s", limiter);
    return NULL;
}

static json_t *fixture(size_t i)
{
    return json_array_get(json_object_get(answer, "fixtures"), i);
}

static void ask_now(void)
{
    space.now = scene.now;
    space.state = scene.state;
    space.verdict = scene.verdict;
    picture.wall_ns = scene.now.wall_s * UNITS_NS_PER_S;
    json_decref(answer);
    answer = why_now(&picture, 0);
    assert_non_null(answer);
}

static int ask_journal(const char *time, struct err *err)
{
    const struct why_ask ask = {scene.sim.space.name, time, &scene.sim.config.site.tariff.civil};
    struct journal_reader *reader = NULL;
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(journal_reader_open(bed.path, &reader, err), 0);
    json_decref(answer);
    answer = NULL;
    const int code = why_at(reader, &ask, &answer, err);
    journal_reader_close(reader);
    return code;
}

static void ask_minute(const char *time)
{
    struct err err = {""};
    if (ask_journal(time, &err) != 0) {
        fail_msg("%s: %s", time, err.text);
    }
}

/* Exactly one rule wins of each, and it is the one that allowed least. */
static void check_rules(const json_t *object, double level)
{
    size_t i;
    json_t *rule;
    double least = (double)INFINITY;
    int winners = 0;
    double won = UNITS_NONE;
    json_array_foreach(json_object_get(object, "rules"), i, rule)
    {
        const double allowed = number_of(rule, "allowed");
        least = fmin(least, allowed);
        if (json_is_true(json_object_get(rule, "rules"))) {
            winners++;
            won = allowed;
        }
    }
    assert_int_equal(winners, 1);
    assert_near(won, least, 1e-12);
    assert_near(least, level, 1e-4);
}

static void a_hot_fixture(void **state)
{
    (void)state;
    run(2400);
    scene_heat(&scene, 1, 70);
    run(600);
    ask_now();
    contains(answer, "sentence", "Now ");
    contains(answer, "sentence", "shelf_right at ");
    contains(answer, "sentence", ": heat foldback allows no more; the plan asks for ");
    contains(answer, "sentence", " mol are still to come");
    assert_string_equal(text_of(answer, "limiter"), "heat");
    check_rules(answer, scene.verdict.asked);
    check_rules(fixture(1), scene.verdict.fixtures[1].level);
    contains(rule_of(fixture(1), "heat"), "saw", "heatsink 70.0 °C (good, ");
    contains(rule_of(fixture(1), "heat"), "saw", "foldback begins at ");
    assert_string_equal(text_of(fixture(0), "limiter"),
                        limiter_name(scene.verdict.fixtures[0].limiter));
    assert_string_equal(text_of(fixture(0), "pace"), "there");
    assert_true(json_is_null(json_object_get(rule_of(fixture(0), "heat"), "allowed")));
    /* the same, from the journal */
    const double level = scene.verdict.fixtures[1].level;
    run((int)(60 - scene.now.wall_s % 60));
    run(60);
    ask_minute(NULL);
    contains(answer, "sentence", "shelf_right at ");
    contains(answer, "sentence", ": heat foldback allowed no more; the plan asked for ");
    contains(answer, "sentence", " mol were still to come");
    assert_string_equal(text_of(answer, "ruled_longest"), "heat");
    contains(answer, "at", ":59+01:00");
    check_rules(answer, scene.verdict.asked);
    check_rules(fixture(1), scene.verdict.fixtures[1].level);
    assert_near(number_of(fixture(1), "level"), level, 0.01);
    assert_near(number_of(answer, "target_mol"), 13, 1e-9);
    assert_string_equal(text_of(answer, "currency"), "EUR");
}

static void the_night(void **state)
{
    (void)state;
    start_at(2 * 3600);
    run(180);
    ask_now();
    assert_string_equal(text_of(answer, "sentence"),
                        "Now lettuce is dark: it is night until 06:00.");
    check_rules(answer, 0);
    contains(rule_of(answer, "night"), "saw", "lights on at 06:00");
    ask_minute("02:01");
    assert_string_equal(text_of(answer, "sentence"),
                        "At 02:01 lettuce was dark: it was night until 06:00.");
    assert_int_equal(json_array_size(json_object_get(answer, "fixtures")), 0);
}

/* What a person reads when a rule holds the lamps. */
static void sentences(void **state)
{
    (void)state;
    run(2400);
    ask_now();
    contains(answer, "sentence", "Now lettuce burns at ");
    contains(answer, "sentence", "the plan asks for ");
    contains(answer, "sentence", "at one level for the rest of the window");
    scene.now.hand = (struct hand){true, 0.2, scene.now.boot_ns + 3600 * UNITS_NS_PER_S, false};
    run(300);
    ask_now();
    contains(answer, "sentence", "at 20 %: somebody has set that by hand.");
    contains(rule_of(answer, "by-hand"), "saw", "for another 55 min");
    scene.now.hand.is_active = false;
    scene_ppfd(&scene, UNITS_NONE);
    run(600);
    ask_now();
    contains(rule_of(answer, "sensor-lost"), "saw", "PPFD: no reading");
    scene.now.fixtures[0].output_fault = scene.now.fixtures[1].output_fault = true;
    run(5);
    ask_now();
    contains(answer, "sentence", "is dark: an output does not obey; the plan asks for ");
    scene.now.fixtures[0].output_fault = scene.now.fixtures[1].output_fault = false;
    run(2);
    ask_now();
    contains(answer, "sentence", "its switch serves its minimum off time");
    contains(rule_of(fixture(0), "rest"), "saw", "its switch may close in 5");
}

static void minutes_that_are_not_there(void **state)
{
    (void)state;
    struct err err = {""};
    run(300);
    scene.now.clock = CLOCK_UNTRUSTED;
    run(300); /* no minute of it */
    scene.now.clock = CLOCK_SYNCHRONISED;
    run(300);
    assert_int_equal(ask_journal("08:07", &err), -ENOENT);
    assert_non_null(strstr(err.text, "2026-01-01T08:07"));
    assert_non_null(strstr(err.text, "the nearest are 2026-01-01T08:05 and 2026-01-01T08:10"));
    assert_non_null(strstr(err.text, "stored are 2026-01-01T08:00 … 2026-01-01T08:14"));
    assert_int_equal(ask_journal("2025-12-31T08:07", &err), -ENOENT);
    assert_non_null(strstr(err.text, "stored are 2026-01-01T08:00 … 2026-01-01T08:14"));
    assert_int_equal(ask_journal("2026-03-01T08:07", &err), -ENOENT);
    assert_int_equal(ask_journal("soon", &err), -EINVAL);
    assert_null(answer);
    scene.sim.space.name[0] = 'x';
    assert_int_equal(ask_journal("08:07", &err), -ENOENT);
    assert_non_null(strstr(err.text, "xettuce"));
}

/* Europe/Berlin in October 2026: at 01:00 UTC the clock on the wall goes back from 3 to 2. */
static void a_doubled_hour_is_told_apart(void **state)
{
    (void)state;
    static const struct civil_change back[] = {{INT64_C(1792890000), 3600}};
    int64_t wall_s = 0;
    assert_int_equal(parse_datetime("2026-10-25T01:29:00+01:00", &wall_s, NULL), 0);
    scene.sim.config.site.tariff.civil = (struct civil){7200, 1, back};
    scene.now.wall_s = wall_s;
    scene.sim.space.rules.first_day = lightday_of(&scene.sim.space.rules.day, wall_s);
    run(2 * 3600);
    ask_minute("2026-10-25T02:30+02:00");
    assert_string_equal(text_of(answer, "time"), "2026-10-25T01:30:00+01:00");
    assert_string_equal(text_of(answer, "wall_clock"), "2026-10-25T02:30:59+02:00");
    ask_minute("2026-10-25T02:30+01:00");
    assert_string_equal(text_of(answer, "time"), "2026-10-25T02:30:00+01:00");
    assert_string_equal(text_of(answer, "wall_clock"), ""); /* the same as the site's */
    ask_minute("02:30");
    assert_string_equal(text_of(answer, "time"), "2026-10-25T02:30:00+01:00");
}

static void minutes_of_before(void **state)
{
    (void)state;
    struct err err = {""};
    run(180);
    assert_true(journal_flush(bed.journal, 20));
    bed_run(&bed, "UPDATE minute SET chain = NULL");
    ask_minute(NULL);
    assert_string_equal(text_of(answer, "note"),
                        "this minute was stored before the chain was kept");
    contains(answer, "sentence", "ruled longest by: ");
    assert_null(json_object_get(answer, "rules"));
    bed_run(&bed, "UPDATE minute SET chain = 'rubbish'");
    assert_int_equal(ask_journal(NULL, &err), -EILSEQ);
    assert_non_null(strstr(err.text, "damaged"));
}

static void all_spaces_of_the_daemon(void **state)
{
    (void)state;
    run(60);
    ask_now();
    json_t *all = why_picture(&picture, -1);
    assert_int_equal(json_array_size(json_object_get(all, "spaces")), 1);
    json_decref(all);
    picture.is_ready = false;
    all = why_picture(&picture, -1);
    assert_int_equal(json_array_size(json_object_get(all, "spaces")), 0);
    assert_true(json_is_false(json_object_get(all, "is_ready")));
    json_decref(all);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_hot_fixture, begin, end),
        cmocka_unit_test_setup_teardown(the_night, begin, end),
        cmocka_unit_test_setup_teardown(sentences, begin, end),
        cmocka_unit_test_setup_teardown(minutes_that_are_not_there, begin, end),
        cmocka_unit_test_setup_teardown(a_doubled_hour_is_told_apart, begin, end),
        cmocka_unit_test_setup_teardown(minutes_of_before, begin, end),
        cmocka_unit_test_setup_teardown(all_spaces_of_the_daemon, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
