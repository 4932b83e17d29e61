/* SPDX-License-Identifier: Apache-2.0 */
/* The devices are played by the test: it stands in for channels.c. */
#include "outputs.h"

#include "sim_config.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum { FIXTURES = 2, DIM = 0, CONTACT = 1, DIM_TWO = 2, CONTACT_TWO = 3, OUTPUTS = 4 };
static const int64_t second = 1000000000;

struct channels {
    struct mailbox_health health;
    struct mailbox_output outputs[OUTPUTS];
};

const struct mailbox_output *channels_output(const struct channels *channels, int output)
{
    return &channels->outputs[output];
}

const struct mailbox_health *channels_bus(const struct channels *channels, int bus)
{
    (void)bus;
    return &channels->health;
}

void channels_want(struct channels *channels, int output, double value)
{
    channels->outputs[output].wanted = value;
}

struct rig {
    struct sim_config sim;
    struct channels channels;
    struct outputs *outputs;
    struct verdict verdict;
    struct now now;
    int64_t boot_ns;
    bool obeys[OUTPUTS];
};

static void begin(struct rig *rig)
{
    memset(rig, 0, sizeof *rig);
    sim_config_init(&rig->sim, FIXTURES);
    for (int i = 0; i < OUTPUTS; i++) {
        (void)snprintf(rig->sim.outputs[i].name, CONFIG_NAME_MAX, "output-%d", i);
        rig->channels.outputs[i] = (struct mailbox_output){.wanted = (double)NAN,
                                                           .written = (double)NAN,
                                                           .seen = (double)NAN,
                                                           .error = -EAGAIN,
                                                           .taken_ns = 0};
        rig->obeys[i] = true;
    }
    (void)snprintf(rig->sim.bus.name, CONFIG_NAME_MAX, "shelf");
    rig->boot_ns = 1000 * second;
    assert_int_equal(outputs_create(&rig->sim.config, NULL, &rig->outputs, NULL), 0);
}

static void connect_line(struct rig *rig)
{
    rig->channels.health.is_connected = true;
    rig->channels.health.epoch++;
    for (int i = 0; i < OUTPUTS; i++) {
        rig->channels.outputs[i] = (struct mailbox_output){.wanted = (double)NAN,
                                                           .written = (double)NAN,
                                                           .seen = (double)NAN,
                                                           .error = 0,
                                                           .taken_ns = 0};
    }
}

static void lose_line(struct rig *rig)
{
    rig->channels.health.is_connected = false;
    (void)snprintf(rig->channels.health.reason, sizeof rig->channels.health.reason, "cable cut");
    for (int i = 0; i < OUTPUTS; i++) {
        rig->channels.outputs[i] = (struct mailbox_output){.wanted = (double)NAN,
                                                           .written = (double)NAN,
                                                           .seen = (double)NAN,
                                                           .error = -EIO,
                                                           .taken_ns = 0};
    }
}

/* One second: the devices do as they are told, then the check. */
static void tick(struct rig *rig)
{
    rig->boot_ns += second;
    for (int i = 0; i < OUTPUTS; i++) {
        struct mailbox_output *out = &rig->channels.outputs[i];
        if (rig->channels.health.is_connected && rig->obeys[i] && !isnan(out->wanted)) {
            *out = (struct mailbox_output){.wanted = out->wanted,
                                           .written = out->wanted,
                                           .seen = out->wanted,
                                           .error = 0,
                                           .taken_ns = rig->boot_ns};
        }
    }
    outputs_check(rig->outputs, &rig->channels, rig->boot_ns);
    outputs_fill(rig->outputs, 0, &rig->now);
    outputs_pass(rig->outputs, &rig->channels);
}

static void run(struct rig *rig, int seconds)
{
    for (int i = 0; i < seconds; i++) {
        tick(rig);
    }
}

static void light(struct rig *rig, double drive, bool closed)
{
    for (int i = 0; i < FIXTURES; i++) {
        rig->verdict.fixtures[i].drive = drive;
        rig->verdict.fixtures[i].closed = closed;
    }
    outputs_apply(rig->outputs, 0, &rig->verdict);
    outputs_pass(rig->outputs, &rig->channels);
}

