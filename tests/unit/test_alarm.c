/* SPDX-License-Identifier: Apache-2.0 */
/* Commands for events against programs that behave badly. */
#include "alarm.h"

#include "announce.h"
#include "alarm_words.h"
#include "clock.h"
#include "err.h"

#include <errno.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[64];
static char said[160], program[160];
static const char *command[4];
static const char *no_kinds[1];
static struct config_alarm rules;
static struct config config;
static struct alarms *alarms;
static const struct journal_event heat = {.space = "lettuce",
                                          .fixture = "bar",
                                          .wall_s = 1795600000,
                                          .class = JOURNAL_ALARM,
                                          .kind = "heat-trip",
                                          .text = "81 °C; off `id` $(id) \"quoted\""};

static int begin(void **state)
{
    (void)state;
    (void)strcpy(folder, "/tmp/test_alarm.XXXXXX");
    assert_non_null(mkdtemp(folder));
    (void)snprintf(said, sizeof said, "%s/said", folder);
    (void)snprintf(program, sizeof program, "%s/program", folder);
    command[0] = program;
    command[1] = command[2] = command[3] = NULL;
    rules = (struct config_alarm){.name = "siren",
                                  .command = command,
                                  .kinds = no_kinds,
                                  .class = JOURNAL_ALARM,
                                  .per_hour = 100,
                                  .limit_s = 20};
    config = (struct config){.alarms = &rules, .alarm_count = 1, .site.name = "Room (invented)"};
    alarms = NULL;
    return 0;
}

static int end(void **state)
{
    (void)state;
    alarms_close(alarms, 0);
    (void)unlink(said);
    (void)unlink(program);
    assert_int_equal(rmdir(folder), 0);
    return 0;
}

/* A shell script of these lines, whatever happened to it; $said is a file. */
static void write_program(const char *lines)
{
    FILE *file = fopen(program, "w");
    assert_non_null(file);
    (void)fprintf(file, "#!/bin/sh\nsaid=%s\n%s\n", said, lines);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(chmod(program, 0700), 0);
}

static void open_alarms(void)
{
    struct err err = {""};
    const struct alarms_setup setup = {&config, 0};
    assert_int_equal(alarms_open(&setup, &alarms, &err), 0);
}

static uint64_t all_runs(const struct alarm_view *view)
{
    uint64_t runs = 0;
    for (int i = 0; i < ALARM_OUTCOMES; i++) {
        runs += view->runs[i];
    }
    return runs;
}

/* Waits until so many runs have ended. */
static struct alarm_view after_runs(uint64_t runs)
{
    struct alarm_view view;
    const int64_t until_ns = clock_real_ns() + 20 * CLOCK_NS_PER_S;
    for (alarms_look(alarms, 0, &view); all_runs(&view) < runs; alarms_look(alarms, 0, &view)) {
        assert_true(clock_real_ns() < until_ns);
        (void)clock_sleep_until_real(clock_real_ns() + 5 * CLOCK_NS_PER_MS, NULL);
    }
    return view;
}

static void read_said(char *buffer, size_t size)
{
    FILE *file = fopen(said, "r");
    assert_non_null(file);
    buffer[fread(buffer, 1, size - 1, file)] = '\0';
    (void)fclose(file);
}

static void it_is_told_all_and_nothing_is_read_by_a_shell(void **state)
{
    (void)state;
    char text[2048];
    command[1] = "subject: {text}, {kind} of {space}";
    command[2] = "{unknown} $HOME";
    (void)setenv("SECRET", "of the daemon", 1);
    const int stray = dup(STDERR_FILENO); /* without close-on-exec */
    assert_true(stray > STDERR_FILENO);
    write_program("{ printf '%s\\n' \"$1\" \"$2\"; cat; env; ls -l /proc/$$/fd; } > $said");
    open_alarms();
    alarms_note(alarms, &heat);
    const struct alarm_view view = after_runs(1);
    assert_int_equal(view.runs[ALARM_DONE], 1);
    read_said(text, sizeof text);
    assert_non_null(strstr(text, "subject: 81 °C; off `id` $(id) \"quoted\", heat-trip of lettuce\n"
                                 "{unknown} $HOME\n"));
    assert_non_null(strstr(text, "alarm: Room (invented), 2026-11-25T09:46:40+00:00\n"
                                 "lettuce, bar: 81 °C; off `id` $(id) \"quoted\"\n"));
    assert_non_null(strstr(text, "\nLAMPWARDEN_EVENT=heat-trip\n"));
    assert_non_null(strstr(text, "\nLAMPWARDEN_FIXTURE=bar\n"));
    assert_non_null(strstr(text, "\nLAMPWARDEN_HELD_BACK=0\n"));
    assert_null(strstr(text, "SECRET"));
    int descriptors = 0; /* its own three, the file of its output, and what the shell reads */
    for (const char *at = strstr(text, " -> "); at; at = strstr(at + 1, " -> ")) {
        descriptors++;
    }
    assert_in_range(descriptors, 4, 5);
    (void)close(stray);
    assert_null(strstr(text, "DEMONSTRATION"));
}

