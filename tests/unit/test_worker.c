/* SPDX-License-Identifier: Apache-2.0 */
#include "worker.h"

#include "clock.h"
#include "err.h"
#include "script_driver.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

enum { DIM, CONTACT, DIM_TWO, CONTACT_TWO, OUTPUTS };

static const enum output_kind kinds[OUTPUTS] = {OUTPUT_DIM, OUTPUT_SWITCH, OUTPUT_DIM,
                                                OUTPUT_SWITCH};

struct rig {
    struct script script;
    struct worker *worker;
};

static void begin(struct rig *rig, double every_s)
{
    struct option_value option = {0};
    struct script *script = &rig->script;
    memcpy(&option.text, &script, sizeof option.text);
    struct worker_setup setup = {.name = "shelf",
                                 .driver = &script_driver,
                                 .sensor_count = 1,
                                 .output_count = OUTPUTS,
                                 .kinds = kinds,
                                 .every_s = every_s};
    assert_int_equal(script_driver.create(&option, &setup.bus, NULL), 0);
    assert_int_equal(script_driver.add_sensor(setup.bus, SENSOR_PPFD, NULL, NULL), 0);
    assert_int_equal(worker_start(&setup, &rig->worker, NULL), 0);
}

/* Outputs are made safe at the end, and whenever a line was lost or not to be had. */
static void end_after(struct rig *rig, int losses)
{
    assert_true(worker_end(rig->worker, 5));
    assert_int_equal(rig->script.make_safes, 1 + losses);
    assert_int_equal(rig->script.destroys, 1);
    script_finish(&rig->script);
}

static void end(struct rig *rig)
{
    end_after(rig, 0);
}

static uint32_t wait_for_epoch(struct rig *rig, uint32_t epoch)
{
    struct mailbox_health health;
    int64_t until_ns = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    do {
        worker_look(rig->worker, NULL, NULL, &health);
        (void)clock_sleep_until(clock_boot_ns() + CLOCK_NS_PER_MS, NULL);
    } while ((health.epoch < epoch || !health.is_connected) && clock_boot_ns() < until_ns);
    assert_true(health.is_connected);
    return health.epoch;
}

static struct mailbox_output wait_for_outcome(struct rig *rig, int output, bool want_error)
{
    struct mailbox_output outputs[OUTPUTS];
    int64_t until_ns = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    do {
        worker_look(rig->worker, NULL, outputs, NULL);
        (void)clock_sleep_until(clock_boot_ns() + CLOCK_NS_PER_MS, NULL);
    } while ((want_error ? outputs[output].error == 0 : isnan(outputs[output].written)) &&
             clock_boot_ns() < until_ns);
    return outputs[output];
}

static void reads_and_writes(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    rig.script.sensor[0] = 212.5;
    begin(&rig, 0.2);
    uint32_t epoch = wait_for_epoch(&rig, 1);
    worker_want(rig.worker, epoch, (const double[]){0.25, 1, (double)NAN, (double)NAN});
    assert_true(script_wait_output(&rig.script, CONTACT, 1));
    assert_true(script_wait_output(&rig.script, DIM, 0.25));
    assert_true(script_wait(&rig.script, &rig.script.reads, 3));
    struct sample sample;
    worker_look(rig.worker, &sample, NULL, NULL);
    assert_int_equal(sample.error, 0);
    assert_true(sample.value == 212.5);
    struct mailbox_output dim = wait_for_outcome(&rig, DIM, false);
    assert_true(dim.written == 0.25 && dim.seen == 0.25);
    assert_int_equal(rig.script.log_count, 2); /* outputs without a wish are left alone */
    end(&rig);
}

static void opens_contacts_first(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    begin(&rig, 0.2);
    uint32_t epoch = wait_for_epoch(&rig, 1);
    worker_want(rig.worker, epoch, (const double[]){0.1, 1, 0.1, 0});
    assert_true(script_wait_output(&rig.script, CONTACT, 1));
    script_set_flag(&rig.script, &rig.script.is_held, true);
    int reads = script_get(&rig.script, &rig.script.reads);
    assert_true(script_wait(&rig.script, &rig.script.reads, reads + 1)); /* it hangs in a read */
    script_set(&rig.script, &rig.script.log_count, 0);
    worker_want(rig.worker, epoch, (const double[]){0.9, 0, 0.8, 1});
    script_set_flag(&rig.script, &rig.script.is_held, false);
    assert_true(script_wait(&rig.script, &rig.script.log_count, 4));
    assert_int_equal(rig.script.log[0].output, CONTACT);
    assert_int_equal(rig.script.log[3].output, CONTACT_TWO);
    assert_true(rig.script.log[0].value == 0 && rig.script.log[3].value == 1);
    end(&rig);
}