static void begin_obeying(struct rig *rig)
{
    begin(rig);
    connect_line(rig);
    run(rig, 3);
    assert_true(outputs_are_decided(rig->outputs));
    assert_true(outputs_obey(rig->outputs, true));
}

static void verified_or_in_fault_before_ready(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig);
    run(&rig, 3);
    assert_false(outputs_are_decided(rig.outputs)); /* the first connection has time */
    run(&rig, 4);
    assert_true(outputs_are_decided(rig.outputs));
    assert_true(rig.now.fixtures[0].output_fault && rig.now.fixtures[1].output_fault);
    assert_false(outputs_obey(rig.outputs, false));
    struct outputs_news news;
    assert_true(outputs_news(rig.outputs, &news));
    assert_true(news.is_fault && strstr(news.reason, "bus shelf: not connected yet"));
    outputs_destroy(rig.outputs);
    begin_obeying(&rig);
    assert_false(rig.now.fixtures[0].output_fault);
    assert_true(rig.now.fixtures[0].switch_is_seen && !rig.now.fixtures[0].switch_seen_closed);
    outputs_destroy(rig.outputs);
}

static void closes_only_over_a_dim_line(void **state)
{
    (void)state;
    struct rig rig;
    begin_obeying(&rig);
    rig.obeys[DIM] = false; /* its line does not follow */
    rig.channels.outputs[DIM].written = 0.9;
    rig.channels.outputs[DIM].seen = 0.9;
    tick(&rig);
    light(&rig, 0.1, true);
    assert_true(rig.channels.outputs[CONTACT].wanted == 0);
    assert_true(rig.channels.outputs[CONTACT_TWO].wanted == 1); /* 0 is no brighter than 0.1 */
    rig.obeys[DIM] = true;
    tick(&rig);
    light(&rig, 0.1, true);
    assert_true(rig.channels.outputs[CONTACT].wanted == 1);
    rig.channels.outputs[DIM].written = 0.9;
    light(&rig, 0.1, true);
    assert_true(rig.channels.outputs[CONTACT].wanted == 1); /* a closed one is not moved by that */
    light(&rig, 0, false);
    assert_true(rig.channels.outputs[CONTACT].wanted == 0);
    outputs_destroy(rig.outputs);
}

static void read_back_counts(void **state)
{
    (void)state;
    struct rig rig;
    struct outputs_view view;
    begin_obeying(&rig);
    light(&rig, 0.5, true);
    run(&rig, 5);
    assert_true(rig.now.fixtures[0].switch_seen_closed);
    rig.obeys[DIM] = false;
    rig.channels.outputs[DIM] = (struct mailbox_output){
        .wanted = 0.5, .written = 0.5, .seen = 0.505, .error = 0, .taken_ns = rig.boot_ns};
    run(&rig, 4);
    assert_false(rig.now.fixtures[0].output_fault); /* within the tolerance */
    rig.channels.outputs[DIM].seen = 0.42;
    run(&rig, 2);
    assert_false(rig.now.fixtures[0].output_fault);
    run(&rig, 2);
    assert_true(rig.now.fixtures[0].output_fault);
    assert_false(rig.now.fixtures[1].output_fault);
    outputs_look(rig.outputs, DIM, &view);
    assert_true(view.is_fault && view.is_used && !view.obeys);
    assert_true(view.written == 0.5 && view.read_back == 0.42);
    assert_string_equal(view.reason, "reads back 0.42 after 0.5 was written");
    rig.channels.outputs[DIM].seen = (double)NAN; /* a device that cannot be asked is believed */
    run(&rig, 4);
    assert_true(rig.now.fixtures[0].output_fault);
    run(&rig, 3);
    assert_false(rig.now.fixtures[0].output_fault);
    outputs_destroy(rig.outputs);
}

static void errors_and_age_count(void **state)
{
    (void)state;
    struct rig rig;
    begin_obeying(&rig);
    rig.obeys[CONTACT] = false;
    rig.channels.outputs[CONTACT].error = -ETIMEDOUT;
    run(&rig, 4);
    assert_true(rig.now.fixtures[0].output_fault);
    rig.obeys[CONTACT] = true;
    run(&rig, 7);
    assert_false(rig.now.fixtures[0].output_fault);
    rig.obeys[CONTACT] = false; /* never written again, no error either */
    run(&rig, 60);
    assert_false(rig.now.fixtures[0].output_fault);
    run(&rig, 5);
    assert_true(rig.now.fixtures[0].output_fault);
    outputs_destroy(rig.outputs);
}