static void class_and_kinds_choose(void **state)
{
    (void)state;
    struct journal_event notice = heat;
    static const char *const two[] = {"bus-lost", "reload", NULL};
    notice.class = JOURNAL_NOTICE;
    write_program("exit 0");
    open_alarms();
    alarms_note(alarms, &notice);
    alarms_note(alarms, &heat);
    (void)after_runs(1);
    alarms_close(alarms, 5);
    rules.kinds = two;
    open_alarms();
    alarms_note(alarms, &heat);
    (void)strcpy(notice.kind, "reload");
    alarms_note(alarms, &notice);
    const struct alarm_view view = after_runs(1);
    assert_int_equal(all_runs(&view), 1);
    assert_int_equal(view.held_back, 0);
}

/* The newest of what was held back waits for the hour; how many there were is counted. */
static void the_hour_is_kept(void **state)
{
    (void)state;
    char text[256];
    rules.per_hour = 2;
    write_program("sleep 0.1; echo $LAMPWARDEN_HELD_BACK >> $said");
    open_alarms();
    for (int i = 0; i < 30; i++) {
        alarms_note(alarms, &heat);
    }
    struct alarm_view view = after_runs(2);
    const int64_t until_ns = clock_real_ns() + 10 * CLOCK_NS_PER_S;
    while (view.held_back < 27) {
        assert_true(clock_real_ns() < until_ns);
        (void)clock_sleep_until_real(clock_real_ns() + 5 * CLOCK_NS_PER_MS, NULL);
        alarms_look(alarms, 0, &view);
    }
    assert_int_equal(all_runs(&view), 2);
    assert_int_equal(view.held_back, 27); /* 30 less two told, less the newest, which waits */
    read_said(text, sizeof text);
    int first = -1;
    int second = -1;
    assert_int_equal(sscanf(text, "%d %d", &first, &second), 2);
    assert_true(first + second <= 27);
    assert_true(first + second >= 30 - 2 - ALARM_QUEUE_MAX);
}

static void a_hanging_one_is_killed_with_its_children(void **state)
{
    (void)state;
    char text[64];
    rules.limit_s = 0.3;
    write_program("trap '' TERM INT; sleep 300 & echo $! > $said; while :; do sleep 300; done");
    open_alarms();
    const int64_t begun_ns = clock_real_ns();
    alarms_note(alarms, &heat);
    alarms_note(alarms, &heat); /* waits its turn: they do not pile up */
    const struct alarm_view view = after_runs(1);
    assert_int_equal(view.runs[ALARM_LATE], 1);
    assert_true(view.is_failing);
    assert_true(clock_real_ns() - begun_ns >= 200 * CLOCK_NS_PER_MS);
    read_said(text, sizeof text);
    const pid_t child = atoi(text);
    assert_true(child > 1);
    (void)after_runs(2);
    const int64_t until_ns = clock_real_ns() + 5 * CLOCK_NS_PER_S;
    while (kill(child, 0) == 0) { /* a zombie of init's, for a moment */
        assert_true(clock_real_ns() < until_ns);
        char path[64];
        (void)snprintf(path, sizeof path, "/proc/%d/stat", child);
        FILE *file = fopen(path, "r");
        char letter = 'Z';
        if (file) {
            (void)fscanf(file, "%*d %*s %c", &letter);
            (void)fclose(file);
        }
        if (letter == 'Z') {
            break;
        }
        (void)clock_sleep_until_real(clock_real_ns() + 5 * CLOCK_NS_PER_MS, NULL);
    }
}

static void a_flood_is_thrown_away(void **state)
{
    (void)state;
    rules.limit_s = 20;
    write_program(
        "echo first of it >&2; head -c 3000000 /dev/zero >&2; head -c 3000000 /dev/zero; exit 3");
    open_alarms();
    alarms_note(alarms, &heat);
    const struct alarm_view view = after_runs(1);
    assert_int_equal(view.runs[ALARM_FAILED], 1);
    assert_string_equal(view.last.reason, "exit code 3: first of it");
}

/* A program's error output is one that waits, as everybody expects of it: what it writes faster
 * than it is read is no error of the program's. */
static void much_error_output_is_no_failure(void **state)
{
    (void)state;
    write_program("head -c 3000000 /dev/zero >&2");
    open_alarms();
    alarms_note(alarms, &heat);
    const struct alarm_view view = after_runs(1);
    assert_string_equal(view.last.reason, "");
    assert_int_equal(view.last.outcome, ALARM_DONE);
}

