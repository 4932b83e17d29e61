/* SPDX-License-Identifier: Apache-2.0 */
/* From ticks to rows: what a minute comes to, when days are put, what happens to events. */
#include "recorder.h"

#include "journal_bed.h"
#include "journal_read.h"
#include "near.h"
#include "scene.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define ROWS_MAX 64

static struct bed bed;
static struct scene scene;
static struct recorder recorder;
static const struct recorder_air air = {{21.5, 1, READING_GOOD}, {63, 1, READING_GOOD}};

static struct {
    int minute_count, event_count, day_count;
    struct journal_minute minutes[ROWS_MAX];
    struct journal_event events[ROWS_MAX];
    struct journal_day days[ROWS_MAX];
} rows;

static void begin_at(int32_t second)
{
    bed_make(&bed);
    bed_open(&bed);
    scene_begin(&scene, 2, second);
    recorder_init(&recorder, &scene.sim.config, 0, scene.now.wall_s);
}

static int end(void **state)
{
    (void)state;
    bed_remove(&bed);
    return 0;
}

static void record(double dt_s)
{
    recorder_tick(&recorder, bed.journal,
                  &(struct recorder_tick){.now = &scene.now,
                                          .air = &air,
                                          .state = &scene.state,
                                          .verdict = &scene.verdict,
                                          .dt_s = dt_s});
}

static void run(int ticks)
{
    for (int i = 0; i < ticks; i++) {
        scene_tick(&scene, 1);
        record(1);
    }
}

static int keep_minute(const struct journal_minute *row, void *context)
{
    (void)context;
    assert_true(rows.minute_count < ROWS_MAX);
    rows.minutes[rows.minute_count++] = *row;
    return 0;
}

static int keep_event(const struct journal_event *row, void *context)
{
    (void)context;
    assert_true(rows.event_count < ROWS_MAX);
    rows.events[rows.event_count++] = *row;
    return 0;
}

static int keep_day(const struct journal_day *row, void *context)
{
    (void)context;
    assert_true(rows.day_count < ROWS_MAX);
    rows.days[rows.day_count++] = *row;
    return 0;
}

static void look(void)
{
    const struct journal_range all = {NULL, INT64_MIN, INT64_MAX};
    struct journal_reader *reader = NULL;
    memset(&rows, 0, sizeof rows);
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(journal_reader_open(bed.path, &reader, NULL), 0);
    assert_int_equal(journal_read_minutes(reader, &all, keep_minute, NULL, NULL), 0);
    assert_int_equal(journal_read_events(reader, &all, keep_event, NULL, NULL), 0);
    assert_int_equal(journal_read_days(reader, &all, keep_day, NULL, NULL), 0);
    journal_reader_close(reader);
}

static const struct journal_event *find_event(enum core_event kind)
{
    for (int i = 0; i < rows.event_count; i++) {
        if (strcmp(rows.events[i].kind, decide_event_name(kind)) == 0) {
            return &rows.events[i];
        }
    }
    return NULL;
}

/* Noon: constant light. Rows stand at full minutes, also the first one, which was half a minute. */
static void minutes_are_those_of_the_clock(void **state)
{
    (void)state;
    begin_at(11 * 3600 + 30);
    scene_run(&scene, 3600); /* lit and steady, unrecorded */
    scene_ppfd(&scene, 300);
    run(30 + 60 + 60 + 1);
    look();
    assert_int_equal(rows.minute_count, 3);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(rows.minutes[i].wall_s % 60, 0);
        assert_int_equal(rows.minutes[i].wall_s, rows.minutes[0].wall_s + 60 * i);
        assert_string_equal(rows.minutes[i].space, scene.sim.space.name);
        assert_int_equal(rows.minutes[i].light_day, SIM_DAY);
        assert_near(rows.minutes[i].air_c, 21.5, 1e-9);
        assert_near(rows.minutes[i].humidity_percent, 63, 1e-9);
        assert_near(rows.minutes[i].heatsink_c, 40, 1e-9);
        assert_true(isnan(rows.minutes[i].night_dose_umol_m2)); /* it is no night */
    }
    assert_near(rows.minutes[2].level, scene.verdict.level, 0.01);
    assert_near(rows.minutes[2].watts, scene.verdict.watts, 0.02 * scene.verdict.watts);
    assert_near(rows.minutes[2].target_mol, 13, 1e-9);
    assert_true(rows.minutes[2].delivered_mol > rows.minutes[1].delivered_mol);
    assert_int_equal(rows.minutes[2].quality, READING_GOOD);
}