static void opens_after_failures(void **state)
{
    (void)state;
    struct rig rig;
    struct mailbox_health health;
    script_init(&rig.script);
    rig.script.fail_connects = 2;
    rig.script.connect_error = -ECONNREFUSED;
    begin(&rig, 0.2);
    assert_int_equal(wait_for_epoch(&rig, 1), 1);
    worker_look(rig.worker, NULL, NULL, &health);
    assert_int_equal(health.failures, 2);
    assert_string_equal(health.reason, "the device does not open");
    assert_int_equal(rig.script.connects, 3);
    end_after(&rig, 2);
}

static void writes_again_after_an_error(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    rig.script.fail_writes = 1;
    rig.script.write_error = -ETIMEDOUT;
    begin(&rig, 0.2);
    uint32_t epoch = wait_for_epoch(&rig, 1);
    worker_want(rig.worker, epoch, (const double[]){0.5, (double)NAN, (double)NAN, (double)NAN});
    assert_int_equal(wait_for_outcome(&rig, DIM, true).error, -ETIMEDOUT);
    assert_true(script_wait_output(&rig.script, DIM, 0.5));
    assert_int_equal(rig.script.log_count, 2);
    assert_int_equal(rig.script.disconnects, 0); /* a timeout is the driver's business */
    end(&rig);
}

/* An opening that failed must not wait for sensors that are read once a minute. */
static void writes_again_between_seldom_reads(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    rig.script.write_error = -EAGAIN;
    begin(&rig, 60);
    uint32_t epoch = wait_for_epoch(&rig, 1);
    assert_true(script_wait(&rig.script, &rig.script.reads, 1));
    worker_want(rig.worker, epoch, (const double[]){(double)NAN, 1, (double)NAN, (double)NAN});
    assert_true(script_wait_output(&rig.script, CONTACT, 1));
    script_set(&rig.script, &rig.script.fail_writes, 1);
    worker_want(rig.worker, epoch, (const double[]){(double)NAN, 0, (double)NAN, (double)NAN});
    assert_int_equal(wait_for_outcome(&rig, CONTACT, true).error, -EAGAIN);
    assert_true(script_wait_output(&rig.script, CONTACT, 0));
    assert_int_equal(script_get(&rig.script, &rig.script.reads), 1);
    end(&rig);
}

/* The line is lost while the contact is closed: it must stay open until somebody asks anew. */
static void forgets_wishes_with_the_line(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    begin(&rig, 0.2);
    uint32_t epoch = wait_for_epoch(&rig, 1);
    const double closed[] = {0.5, 1, (double)NAN, (double)NAN};
    worker_want(rig.worker, epoch, closed);
    assert_true(script_wait_output(&rig.script, CONTACT, 1));
    script_set_flag(&rig.script, &rig.script.is_gone, true);
    assert_true(script_wait(&rig.script, &rig.script.disconnects, 1));
    struct sample sample;
    struct mailbox_health health;
    struct mailbox_output outputs[OUTPUTS];
    int64_t until_ns = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    do {
        worker_look(rig.worker, &sample, outputs, &health);
    } while (health.is_connected && clock_boot_ns() < until_ns);
    assert_int_equal(sample.error, -EIO);
    assert_true(isnan(outputs[CONTACT].written));
    script_set_flag(&rig.script, &rig.script.is_gone, false);
    assert_int_equal(wait_for_epoch(&rig, 2), 2);
    script_set(&rig.script, &rig.script.log_count, 0);
    worker_want(rig.worker, epoch, closed); /* a tick that has not noticed yet */
    int reads = script_get(&rig.script, &rig.script.reads);
    assert_true(script_wait(&rig.script, &rig.script.reads, reads + 3));
    assert_int_equal(rig.script.log_count, 0);
    worker_want(rig.worker, 2, closed);
    assert_true(script_wait_output(&rig.script, CONTACT, 1));
    end_after(&rig, 1);
}

static void garbage_is_passed_on(void **state)
{
    (void)state;
    struct rig rig;
    struct sample sample;
    script_init(&rig.script);
    rig.script.sensor[0] = (double)NAN;
    rig.script.sensor_error[0] = -EBADMSG;
    begin(&rig, 0.2);
    assert_true(script_wait(&rig.script, &rig.script.reads, 2));
    worker_look(rig.worker, &sample, NULL, NULL);
    assert_int_equal(sample.error, -EBADMSG);
    script_set(&rig.script, &rig.script.read_error, -EAGAIN);
    int reads = script_get(&rig.script, &rig.script.reads);
    assert_true(script_wait(&rig.script, &rig.script.reads, reads + 3));
    worker_look(rig.worker, &sample, NULL, NULL);
    assert_int_equal(sample.error, -EAGAIN);
    assert_int_equal(rig.script.disconnects, 0); /* a quarantine keeps the line */
    end(&rig);
}