/* A bus that is slower than the ramp writes old values all the time, and obeys. */
static void a_lagging_bus_is_no_fault(void **state)
{
    (void)state;
    struct rig rig;
    begin_obeying(&rig);
    rig.obeys[DIM] = false;
    for (int i = 0; i < 60; i++) {
        light(&rig, 0.1 + 0.01 * i, true);
        if (i % 3 == 0) {
            struct mailbox_output *out = &rig.channels.outputs[DIM];
            *out = (struct mailbox_output){.wanted = out->wanted,
                                           .written = 0.1 + 0.01 * i,
                                           .seen = 0.1 + 0.01 * i,
                                           .error = 0,
                                           .taken_ns = rig.boot_ns};
        }
        tick(&rig);
        assert_false(rig.now.fixtures[0].output_fault);
    }
    outputs_destroy(rig.outputs);
}

static void a_lost_line_is_a_fault_at_once(void **state)
{
    (void)state;
    struct rig rig;
    begin_obeying(&rig);
    light(&rig, 0.5, true);
    run(&rig, 3);
    lose_line(&rig);
    tick(&rig);
    assert_true(rig.now.fixtures[0].output_fault && rig.now.fixtures[1].output_fault);
    assert_false(rig.now.fixtures[0].switch_is_seen);
    connect_line(&rig);
    light(&rig, 0, false);
    run(&rig, 12);
    assert_false(rig.now.fixtures[0].output_fault);
    /* Lost and found between two ticks: connecting opened the contact all the same. */
    light(&rig, 0.5, true);
    run(&rig, 3);
    lose_line(&rig);
    connect_line(&rig);
    tick(&rig);
    assert_true(rig.now.fixtures[0].output_fault);
    outputs_destroy(rig.outputs);
}

static int seconds_to_recover(struct rig *rig)
{
    lose_line(rig);
    tick(rig);
    assert_true(rig->now.fixtures[0].output_fault);
    connect_line(rig);
    int seconds = 0;
    while (rig->now.fixtures[0].output_fault && seconds < 2000) {
        tick(rig);
        seconds++;
    }
    return seconds;
}

/* An adapter that its own contact knocks off the bus must not make the light flicker. */
static void relapses_take_longer(void **state)
{
    (void)state;
    struct rig rig;
    begin_obeying(&rig);
    int before = seconds_to_recover(&rig);
    assert_in_range(before, 5, 8);
    for (int i = 0; i < 6; i++) {
        int now = seconds_to_recover(&rig);
        assert_in_range(now, 2 * before - 4, 2 * before + 1);
        before = now;
    }
    for (int i = 0; i < 3; i++) {
        before = seconds_to_recover(&rig);
    }
    assert_in_range(before, 600, 603); /* and no longer */
    run(&rig, 601);
    assert_in_range(seconds_to_recover(&rig), 5, 8); /* ten good minutes: forgiven */
    outputs_destroy(rig.outputs);
}

static void safe_in_two_steps(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig);
    rig.sim.rules[0].safe_drive = 0.2;
    outputs_destroy(rig.outputs);
    assert_int_equal(outputs_create(&rig.sim.config, NULL, &rig.outputs, NULL), 0);
    connect_line(&rig);
    run(&rig, 3);
    assert_true(rig.channels.outputs[DIM].written == 0.2);
    light(&rig, 0.7, true);
    run(&rig, 3);
    assert_true(rig.channels.outputs[CONTACT].written == 1);
    outputs_want_safe(rig.outputs, false);
    run(&rig, 2);
    assert_true(rig.channels.outputs[CONTACT].written == 0);
    assert_true(rig.channels.outputs[DIM].written == 0.7);
    assert_true(outputs_obey(rig.outputs, false));
    outputs_want_safe(rig.outputs, true);
    assert_false(outputs_obey(rig.outputs, true));
    run(&rig, 2);
    assert_true(rig.channels.outputs[DIM].written == 0.2);
    assert_true(outputs_obey(rig.outputs, true));
    outputs_destroy(rig.outputs);
}