/* The median of a minute is not moved by a flash; the maximum of the heatsink is. */
static void median_and_maximum(void **state)
{
    (void)state;
    begin_at(12 * 3600);
    for (int i = 0; i < 61; i++) {
        scene_tick(&scene, 1);
        scene.now.ppfd =
            (struct reading){i == 20 ? 3000 : 100 + i, scene.now.boot_ns, READING_GOOD};
        scene.now.fixtures[1].heat =
            (struct reading){i == 30 ? 71.5 : 40, scene.now.boot_ns, READING_GOOD};
        if (i == 40) {
            scene.now.ppfd.quality = READING_SUSPECT;
            scene.now.ppfd.value = 5000;
        }
        record(1);
    }
    look();
    assert_int_equal(rows.minute_count, 1);
    assert_near(rows.minutes[0].ppfd_umol, 130, 2);
    assert_near(rows.minutes[0].heatsink_c, 71.5, 1e-9);
    assert_int_equal(rows.minutes[0].quality, READING_SUSPECT);
}

/* More ticks than samples fit: the median still speaks for the whole minute. */
static void fast_ticks(void **state)
{
    (void)state;
    begin_at(12 * 3600);
    const int64_t begin_s = scene.now.wall_s;
    for (int i = 0; i < 601; i++) {
        scene_tick(&scene, 0.1);
        scene.now.wall_s = begin_s + i / 10; /* the scene counts whole seconds only */
        scene.now.ppfd = (struct reading){i, scene.now.boot_ns, READING_GOOD};
        record(0.1);
    }
    look();
    assert_int_equal(rows.minute_count, 1);
    assert_near(rows.minutes[0].ppfd_umol, 300, 15);
}

/* The limiter of a row is the one that ruled longest; at equal times the stronger one. */
static void longest_limiter(void **state)
{
    (void)state;
    static const struct {
        int heat_s, plan_s;
        enum limiter expected;
    } cases[] = {{31, 29, LIMITER_HEAT}, {29, 31, LIMITER_PLAN}, {30, 30, LIMITER_HEAT}};
    begin_at(12 * 3600);
    for (size_t c = 0; c < 3; c++) {
        for (int i = 0; i < cases[c].heat_s + cases[c].plan_s; i++) {
            scene_tick(&scene, 1);
            scene.now.wall_s = BED_WALL_S + 60 * (int64_t)c + i;
            scene.verdict.limiter = i < cases[c].heat_s ? LIMITER_HEAT : LIMITER_PLAN;
            record(1);
        }
    }
    recorder_finish(&recorder, bed.journal, &scene.state, scene.now.wall_s);
    look();
    assert_int_equal(rows.minute_count, 3);
    for (size_t c = 0; c < 3; c++) {
        assert_int_equal(rows.minutes[c].limiter, cases[c].expected);
    }
}

/* Set back by an hour: the minutes come again and stand as they were seen last. Forward: a hole. */
static void clock_steps(void **state)
{
    (void)state;
    begin_at(12 * 3600);
    run(120);
    const int64_t before_s = scene.now.wall_s;
    scene.now.wall_s = before_s - 120;
    scene_ppfd(&scene, 77);
    run(120);
    scene.now.wall_s += 7200;
    run(60);
    recorder_finish(&recorder, bed.journal, &scene.state, scene.now.wall_s);
    look();
    int seen = 0;
    for (int i = 0; i < rows.minute_count; i++) {
        if (i > 0) {
            assert_true(rows.minutes[i].wall_s > rows.minutes[i - 1].wall_s);
        }
        seen += fabs(rows.minutes[i].ppfd_umol - 77) < 1e-9;
    }
    assert_true(rows.minute_count >= 3 && rows.minute_count <= 5);
    assert_true(seen >= 3);
    assert_true(rows.minutes[rows.minute_count - 1].wall_s >= before_s + 7000);
}