/* Whoever started the daemon may have left SIGCHLD ignored; then nobody says how a child ended. */
static void an_end_that_nobody_saw_is_no_success(void **state)
{
    (void)state;
    write_program("exit 0");
    (void)signal(SIGCHLD, SIG_IGN);
    open_alarms();
    alarms_note(alarms, &heat);
    const struct alarm_view view = after_runs(1);
    (void)signal(SIGCHLD, SIG_DFL);
    assert_int_equal(view.last.outcome, ALARM_FAILED);
    assert_string_equal(view.last.reason, "how it ended is not known");
}

static void what_cannot_begin_is_said(void **state)
{
    (void)state;
    struct alarm_view view;
    open_alarms(); /* there is no such file */
    alarms_note(alarms, &heat);
    view = after_runs(1);
    assert_int_equal(view.runs[ALARM_NOT_BEGUN], 1);
    assert_non_null(strstr(view.last.reason, "No such file or directory"));
    write_program("exit 0");
    assert_int_equal(chmod(program, 0600), 0); /* not executable, for root neither */
    alarms_note(alarms, &heat);
    view = after_runs(2);
    assert_int_equal(view.runs[ALARM_NOT_BEGUN], 2);
    assert_non_null(strstr(view.last.reason, "Permission denied"));
    write_program("kill -SEGV $$");
    alarms_note(alarms, &heat);
    view = after_runs(3);
    assert_string_equal(view.last.reason, "signal 11");
    write_program("exit 0");
    assert_int_equal(alarms_test(alarms, "siren"), 1);
    view = after_runs(4);
    assert_false(view.is_failing);
    assert_int_equal(alarms_test(alarms, "nobody"), -1);
}

/* Nobody who tells an event ever waits for a command, nor for its end. */
static void telling_takes_no_time(void **state)
{
    (void)state;
    write_program("sleep 300");
    open_alarms();
    const int64_t begun_ns = clock_real_ns();
    for (int i = 0; i < 1000; i++) {
        alarms_note(alarms, &heat);
    }
    assert_true(clock_real_ns() - begun_ns < 200 * CLOCK_NS_PER_MS);
    struct err err = {""};
    const struct config none = {.alarm_count = 0};
    assert_int_equal(alarms_change(alarms, &(struct alarms_setup){&none, 0}, &err), 0);
    assert_true(clock_real_ns() - begun_ns < 400 * CLOCK_NS_PER_MS);
    assert_int_equal(alarms_count(alarms), 0);
    alarms_note(NULL, &heat);
}

static void the_same_goes_on_over_a_reload(void **state)
{
    (void)state;
    struct err err = {""};
    const struct alarms_setup setup = {&config, 0};
    write_program("exit 0");
    open_alarms();
    alarms_note(alarms, &heat);
    (void)after_runs(1);
    assert_int_equal(alarms_change(alarms, &setup, &err), 0);
    (void)after_runs(1); /* it counts on */
    rules.per_hour = 3;
    assert_int_equal(alarms_change(alarms, &setup, &err), 0);
    struct alarm_view view;
    alarms_look(alarms, 0, &view);
    assert_int_equal(all_runs(&view), 0);
}

static void too_much_does_not_fit(void **state)
{
    (void)state;
    static char large[ALARM_WORDS_BYTES];
    memset(large, 'x', sizeof large - 1);
    const char *const words[] = {"/bin/true", large, NULL};
    struct alarm_words *filled = malloc(sizeof *filled);
    const struct alarm_message message = {.alarm = "siren", .site = "", .event = &heat};
    assert_int_equal(alarm_words_fill(words, &message, filled), -E2BIG);
    free(filled);
}

static void every_event_has_its_name(void **state)
{
    (void)state;
    for (int i = 0; i < EVENT_KIND_COUNT; i++) {
        assert_true(announce_knows_kind(decide_event_name((enum core_event)i)));
    }
    assert_false(announce_knows_kind("heat"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(it_is_told_all_and_nothing_is_read_by_a_shell, begin, end),
        cmocka_unit_test_setup_teardown(class_and_kinds_choose, begin, end),
        cmocka_unit_test_setup_teardown(the_hour_is_kept, begin, end),
        cmocka_unit_test_setup_teardown(a_hanging_one_is_killed_with_its_children, begin, end),
        cmocka_unit_test_setup_teardown(a_flood_is_thrown_away, begin, end),
        cmocka_unit_test_setup_teardown(much_error_output_is_no_failure, begin, end),
        cmocka_unit_test_setup_teardown(an_end_that_nobody_saw_is_no_success, begin, end),
        cmocka_unit_test_setup_teardown(what_cannot_begin_is_said, begin, end),
        cmocka_unit_test_setup_teardown(telling_takes_no_time, begin, end),
        cmocka_unit_test_setup_teardown(the_same_goes_on_over_a_reload, begin, end),
        cmocka_unit_test(too_much_does_not_fit),
        cmocka_unit_test(every_event_has_its_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
