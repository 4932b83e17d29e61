/* SPDX-License-Identifier: Apache-2.0 */
/* The metrics of a picture that is made by hand, read as the exposition format describes them. */
#include "metrics.h"

#include "scene.h"
#include "units.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct scene scene;
static struct picture_space space;
static struct picture_sensor sensors[8];
static struct outputs_view outputs[8];
static struct mailbox_health buses[1];
static struct picture picture;
static char *text;

static int begin(void **state)
{
    (void)state;
    scene_begin(&scene, 2, 12 * 3600);
    scene_run(&scene, 300);
    (void)strcpy(scene.sim.space.name, "lettuce");
    (void)strcpy(scene.sim.bus.name, "bench");
    space = (struct picture_space){.now = scene.now,
                                   .state = scene.state,
                                   .verdict = scene.verdict,
                                   .air = {READING_NONE, READING_NONE}};
    picture = (struct picture){.config = &scene.sim.config,
                               .is_ready = true,
                               .wall_ns = scene.now.wall_s * UNITS_NS_PER_S,
                               .boot_ns = scene.now.boot_ns,
                               .started_ns = scene.now.boot_ns - 5 * UNITS_NS_PER_S,
                               .spaces = &space,
                               .sensors = sensors,
                               .outputs = outputs,
                               .buses = buses};
    for (size_t i = 0; i < sizeof sensors / sizeof sensors[0]; i++) {
        sensors[i].reading = (struct reading){20 + (double)i, 1, READING_GOOD};
    }
    return 0;
}

static int end(void **state)
{
    (void)state;
    free(text);
    text = NULL;
    return 0;
}

static bool has_line(const char *line)
{
    const size_t length = strlen(line);
    for (const char *at = text; at; at = strchr(at, '\n')) {
        at += *at == '\n';
        if (strncmp(at, line, length) == 0 && at[length] == '\n') {
            return true;
        }
    }
    return false;
}

static int count_of(const char *what)
{
    int count = 0;
    for (const char *at = strstr(text, what); at; at = strstr(at + 1, what)) {
        count++;
    }
    return count;
}

static void one_limiter_holds(void **state)
{
    (void)state;
    space.verdict.limiter = LIMITER_HEAT;
    text = metrics_text(&picture);
    assert_true(has_line("lampwarden_space_limiter{space=\"lettuce\",limiter=\"heat\"} 1"));
    assert_true(has_line("lampwarden_space_limiter{space=\"lettuce\",limiter=\"plan\"} 0"));
    assert_int_equal(count_of("\nlampwarden_space_limiter{"), LIMITER_COUNT);
}

static void base_units(void **state)
{
    (void)state;
    space.verdict.lamp_umol = 250;
    space.state.night_dose = 1000;
    space.air.humidity = (struct reading){60, 1, READING_GOOD};
    space.tally.energy_j = 7.2e6;
    text = metrics_text(&picture);
    assert_true(has_line(
        "lampwarden_space_lamp_ppfd_moles_per_square_meter_second{space=\"lettuce\"} 0.00025"));
    assert_true(
        has_line("lampwarden_space_night_dose_moles_per_square_meter{space=\"lettuce\"} 0.001"));
    assert_true(has_line("lampwarden_space_relative_humidity_ratio{space=\"lettuce\"} 0.6"));
    assert_true(has_line("lampwarden_space_energy_joules_total{space=\"lettuce\"} 7200000"));
    assert_true(has_line("lampwarden_uptime_seconds 5"));
}

static void what_is_not_known_is_left_out(void **state)
{
    (void)state;
    sensors[0].reading = READING_NONE;
    text = metrics_text(&picture);
    assert_null(strstr(text, "nan"));
    assert_null(strstr(text, "NaN"));
    assert_int_equal(count_of("\nlampwarden_sensor_ppfd_"), 0);
    assert_int_equal(count_of("\nlampwarden_space_air_celsius{"), 0);
    assert_int_equal(count_of("\nlampwarden_journal_size_bytes "), 0); /* it has none */
    assert_int_equal(count_of("quality=\"lost\"} 1"), 1);
    assert_true(has_line("lampwarden_journal_state{state=\"off\"} 1"));
}

static void before_it_is_ready_nothing_is_said_of_spaces(void **state)
{
    (void)state;
    picture.is_ready = false;
    text = metrics_text(&picture);
    assert_true(has_line("lampwarden_ready 0"));
    assert_int_equal(count_of("space=\""), 0);
}

/* Escaped as the format asks: backslash, quote, newline; what is no UTF-8 becomes "?". */
static void labels_are_escaped(void **state)
{
    (void)state;
    (void)strcpy(scene.sim.space.name, "a\"b\\c\nd\xff\xc3\xa9");
    text = metrics_text(&picture);
    assert_true(has_line("lampwarden_space_lit{space=\"a\\\"b\\\\c\\nd?\xc3\xa9\"} 1"));
}

static void fixtures_by_space_and_name(void **state)
{
    (void)state;
    space.tally.fixtures[1].heat_trips = 4;
    space.state.fixtures[1].heat.is_latched = true;
    text = metrics_text(&picture);
    assert_true(
        has_line("lampwarden_fixture_heat_trips_total{space=\"lettuce\",fixture=\"fixture 1\"} 4"));
    assert_true(
        has_line("lampwarden_fixture_heat_latched{space=\"lettuce\",fixture=\"fixture 0\"} 0"));
    assert_true(
        has_line("lampwarden_fixture_heat_latched{space=\"lettuce\",fixture=\"fixture 1\"} 1"));
}

/* Every family: HELP, TYPE, then samples of that name alone; none twice; a counter alone ends in
 * _total (prometheus.io/docs/instrumenting/exposition_formats and /docs/practices/naming). */
static void the_format(void **state)
{
    (void)state;
    char family[128] = "";
    char type[16] = "";
    int families = 0;
    text = metrics_text(&picture);
    char *copy = strdup(text);
    for (char *line = strtok(copy, "\n"); line; line = strtok(NULL, "\n")) {
        char name[128];
        if (sscanf(line, "# HELP %127s", name) == 1) {
            char again[160];
            (void)snprintf(again, sizeof again, "# HELP %s ", name);
            assert_int_equal(count_of(again), 1);
            (void)snprintf(family, sizeof family, "%s", name);
            families++;
        } else if (sscanf(line, "# TYPE %127s %15s", name, type) == 2) {
            assert_string_equal(name, family);
            const size_t length = strlen(name);
            const bool is_total = length > 6 && strcmp(name + length - 6, "_total") == 0;
            assert_int_equal(is_total, strcmp(type, "counter") == 0);
        } else {
            name[strcspn(line, "{ ")] = '\0';
            memcpy(name, line, strcspn(line, "{ "));
            assert_string_equal(name, family);
            assert_non_null(strrchr(line, ' '));
            char *rest = NULL;
            (void)strtod(strrchr(line, ' ') + 1, &rest);
            assert_string_equal(rest, "");
        }
    }
    free(copy);
    assert_true(families > 60);
    assert_int_equal(text[strlen(text) - 1], '\n');
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(one_limiter_holds, begin, end),
        cmocka_unit_test_setup_teardown(base_units, begin, end),
        cmocka_unit_test_setup_teardown(what_is_not_known_is_left_out, begin, end),
        cmocka_unit_test_setup_teardown(before_it_is_ready_nothing_is_said_of_spaces, begin, end),
        cmocka_unit_test_setup_teardown(labels_are_escaped, begin, end),
        cmocka_unit_test_setup_teardown(fixtures_by_space_and_name, begin, end),
        cmocka_unit_test_setup_teardown(the_format, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