/* Without a clock to trust there are no minutes; events carry the last sure time. */
static void no_time_no_minutes(void **state)
{
    (void)state;
    begin_at(12 * 3600);
    run(60);
    const int64_t sure_s = scene.now.wall_s;
    scene.now.clock = CLOCK_UNTRUSTED;
    scene.now.wall_s = 1000;
    run(300);
    look();
    const struct journal_event *event = find_event(EVENT_CLOCK_UNTRUSTED);
    assert_non_null(event);
    assert_int_equal(event->class, JOURNAL_ALARM);
    assert_int_equal(event->wall_s, sure_s);
    assert_true(rows.minute_count <= 2);
    for (int i = 0; i < rows.minute_count; i++) {
        assert_true(rows.minutes[i].wall_s > 1000000);
    }
}

/* A board's clock that starts far ahead must not leave an entry there: every later start under an
 * unsynchronised clock would then be earlier than the journal's latest entry. */
static void a_clock_ahead_leaves_no_entry_there(void **state)
{
    (void)state;
    begin_at(12 * 3600);
    const int64_t sure_s = scene.now.wall_s;
    scene.now.clock = CLOCK_UNTRUSTED;
    scene.now.wall_s = 4102444800; /* 2100-01-01 */
    run(120);
    look();
    const struct journal_event *event = find_event(EVENT_CLOCK_UNTRUSTED);
    assert_non_null(event);
    assert_int_equal(event->wall_s, sure_s);
    assert_int_equal(rows.minute_count, 0);
}

/* The running day is put at once, a minute after something happened, every ten minutes and at the
 * end; a closed one as closed. */
static void days_are_put(void **state)
{
    (void)state;
    begin_at(23 * 3600 + 30 * 60);
    run(1);
    look();
    assert_int_equal(rows.day_count, 1);
    assert_false(rows.days[0].is_closed);
    run(100); /* the first tick had events */
    look();
    const double before_s = rows.days[0].summary.integral.measured_s;
    assert_near(before_s, 60, 1.5);
    run(400);
    look();
    assert_near(rows.days[0].summary.integral.measured_s, before_s, 0);
    run(200);
    look();
    assert_true(rows.days[0].summary.integral.measured_s > before_s + 500);
    run(1200);
    look();
    assert_int_equal(rows.day_count, 2);
    assert_true(rows.days[0].is_closed);
    assert_int_equal(rows.days[0].summary.light_day, SIM_DAY);
    assert_int_equal(rows.days[0].utc_offset_s, 3600);
    assert_int_equal(rows.days[0].begin_s, SIM_DAY * INT64_C(86400) - 3600);
    assert_string_equal(rows.days[0].stage, scene.sim.stages[0].name);
    assert_false(rows.days[1].is_closed);
    assert_int_equal(rows.days[1].summary.light_day, SIM_DAY + 1);
    const double kept_s = rows.days[1].summary.integral.measured_s;
    run(30);
    recorder_finish(&recorder, bed.journal, &scene.state, scene.now.wall_s);
    look();
    assert_true(rows.days[1].summary.integral.measured_s > kept_s);
    assert_non_null(find_event(EVENT_DAY_ENDS));
    /* every row belongs to the light day of its own time */
    for (int i = 0; i < rows.minute_count; i++) {
        assert_int_equal(rows.minutes[i].light_day, (rows.minutes[i].wall_s + 3600) / 86400);
    }
}

/* A stop in the middle of a minute: what there is of it is stored. */
static void stop_in_a_minute(void **state)
{
    (void)state;
    begin_at(12 * 3600);
    run(20);
    recorder_finish(&recorder, bed.journal, &scene.state, scene.now.wall_s);
    look();
    assert_int_equal(rows.minute_count, 1);
    recorder_finish(&recorder, bed.journal, &scene.state, scene.now.wall_s); /* twice is harmless */
    look();
    assert_int_equal(rows.minute_count, 1);
}

