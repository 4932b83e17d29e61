/* SPDX-License-Identifier: Apache-2.0 */
/* Whole buses against devices that misbehave, each test named after the fault. Registers hold
 * unit × 256 + address: a value under a wrong point shows at once. */
#include "modbus_setup.h"

#include "clock.h"
#include "near.h"
#include "prng.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <net/if.h>
#include <sched.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static void breathe(void)
{
    (void)clock_sleep_until(clock_boot_ns() + 10 * CLOCK_NS_PER_MS, NULL); /* polling period */
}

/* Reads until all sensors are good; what is good must be right: 0x0501, 0x0602. */
static void recover(struct modbus_setup *setup, double limit_s)
{
    static const double expected[] = {0x0501, 0x0602};
    int64_t limit = clock_boot_ns() + (int64_t)(limit_s * 1e9);
    int good = 0;
    while (good < 2) {
        (void)modbus_setup_read(setup);
        good = 0;
        for (int i = 0; i < 2; i++) {
            if (setup->samples[i].error == 0) {
                assert_near(setup->samples[i].value, expected[i], 0);
                good++;
            }
        }
        if (clock_boot_ns() > limit) {
            fail_msg("no recovery in %g s: %s", limit_s, setup->err.text);
        }
        breathe();
    }
}

static void begin(struct modbus_setup *setup, bool is_tcp, const char *options)
{
    if (is_tcp) {
        modbus_setup_tcp(setup, options);
    } else {
        modbus_setup_rtu(setup, options);
    }
    modbus_setup_sensor(setup, "unit=5 register=1");
    modbus_setup_sensor(setup, "unit=6 register=2");
    modbus_setup_connect(setup);
    recover(setup, 3);
}

/* Our own words come back changed: somebody spoke at the same time. */
static void collision_in_the_echo(void **state)
{
    (void)state;
    struct modbus_setup setup;
    begin(&setup, false, "echo=true timeout_ms=600 worst_reply_ms=100");
    bad_modbus_collide(setup.bad, 1);
    assert_true(modbus_setup_read(&setup) < 0);
    assert_int_equal(setup.samples[0].error, -EBADMSG);
    assert_non_null(strstr(setup.err.text, "came back changed"));
    recover(&setup, 4);
    modbus_setup_end(&setup);
}

/* Told to expect an echo where the adapter gives none: never a value, and words that say it. */
static void echo_that_does_not_come(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_rtu(&setup, "timeout_ms=100 worst_reply_ms=100 unit=5 echo=true");
    bad_modbus_stop(setup.bad);
    setup.bad = bad_modbus_start_rtu(false);
    assert_int_equal(unlink(setup.path), 0);
    assert_int_equal(symlink(bad_modbus_device(setup.bad), setup.path), 0);
    modbus_setup_sensor(&setup, "register=1");
    for (int i = 0; i < 3; i++) {
        assert_true(setup.driver->connect(setup.bus, &setup.err) < 0);
        if (i == 0) {
            assert_non_null(strstr(setup.err.text, "our own transmission"));
        }
        assert_true(modbus_setup_read(&setup) < 0);
        setup.driver->disconnect(setup.bus);
    }
    modbus_setup_end(&setup);
}

/* Modbus Application Protocol V1.1b3, 7: the exception codes. Each is the trouble of its sensor;
 * the unit is there, the line is good, the neighbour is read. 0A and 0B come from a gateway. */