static struct rig hung; /* outlives the test: its worker is left behind on purpose */

static void a_hanging_driver_is_noticed(void **state)
{
    (void)state;
    script_init(&hung.script);
    begin(&hung, 0.2);
    (void)wait_for_epoch(&hung, 1);
    assert_false(worker_is_late(hung.worker, clock_boot_ns()));
    script_set_flag(&hung.script, &hung.script.is_held, true);
    int reads = script_get(&hung.script, &hung.script.reads);
    assert_true(script_wait(&hung.script, &hung.script.reads, reads + 1));
    /* A read has 2 s and 3 s of grace. */
    assert_false(worker_is_late(hung.worker, clock_boot_ns() + 1 * CLOCK_NS_PER_S));
    assert_true(worker_is_late(hung.worker, clock_boot_ns() + 6 * CLOCK_NS_PER_S));
    assert_true(worker_is_behind(hung.worker, clock_boot_ns()));
    assert_false(worker_end(hung.worker, 0.05));
    script_set_flag(&hung.script, &hung.script.is_held, false);
    assert_true(script_wait(&hung.script, &hung.script.destroys, 1));
}

/* What a demonstration waits for. */
static void what_is_due_is_known(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    begin(&rig, 0.5);
    (void)wait_for_epoch(&rig, 1);
    const int64_t until_ns = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    while (worker_is_behind(rig.worker, clock_boot_ns())) { /* it rests between two reads */
        assert_true(clock_boot_ns() < until_ns);
        (void)clock_sleep_until(clock_boot_ns() + CLOCK_NS_PER_MS, NULL);
    }
    assert_true(worker_is_behind(rig.worker, clock_boot_ns() + CLOCK_NS_PER_S)); /* the next one */
    end(&rig);
}

static struct scan_view wait_for_scan_end(struct rig *rig)
{
    struct scan_view view;
    int64_t until_ns = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    do {
        scan_ask(worker_scan(rig->worker), 1, clock_boot_ns(), &view);
        (void)clock_sleep_until(clock_boot_ns() + CLOCK_NS_PER_MS, NULL);
    } while (view.is_running && clock_boot_ns() < until_ns);
    assert_false(view.is_running);
    return view;
}

static void begin_scan(struct rig *rig, int from, int to)
{
    assert_true(scan_start(worker_scan(rig->worker), from, to, clock_boot_ns()));
    worker_wake(rig->worker);
}

/* Sensors are read between any two probes; writes go on. */
static void scans_between_its_turns(void **state)
{
    (void)state;
    struct rig rig;
    struct scan_found found;
    script_init(&rig.script);
    rig.script.is_there[3] = rig.script.is_there[9] = true;
    begin(&rig, 0.2);
    uint32_t epoch = wait_for_epoch(&rig, 1);
    begin_scan(&rig, 1, 9);
    assert_true(script_wait(&rig.script, &rig.script.probes, 2));
    worker_want(rig.worker, epoch, (const double[]){(double)NAN, 1, (double)NAN, (double)NAN});
    assert_true(script_wait_output(&rig.script, CONTACT, 1));
    struct scan_view view = wait_for_scan_end(&rig);
    assert_int_equal(view.next, 10);
    assert_int_equal(view.found_count, 2);
    assert_true(scan_find(worker_scan(rig.worker), 1, &found));
    assert_int_equal(found.address, 9);
    assert_string_equal(found.words, "register 0 holds 9");
    assert_int_equal(rig.script.most_in_a_row, 1);
    assert_int_equal(rig.script.probes, 9);
    assert_true(rig.script.reads >= 9);
    end(&rig);
}

/* A bus whose sensors are read once a minute is read more often for a scan. */
static void scans_a_slow_bus(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    begin(&rig, 60);
    (void)wait_for_epoch(&rig, 1);
    assert_true(script_wait(&rig.script, &rig.script.reads, 1));
    begin_scan(&rig, 5, 7);
    assert_int_equal(wait_for_scan_end(&rig).next, 8);
    assert_int_equal(rig.script.most_in_a_row, 1);
    end(&rig);
}

/* A round that takes longer than its period is followed by the next one, not by a whole period. */
static void a_slow_line_is_read_without_pause(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    script_set_flag(&rig.script, &rig.script.is_held, true);
    begin(&rig, 3);
    int64_t began_ns = clock_boot_ns();
    (void)wait_for_epoch(&rig, 1);
    (void)clock_sleep_until(began_ns + 3200 * CLOCK_NS_PER_MS, NULL); /* the first read takes it */
    int64_t released_ns = clock_boot_ns();
    script_set_flag(&rig.script, &rig.script.is_held, false);
    assert_true(script_wait(&rig.script, &rig.script.reads, 2));
    assert_true(clock_boot_ns() - released_ns < 2 * CLOCK_NS_PER_S);
    end(&rig);
}