/* A minute keeps the chain of its last second, or of its first where a stop came between. */
static void minutes_keep_their_last_second(void **state)
{
    (void)state;
    struct moment moment;
    begin_at(12 * 3600);
    scene_run(&scene, 3600);
    while (scene.now.wall_s % 60 != 59) {
        scene_tick(&scene, 1);
    }
    run(60);
    const double asked = scene.verdict.asked;
    scene_heat(&scene, 1, 75); /* hot from the first second of the next minute on */
    run(31);
    recorder_finish(&recorder, bed.journal, &scene.state, scene.now.wall_s);
    look();
    assert_int_equal(rows.minute_count, 2);
    for (int i = 0; i < 2; i++) {
        assert_int_equal(moment_read(rows.minutes[i].chain, rows.minutes[i].wall_s, &moment, NULL),
                         0);
        assert_int_equal(moment.fixture_count, 2);
        assert_int_equal(moment.wall_s - rows.minutes[i].wall_s, i == 0 ? 59 : 0);
        assert_int_equal(moment.limiter, LIMITER_PLAN);
        assert_near(moment.chain.rules.allowed[LIMITER_PLAN], asked, 1e-3);
        assert_near(moment.fixtures[1].heat.value, i == 0 ? 40 : 75, 1e-9);
    }
}

/* 5 µmol m⁻² s⁻¹ in a dark night: 300 µmol m⁻² a minute, and no end of it. */
static void minutes_keep_what_the_guard_counted(void **state)
{
    (void)state;
    begin_at(2 * 3600);
    scene_run(&scene, 60);
    run(60);
    scene_ppfd(&scene, 5);
    run(120);
    recorder_finish(&recorder, bed.journal, &scene.state, scene.now.wall_s);
    look();
    assert_true(rows.minute_count >= 3);
    const struct journal_minute *last = &rows.minutes[2];
    assert_near(rows.minutes[0].night_dose_umol_m2, 0, 1e-9);
    assert_near(last->night_dose_umol_m2 - last[-1].night_dose_umol_m2, 300, 1e-6);
    assert_near(last->night_longest_s - last[-1].night_longest_s, 60, 1e-6);
    assert_near(last->night_possible_umol_m2, 0, 1e-9);
}

static void events_carry_names(void **state)
{
    (void)state;
    begin_at(12 * 3600);
    const struct decide_event event = {.kind = EVENT_HEAT_TRIP, .fixture = 1, .a = 82.4, .b = 80};
    struct journal_event record_of;
    recorder_event(&scene.sim.config, 0, &event, 12345, SIM_DAY, &record_of);
    assert_string_equal(record_of.space, scene.sim.space.name);
    assert_string_equal(record_of.fixture, scene.sim.fixtures[1].name);
    assert_string_equal(record_of.kind, "heat-trip");
    assert_int_equal(record_of.class, JOURNAL_ALARM);
    assert_near(record_of.a, 82.4, 0);
    assert_non_null(strstr(record_of.text, "82.4 °C"));
    assert_non_null(strstr(record_of.text, scene.sim.fixtures[1].name));
    scene.verdict.events_dropped = 3;
    scene_tick(&scene, 1);
    scene.verdict.events_dropped = 3;
    record(1);
    look();
    int left_out = 0;
    for (int i = 0; i < rows.event_count; i++) {
        left_out += strcmp(rows.events[i].kind, "events-left-out") == 0;
    }
    assert_int_equal(left_out, 1);
}

static void without_a_journal(void **state)
{
    (void)state;
    begin_at(12 * 3600);
    recorder_tick(&recorder, NULL, &(struct recorder_tick){.now = &scene.now});
    recorder_finish(&recorder, NULL, &scene.state, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(minutes_are_those_of_the_clock, end),
        cmocka_unit_test_teardown(median_and_maximum, end),
        cmocka_unit_test_teardown(fast_ticks, end),
        cmocka_unit_test_teardown(longest_limiter, end),
        cmocka_unit_test_teardown(clock_steps, end),
        cmocka_unit_test_teardown(no_time_no_minutes, end),
        cmocka_unit_test_teardown(a_clock_ahead_leaves_no_entry_there, end),
        cmocka_unit_test_teardown(days_are_put, end),
        cmocka_unit_test_teardown(stop_in_a_minute, end),
        cmocka_unit_test_teardown(minutes_keep_their_last_second, end),
        cmocka_unit_test_teardown(minutes_keep_what_the_guard_counted, end),
        cmocka_unit_test_teardown(events_carry_names, end),
        cmocka_unit_test_teardown(without_a_journal, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