static void exception_answers(void **state)
{
    (void)state;
    static const struct {
        int code, error;
    } cases[] = {{1, -EOPNOTSUPP},     {2, -EADDRNOTAVAIL},  {3, -EINVAL},    {4, -EREMOTEIO},
                 {5, -EAGAIN},         {6, -EAGAIN},         {8, -EREMOTEIO}, {7, -EPROTO},
                 {0x0A, -ENETUNREACH}, {0x0B, -EHOSTUNREACH}};
    for (int is_tcp = 0; is_tcp < 2; is_tcp++) {
        for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
            struct modbus_setup setup;
            begin(&setup, is_tcp, "timeout_ms=400");
            bad_modbus_rule(setup.bad,
                            (struct bad_rule){BAD_EXCEPTION, cases[i].code, 5, -1, -1, 1});
            assert_int_equal(modbus_setup_read(&setup), 0);
            assert_int_equal(setup.samples[0].error, cases[i].error);
            assert_near(setup.samples[1].value, 0x0602, 0);
            if (cases[i].code < 0x0A) { /* at once */
                assert_int_equal(modbus_setup_read(&setup), 0);
                assert_int_equal(setup.samples[0].error, 0);
            }
            modbus_setup_end(&setup);
        }
    }
}

/* A program that knows nothing of locks and is not root: the kernel refuses it (tty_ioctl(4),
 * TIOCEXCL). One that locks, or ours a second time, is refused with a sentence. */
static void second_opener(void **state)
{
    (void)state;
    struct modbus_setup setup;
    begin(&setup, false, "timeout_ms=400");
    struct modbus_setup second = setup;
    const struct option_value *options = second.bus_options.values;
    assert_int_equal(setup.driver->create(options, &second.bus, &second.err), 0);
    assert_int_equal(setup.driver->connect(second.bus, &second.err), -EBUSY);
    assert_non_null(strstr(second.err.text, setup.path));
    assert_non_null(strstr(second.err.text, "another process uses this line"));
    setup.driver->destroy(second.bus);
    recover(&setup, 3);
    assert_int_equal(chmod(bad_modbus_device(setup.bad), 0666), 0);
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        if (geteuid() == 0 && (setgid(65534) != 0 || setuid(65534) != 0)) {
            _exit(77);
        }
        int descriptor = open(bad_modbus_device(setup.bad), O_RDWR | O_NOCTTY | O_CLOEXEC);
        _exit(descriptor < 0 && errno == EBUSY ? 0 : 1);
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    modbus_setup_end(&setup);
    assert_true(WIFEXITED(status));
    if (WEXITSTATUS(status) == 77) {
        skip();
    }
    assert_int_equal(WEXITSTATUS(status), 0);
}

/* Unplugged, absent for a while, plugged in again: the kernel gives the adapter another number, the
 * name by its place leads there. The old number may belong to someone else by then. */
static void replugged_adapter(void **state)
{
    (void)state;
    struct modbus_setup setup;
    begin(&setup, false, "timeout_ms=100 worst_reply_ms=100");
    char before[64], target[64] = "";
    (void)snprintf(before, sizeof before, "%s", bad_modbus_device(setup.bad));
    bad_modbus_vanish(setup.bad);
    assert_int_equal(modbus_setup_read(&setup), -EIO);
    setup.driver->disconnect(setup.bus);
    assert_int_equal(unlink(setup.path), 0);
    for (int i = 0; i < 3; i++) {
        assert_int_equal(setup.driver->connect(setup.bus, &setup.err), -ENOENT);
        assert_non_null(strstr(setup.err.text, setup.path));
        assert_int_equal(modbus_setup_read(&setup), -EIO);
    }
    assert_int_equal(symlink("/dev/null", setup.path), 0);  /* so that replug finds a link */
    struct bad_modbus *other = bad_modbus_start_rtu(false); /* takes the old number, if it can */
    assert_non_null(other);
    modbus_setup_replug(&setup);
    assert_true(readlink(setup.path, target, sizeof target - 1) > 0);
    assert_string_not_equal(target, before);
    modbus_setup_connect(&setup);
    recover(&setup, 4);
    assert_int_equal(bad_modbus_requests(other), 0);
    bad_modbus_stop(other);
    modbus_setup_end(&setup);
}

/* A TCP device whose program hangs while its network stack still takes what comes: one request
 * waits on one connection, which is given up with its timeout. What was meant before the fault is
 * history: when the device goes on, it ends at the safe value, and hears a drive only as a new one.
 */