static void asks_again_after_a_quarantine(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    rig.script.is_there[1] = true;
    rig.script.fail_probes = 2;
    rig.script.probe_error = -EAGAIN;
    begin(&rig, 0.2);
    (void)wait_for_epoch(&rig, 1);
    begin_scan(&rig, 1, 1);
    assert_int_equal(wait_for_scan_end(&rig).found_count, 1);
    assert_int_equal(rig.script.probes, 3);
    end(&rig);
}

static void leaves_a_quarantine_alone(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    rig.script.read_error = -EAGAIN;
    begin(&rig, 0.2);
    (void)wait_for_epoch(&rig, 1);
    assert_true(script_wait(&rig.script, &rig.script.reads, 1));
    begin_scan(&rig, 1, 1);
    int reads = script_get(&rig.script, &rig.script.reads);
    assert_true(script_wait(&rig.script, &rig.script.reads, reads + 3));
    assert_int_equal(script_get(&rig.script, &rig.script.probes), 0);
    script_set(&rig.script, &rig.script.read_error, 0);
    (void)wait_for_scan_end(&rig);
    assert_int_equal(rig.script.probes, 1);
    end(&rig);
}

/* Nobody answers at the configured addresses: the scan finds who is there all the same. */
static void scans_without_a_connection(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    rig.script.fail_connects = 1000;
    rig.script.connect_error = -ETIMEDOUT;
    rig.script.is_there[7] = true;
    begin(&rig, 0.2);
    assert_true(script_wait(&rig.script, &rig.script.connects, 1));
    begin_scan(&rig, 1, 9);
    struct scan_view view = wait_for_scan_end(&rig);
    struct scan_found found;
    assert_int_equal(view.next, 10);
    assert_int_equal(view.found_count, 1);
    assert_true(scan_find(worker_scan(rig.worker), 0, &found));
    assert_int_equal(found.address, 7);
    assert_int_equal(script_get(&rig.script, &rig.script.reads), 0);
    int connects = script_get(&rig.script, &rig.script.connects);
    assert_true(worker_end(rig.worker, 5));
    assert_in_range(rig.script.make_safes, connects, connects + 2);
    script_finish(&rig.script);
}

/* Without a connection there is no line to lose: one that does not open now is asked again. */
static void waits_for_a_line_that_does_not_open(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    rig.script.fail_connects = 1000;
    rig.script.connect_error = -EIO;
    rig.script.fail_probes = 2;
    rig.script.probe_error = -EIO;
    begin(&rig, 0.2);
    assert_true(script_wait(&rig.script, &rig.script.connects, 1));
    begin_scan(&rig, 4, 5);
    struct scan_view view = wait_for_scan_end(&rig);
    assert_string_equal(view.reason, "");
    assert_int_equal(view.next, 6);
    assert_int_equal(rig.script.probes, 2 + 2);
    assert_true(worker_end(rig.worker, 5));
    script_finish(&rig.script);
}

static void ends_a_scan_that_loses_the_line(void **state)
{
    (void)state;
    struct rig rig;
    script_init(&rig.script);
    rig.script.fail_probes = 1;
    rig.script.probe_error = -ENOTCONN;
    begin(&rig, 0.2);
    (void)wait_for_epoch(&rig, 1);
    begin_scan(&rig, 4, 9);
    struct scan_view view = wait_for_scan_end(&rig);
    assert_string_equal(view.reason, "the line was lost when address 4 was asked: not now");
    assert_int_equal(wait_for_epoch(&rig, 2), 2); /* and the lamps go on */
    assert_int_equal(rig.script.probes, 1);
    end_after(&rig, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_and_writes),
        cmocka_unit_test(opens_contacts_first),
        cmocka_unit_test(opens_after_failures),
        cmocka_unit_test(writes_again_after_an_error),
        cmocka_unit_test(writes_again_between_seldom_reads),
        cmocka_unit_test(forgets_wishes_with_the_line),
        cmocka_unit_test(garbage_is_passed_on),
        cmocka_unit_test(a_hanging_driver_is_noticed),
        cmocka_unit_test(what_is_due_is_known),
        cmocka_unit_test(scans_between_its_turns),
        cmocka_unit_test(scans_a_slow_bus),
        cmocka_unit_test(a_slow_line_is_read_without_pause),
        cmocka_unit_test(asks_again_after_a_quarantine),
        cmocka_unit_test(leaves_a_quarantine_alone),
        cmocka_unit_test(scans_without_a_connection),
        cmocka_unit_test(waits_for_a_line_that_does_not_open),
        cmocka_unit_test(ends_a_scan_that_loses_the_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