static void a_reload_keeps_what_stands(void **state)
{
    (void)state;
    struct rig rig;
    struct outputs *fresh = NULL;
    begin_obeying(&rig);
    light(&rig, 0.5, true);
    run(&rig, 3);
    struct sim_config after = rig.sim;
    after.config.spaces = &after.space;
    after.space.rules.fixture_count = 1; /* the second fixture is no longer used */
    assert_int_equal(outputs_create(&after.config, rig.outputs, &fresh, NULL), 0);
    outputs_destroy(rig.outputs);
    rig.outputs = fresh;
    outputs_pass(fresh, &rig.channels);
    assert_true(rig.channels.outputs[CONTACT].wanted == 1);
    assert_true(rig.channels.outputs[CONTACT_TWO].wanted == 0);
    assert_true(rig.channels.outputs[DIM_TWO].wanted == rig.sim.rules[1].safe_drive);
    outputs_destroy(rig.outputs);
}

/* The line goes dark while the lamp is told to go out: whether it did is not known until an opening
 * was taken. A first connection answers the same question about an earlier life. */
static void an_opening_waits_for_its_answer(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig);
    tick(&rig);
    assert_true(rig.now.fixtures[0].opening_unconfirmed);
    connect_line(&rig);
    run(&rig, 2);
    assert_false(rig.now.fixtures[0].opening_unconfirmed);
    rig.verdict.fixtures[0] = (struct fixture_verdict){.level = 0.5, .drive = 0.5, .closed = true};
    outputs_apply(rig.outputs, 0, &rig.verdict);
    tick(&rig);
    assert_true(rig.now.fixtures[0].closing_unconfirmed);
    run(&rig, 2);
    outputs_apply(rig.outputs, 0, &rig.verdict);
    run(&rig, 2);
    assert_true(rig.now.fixtures[0].switch_seen_closed);
    assert_false(rig.now.fixtures[0].closing_unconfirmed);
    assert_false(rig.now.fixtures[0].opening_unconfirmed);
    rig.obeys[CONTACT] = false;
    rig.verdict.fixtures[0] = (struct fixture_verdict){.drive = 0};
    outputs_apply(rig.outputs, 0, &rig.verdict);
    run(&rig, 30);
    assert_true(rig.now.fixtures[0].opening_unconfirmed);
    lose_line(&rig);
    run(&rig, 30);
    assert_true(rig.now.fixtures[0].opening_unconfirmed);
    rig.obeys[CONTACT] = true;
    connect_line(&rig);
    run(&rig, 3);
    assert_false(rig.now.fixtures[0].opening_unconfirmed);
    outputs_destroy(rig.outputs);
}

static void an_output_can_be_looked_at(void **state)
{
    (void)state;
    struct rig rig;
    struct outputs_view view;
    begin(&rig);
    connect_line(&rig);
    rig.verdict.fixtures[0].drive = 0.25;
    outputs_apply(rig.outputs, 0, &rig.verdict);
    run(&rig, 3);
    const int64_t moved_ns = rig.boot_ns;
    rig.verdict.fixtures[0].drive = 0.5;
    outputs_apply(rig.outputs, 0, &rig.verdict);
    run(&rig, 5);
    outputs_look(rig.outputs, DIM, &view);
    assert_true(view.asked == 0.5 && view.written == 0.5 && view.read_back == 0.5);
    assert_true(view.obeys && !view.is_fault);
    assert_true(view.since_ns > moved_ns && view.since_ns < rig.boot_ns);
    assert_string_equal(view.reason, "");
    outputs_destroy(rig.outputs);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_opening_waits_for_its_answer),
        cmocka_unit_test(an_output_can_be_looked_at),
        cmocka_unit_test(verified_or_in_fault_before_ready),
        cmocka_unit_test(closes_only_over_a_dim_line),
        cmocka_unit_test(read_back_counts),
        cmocka_unit_test(errors_and_age_count),
        cmocka_unit_test(a_lagging_bus_is_no_fault),
        cmocka_unit_test(a_lost_line_is_a_fault_at_once),
        cmocka_unit_test(relapses_take_longer),
        cmocka_unit_test(safe_in_two_steps),
        cmocka_unit_test(a_reload_keeps_what_stands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