static void hanging_device(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=100");
    modbus_setup_dim(&setup, "register=9 full=1000");
    modbus_setup_connect(&setup);
    double seen;
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), 0);
    int requests = bad_modbus_requests(setup.bad);
    bad_modbus_freeze(setup.bad, true);
    assert_int_equal(modbus_setup_write(&setup, 0, 0.9, &seen), -ETIMEDOUT);
    for (int i = 0; i < 3; i++) {
        assert_true(modbus_setup_write(&setup, 0, 1, &seen) < 0); /* rests: nothing is sent */
    }
    setup.driver->disconnect(setup.bus);
    assert_true(setup.driver->connect(setup.bus, &setup.err) < 0);
    setup.driver->disconnect(setup.bus);
    bad_modbus_freeze(setup.bad, false);
    int64_t limit = clock_boot_ns() + 5 * CLOCK_NS_PER_S;
    while (setup.driver->connect(setup.bus, &setup.err) != 0) {
        setup.driver->disconnect(setup.bus);
        assert_true(clock_boot_ns() < limit);
        breathe();
    }
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 0);
    print_message("%d requests reached it\n", bad_modbus_requests(setup.bad) - requests);
    assert_int_equal(modbus_setup_write(&setup, 0, 0.3, &seen), 0);
    assert_int_equal(bad_modbus_holding(setup.bad, 5, 9), 300);
    modbus_setup_end(&setup);
}

static bool set_loopback(bool is_up)
{
    int descriptor = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    struct ifreq request = {.ifr_name = "lo"};
    bool is_done = ioctl(descriptor, SIOCGIFFLAGS, &request) == 0;
    request.ifr_flags = (short)(is_up ? request.ifr_flags | IFF_UP : request.ifr_flags & ~IFF_UP);
    is_done = is_done && ioctl(descriptor, SIOCSIFFLAGS, &request) == 0;
    (void)close(descriptor);
    return is_done;
}

enum { AS_IT_SHOULD, NOT_POSSIBLE_HERE, DRIVEN_INTO_NOTHING, DRIVEN_LATE, NOT_SAFE_FIRST };

static int drive_into_a_dropped_network(void)
{
    if (unshare(CLONE_NEWUSER | CLONE_NEWNET) != 0 || !set_loopback(true)) {
        return NOT_POSSIBLE_HERE;
    }
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=100");
    modbus_setup_dim(&setup, "register=9 full=1000");
    modbus_setup_connect(&setup);
    double seen;
    int rc = modbus_setup_write(&setup, 0, 0.5, &seen);
    if (rc < 0 || !set_loopback(false)) {
        return NOT_POSSIBLE_HERE;
    }
    for (int i = 0; i < 3; i++) {
        if (modbus_setup_write(&setup, 0, 0.9, &seen) >= 0) {
            return DRIVEN_INTO_NOTHING;
        }
    }
    if (!set_loopback(true)) {
        return NOT_POSSIBLE_HERE;
    }
    /* the kernel would send again within 2 s what it still held */
    for (int64_t end = clock_boot_ns() + 2 * CLOCK_NS_PER_S; clock_boot_ns() < end; breathe()) {
        if (bad_modbus_holding(setup.bad, 5, 9) != 500) {
            return DRIVEN_LATE;
        }
    }
    setup.driver->disconnect(setup.bus);
    modbus_setup_connect(&setup);
    int held = bad_modbus_holding(setup.bad, 5, 9);
    modbus_setup_end(&setup);
    return held == 0 ? AS_IT_SHOULD : NOT_SAFE_FIRST;
}

/* The network swallows everything for a while, in a network of its own: no drive of before it
 * arrives after it, and the first word afterwards is the safe value. */
static void dropped_network(void **state)
{
    (void)state;
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        _exit(drive_into_a_dropped_network());
    }
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status));
    if (WEXITSTATUS(status) == NOT_POSSIBLE_HERE) {
        skip();
    }
    assert_int_equal(WEXITSTATUS(status), AS_IT_SHOULD);
}

/* A converter of coarse steps: what it holds is told as it is, and its safe value counts as
 * held; one that holds something else entirely is a fault. */
static void coarse_converter(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=400");
    modbus_setup_dim(&setup, "register=9 full=10000 safe=0.1");
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_STEPS, 39, 5, 6, 9, -1}); /* 8 bits */
    modbus_setup_connect(&setup);
    double seen = -1;
    assert_int_equal(modbus_setup_write(&setup, 0, 0.5, &seen), 0);
    assert_near(seen, 0.4992, 1e-9); /* 4992 = 128 × 39 */
    assert_int_equal(setup.driver->make_safe(setup.bus, &setup.err), 0);
    bad_modbus_forget(setup.bad);
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_STEPS, 300, 5, 6, 9, -1});
    assert_int_equal(setup.driver->make_safe(setup.bus, &setup.err), -EPROTO);
    assert_non_null(strstr(setup.err.text, "reads back 900 instead of the safe value 1000"));
    modbus_setup_end(&setup);
}

/* A converter with a dead band takes nothing below 1 V: the value that it holds is told. */
static void dead_band(void **state)
{
    (void)state;
    struct modbus_setup setup;
    modbus_setup_tcp(&setup, "unit=5 timeout_ms=400");
    modbus_setup_dim(&setup, "register=9 full=10000");
    bad_modbus_rule(setup.bad, (struct bad_rule){BAD_STEPS, 1000, 5, 6, 9, -1});
    modbus_setup_connect(&setup);
    static const double wanted[] = {0.05, 0.1, 0.999, 1}, held[] = {0, 0.1, 0.9, 1};
    for (size_t i = 0; i < sizeof wanted / sizeof *wanted; i++) {
        double seen = -1;
        assert_int_equal(modbus_setup_write(&setup, 0, wanted[i], &seen), 0);
        assert_near(seen, held[i], 1e-9);
    }
    modbus_setup_end(&setup);
}

static struct bad_rule random_fault(struct prng *prng, bool is_tcp)
{
    static const struct {
        enum bad_kind kind;
        int low, high;
        bool is_for_tcp, is_for_rtu;
    } faults[] = {
        {BAD_SILENT, 0, 0, true, true},  {BAD_LATE, 20, 450, true, true},
        {BAD_LATE, 60, 200, true, true}, {BAD_DRIP, 1, 40, true, true},
        {BAD_UNIT, 0, 0, true, true},    {BAD_SHORT, 0, 0, true, true},
        {BAD_LONG, 0, 0, true, true},    {BAD_CHECKSUM, 0, 0, true, true},
        {BAD_HALF, 0, 0, true, true},    {BAD_EXCEPTION, 1, 11, true, true},
        {BAD_TWICE, 0, 0, true, true},   {BAD_FUNCTION, 0, 0, true, true},
        {BAD_ECHO, 0, 0, true, true},    {BAD_TRANSACTION, 0, 0, true, false},
        {BAD_RESET, 0, 0, true, false},  {BAD_NOISE, 1, 8, false, true},
    };
    for (;;) {
        size_t i = (size_t)prng_int(prng, 0, sizeof faults / sizeof *faults - 1);
        if (is_tcp ? faults[i].is_for_tcp : faults[i].is_for_rtu) {
            int value = (int)prng_int(prng, faults[i].low, faults[i].high);
            return (struct bad_rule){faults[i].kind, value, -1, -1, -1, 1};
        }
    }
}

static void begin_random(struct modbus_setup *setup, bool is_tcp)
{
    if (is_tcp) {
        modbus_setup_tcp(setup, "unit=5 timeout_ms=60");
    } else {
        modbus_setup_rtu(setup, "unit=5 timeout_ms=60 worst_reply_ms=500");
    }
    modbus_setup_sensor(setup, "unit=5 register=1");
    modbus_setup_sensor(setup, "unit=5 register=3");
    modbus_setup_sensor(setup, "unit=5 register=5 type=u32");
    modbus_setup_sensor(setup, "unit=6 register=1");
    modbus_setup_sensor(setup, "unit=6 register=3 function=4");
    modbus_setup_dim(setup, "unit=7 register=9 full=1000");
    modbus_setup_connect(setup);
}

/* Reads and drives once; returns how many values were right, −1: one was wrong. */
static int step_random(struct modbus_setup *setup, double drive)
{
    static const double expected[] = {0x0501, 0x0503, 0x05050506, 0x0601, 0x8603};
    int good = 0, rc = modbus_setup_read(setup);
    for (int i = 0; i < 5; i++) {
        if (setup->samples[i].error == 0 && setup->samples[i].value != expected[i]) {
            print_error("sensor %d: %g instead of %g\n", i, setup->samples[i].value, expected[i]);
            return -1;
        }
        good += setup->samples[i].error == 0;
    }
    double seen = -1;
    if (modbus_setup_write(setup, 0, drive, &seen) == 0 &&
        (fabs(seen - drive) > 1e-9 ||
         bad_modbus_holding(setup->bad, 7, 9) != lround(drive * 1000))) {
        print_error("output: %g seen after %g\n", seen, drive);
        return -1;
    }
    if (rc == -EIO || rc == -ENOTCONN) {
        setup->driver->disconnect(setup->bus);
        (void)setup->driver->connect(setup->bus, &setup->err);
    }
    return good;
}

static bool survives_random_faults(bool is_tcp, struct prng prng)
{
    struct modbus_setup setup;
    begin_random(&setup, is_tcp);
    int good = 0, faults = 0, step = 1;
    for (int64_t end = clock_boot_ns() + 8 * CLOCK_NS_PER_S; clock_boot_ns() < end; breathe()) {
        if (step > 0 && prng_int(&prng, 0, 2) == 0) { /* in a quarantine nobody would feel it */
            bad_modbus_forget(setup.bad);
            bad_modbus_rule(setup.bad, random_fault(&prng, is_tcp));
            /* the others take longer than the gap: a shift by one answer would stay */
            bad_modbus_rule(setup.bad, (struct bad_rule){BAD_LATE, 12, -1, -1, -1, -1});
            faults++;
        }
        step = step_random(&setup, (double)prng_int(&prng, 0, 1000) / 1000);
        if (step < 0) {
            return false;
        }
        good += step;
    }
    modbus_setup_end(&setup);
    print_message("%s: %d good values, %d faults\n", is_tcp ? "TCP" : "RTU", good, faults);
    return good > 0;
}

/* Any faults in any order: what is read without an error is what that register holds, what is
 * written without an error is what the output holds. Several buses at a time, a process each. */
static void random_faults(void **state)
{
    (void)state;
    struct prng prng = prng_start("test_modbus_faults");
    enum { BUSES = 6 };
    pid_t children[BUSES];
    for (int i = 0; i < BUSES; i++) {
        struct prng own = {prng_next(&prng)};
        children[i] = fork();
        assert_true(children[i] >= 0);
        if (children[i] == 0) {
            _exit(survives_random_faults(i < 2, own) ? 0 : 1);
        }
    }
    int failures = 0;
    for (int i = 0; i < BUSES; i++) {
        int status = 0;
        assert_int_equal(waitpid(children[i], &status, 0), children[i]);
        failures += status != 0;
    }
    assert_int_equal(failures, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(collision_in_the_echo),
        cmocka_unit_test(echo_that_does_not_come),
        cmocka_unit_test(exception_answers),
        cmocka_unit_test(second_opener),
        cmocka_unit_test(replugged_adapter),
        cmocka_unit_test(hanging_device),
        cmocka_unit_test(dropped_network),
        cmocka_unit_test(coarse_converter),
        cmocka_unit_test(dead_band),
        cmocka_unit_test(random_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
