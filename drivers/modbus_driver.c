/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The drivers "modbus-tcp" and "modbus-rtu": one core, two ways to reach it. Here: the life of a
 * bus. How often it is read, when it is connected again, and what becomes of its values belongs to
 * run.
 */
#include "driver.h"

#include "clock.h"
#include "err.h"
#include "modbus_bus.h"
#include "modbus_options.h"

#include <errno.h>
#include <stdlib.h>

/* The contract's budgets less a margin for a scheduler that is late. */
#define CONNECT_NS (1900 * CLOCK_NS_PER_MS)
#define READ_NS    (1900 * CLOCK_NS_PER_MS)
#define WRITE_NS   (950 * CLOCK_NS_PER_MS)
#define SAFE_NS    (1900 * CLOCK_NS_PER_MS)

/* An adapter that vanishes within this time of a contact closing was probably knocked off by its
 * noise … */
#define VANISH_NS (2 * CLOCK_NS_PER_S)
/* … and that contact is not closed again for 10 s, 20 s … 640 s. */
#define HOLD_NS (10 * CLOCK_NS_PER_S)
enum { HOLD_DOUBLINGS_MAX = 6 };

static int create(int (*read_settings)(const struct option_value *, struct modbus_settings *,
                                       struct err *),
                  const struct option_value *options, struct bus **ret, struct err *err)
{
    struct bus *bus = calloc(1, sizeof *bus);
    if (!bus) {
        return err_fail(err, ENOMEM, "no memory for a bus");
    }
    int rc = read_settings(options, &bus->settings, err);
    if (rc < 0) {
        free(bus);
        return rc;
    }
    bus->link.setup = bus->settings.port;
    bus->link.line.timing = bus->settings.timing;
    *ret = bus;
    return 0;
}

static int create_tcp(const struct option_value *options, struct bus **ret, struct err *err)
{
    return create(modbus_points_tcp, options, ret, err);
}

static int create_rtu(const struct option_value *options, struct bus **ret, struct err *err)
{
    return create(modbus_points_rtu, options, ret, err);
}

static int add_sensor(struct bus *bus, enum sensor_kind kind, const struct option_value *options,
                      struct err *err)
{
    (void)kind; /* scale and offset give the unit of any kind */
    int id = modbus_points_add_sensor(&bus->points, &bus->settings, options, err);
    modbus_points_pace(&bus->points, &bus->link.line.timing);
    return id;
}

static int add_output(struct bus *bus, enum output_kind kind, const struct option_value *options,
                      struct err *err)
{
    int id = modbus_points_add_output(&bus->points, &bus->settings, kind, options, err);
    modbus_points_pace(&bus->points, &bus->link.line.timing);
    return id;
}

static int not_connected(const struct bus *bus, struct err *err)
{
    return err_fail(err, bus->settings.port.is_tcp ? ENOTCONN : EIO, "the bus is not connected");
}

/* A closing that the adapter survived clears the account. */
static void note_opened(struct modbus_output *output)
{
    if (output->closed_ns != 0 && clock_real_ns() - output->closed_ns > VANISH_NS) {
        output->vanishings = 0;
    }
    output->closed_ns = 0;
}

static void note_vanishing(struct bus *bus)
{
    int64_t now = clock_real_ns();
    for (int i = 0; i < bus->points.output_count && !bus->settings.port.is_tcp; i++) {
        struct modbus_output *output = &bus->points.outputs[i];
        if (output->closed_ns == 0 || now - output->closed_ns > VANISH_NS) {
            continue;
        }
        int doublings =
            output->vanishings < HOLD_DOUBLINGS_MAX ? output->vanishings : HOLD_DOUBLINGS_MAX;
        output->vanishings++;
        output->closed_ns = 0;
        output->hold_ns = now + HOLD_NS * (INT64_C(1) << doublings);
    }
}

/* Lost, or another device than the one that was wired: nothing more is said on it until connect. */
static int after(struct bus *bus, int rc)
{
    if (modbus_link_is_gone(rc) || rc == -ENODEV) {
        if (rc == -EIO) {
            note_vanishing(bus);
        }
        modbus_link_close(&bus->link);
        bus->is_connected = false;
    }
    return rc == -EBUSY ? -EAGAIN : rc;
}

static int open_fresh(struct bus *bus, int64_t deadline_ns, struct err *err)
{
    int rc = modbus_link_open(&bus->link, deadline_ns, err);
    if (rc < 0) {
        return rc;
    }
    bus->has_heard = false;
    for (int i = 0; i < bus->points.unit_count; i++) {
        modbus_health_reopened(&bus->points.units[i].health);
    }
    for (int i = 0; i < bus->points.output_count; i++) {
        bus->points.outputs[i].is_safe = false;
    }
    return 0;
}

static int hear_anyone(struct bus *bus, int64_t deadline_ns, struct err *err)
{
    int rc = 0;
    for (int i = 0; i < bus->points.unit_count && !bus->has_heard; i++) {
        rc = modbus_unit_recognise(bus, i, deadline_ns, err);
        if (rc == 0 && !bus->has_heard) {
            rc = modbus_unit_probe(bus, i, deadline_ns, err);
        }
        if (rc == -EAGAIN || rc == -ENODEV || modbus_link_is_gone(rc)) {
            return rc;
        }
    }
    return bus->has_heard ? 0 : rc;
}

/* Behind outputs that were not reached. Why they were not says more than that their units rest now:
 * the next connection asks them at once. */
static int hear_anyone_else(struct bus *bus, int64_t deadline_ns, int settled, struct err *err)
{
    struct err why = {""};
    int rc = hear_anyone(bus, deadline_ns, &why);
    if (rc == -ETIMEDOUT && (settled == -ETIMEDOUT || settled == -EBADMSG)) {
        return settled;
    }
    if (err && rc < 0) {
        *err = why;
    }
    return rc;
}

/* One missing unit does not keep the others in the dark: its outputs count as unsafe, and are made
 * safe before anything else as soon as it answers. So do outputs for which the time was not enough.
 */
static int bus_connect(struct bus *bus, struct err *err)
{
    int64_t deadline = clock_real_ns() + CONNECT_NS;
    int rc = modbus_reader_plan(bus, err);
    if (rc == 0 && !bus->link.port) {
        rc = open_fresh(bus, deadline, err);
    }
    if (rc < 0) {
        return rc;
    }
    rc = modbus_output_settle(bus, deadline, err);
    if (!modbus_link_is_gone(rc) && rc != -ENODEV && !bus->has_heard) {
        rc = hear_anyone_else(bus, deadline, rc, err);
    }
    if (modbus_link_is_gone(rc) || rc == -ENODEV) {
        return after(bus, rc);
    }
    if (rc < 0 && !bus->has_heard) {
        return rc;
    }
    bus->is_connected = true;
    return 0;
}

static int bus_read(struct bus *bus, struct sample *ret_samples, struct err *err)
{
    if (!bus->is_connected) {
        int rc = not_connected(bus, err);
        for (int i = 0; i < bus->points.sensor_count; i++) {
            ret_samples[i] = (struct sample){.error = rc, .taken_ns = clock_boot_ns()};
        }
        return rc;
    }
    return after(bus, modbus_reader_read(bus, clock_real_ns() + READ_NS, ret_samples, err));
}

static int check_write(const struct bus *bus, int index, double value, struct err *err)
{
    if (!(index >= 0 && index < bus->points.output_count)) {
        return err_fail(err, EINVAL, "output %d is out of range (0 … %d)", index,
                        bus->points.output_count - 1);
    }
    const struct modbus_output *output = &bus->points.outputs[index];
    if (output->kind == OUTPUT_SWITCH && value != 0 && value != 1) {
        return err_fail(err, EINVAL, "a switch takes 0 or 1, not %g", value);
    }
    if (!(value >= 0 && value <= 1)) {
        return err_fail(err, EINVAL, "drive %g is out of range (0 … 1)", value);
    }
    int64_t now = clock_real_ns();
    if (output->kind == OUTPUT_SWITCH && value == 1 && now < output->hold_ns) {
        return err_fail(err, EAGAIN,
                        "the serial adapter vanished %d times right after this switch closed: not "
                        "closed again for %d s",
                        output->vanishings, (int)((output->hold_ns - now) / CLOCK_NS_PER_S) + 1);
    }
    return 0;
}

static int bus_write(struct bus *bus, int index, double value, double *ret_seen, struct err *err)
{
    int rc = check_write(bus, index, value, err);
    if (rc == 0 && !bus->is_connected) {
        rc = not_connected(bus, err);
    }
    if (rc < 0) {
        return rc;
    }
    struct modbus_output *output = &bus->points.outputs[index];
    int64_t deadline = clock_real_ns() + WRITE_NS;
    rc = modbus_unit_recognise(bus, output->unit, deadline, err);
    if (rc == 0 && !output->is_safe) {
        rc = modbus_output_settle_unit(bus, output->unit, deadline, err);
        rc = output->is_safe ? 0 : rc; /* another output of the unit does not stop this one */
    }
    if (rc == 0 && value != output->safe) {
        rc = modbus_unit_guard(bus, output->unit, deadline, err);
    }
    if (rc == 0) {
        if (output->kind == OUTPUT_SWITCH && value == 1) {
            output->closed_ns = clock_real_ns();
        }
        rc = modbus_output_write(bus, index, value, deadline, ret_seen, err);
    }
    if (rc == 0 && output->kind == OUTPUT_SWITCH && value == 0) {
        note_opened(output);
    }
    return after(bus, rc);
}

static int bus_make_safe(struct bus *bus, struct err *err)
{
    bool was_open = bus->link.port != NULL;
    int rc = modbus_output_make_safe(bus, clock_real_ns() + SAFE_NS, err);
    if (!was_open || !bus->is_connected) {
        modbus_link_close(&bus->link);
        bus->is_connected = false;
    }
    return rc == -EBUSY ? -EAGAIN : rc;
}

/* That nobody answers where the configuration says is the best reason to ask around: without a
 * connection the line is opened for one question only, and no output is touched. */
static int bus_probe(struct bus *bus, int address, char *ret_words, size_t size, struct err *err)
{
    int64_t deadline = clock_real_ns() + READ_NS;
    if (bus->is_connected) {
        return after(bus, modbus_probe(bus, address, deadline, ret_words, size, err));
    }
    if (modbus_link_open(&bus->link, deadline, err) < 0) {
        return bus->settings.port.is_tcp ? -ENOTCONN : -EIO;
    }
    bus->owes_read = false; /* there are none */
    int rc = modbus_probe(bus, address, deadline, ret_words, size, err);
    modbus_link_close(&bus->link);
    return rc;
}

static void bus_disconnect(struct bus *bus)
{
    modbus_link_close(&bus->link);
    bus->is_connected = false;
}

static void bus_destroy(struct bus *bus)
{
    if (!bus) {
        return;
    }
    bus_disconnect(bus);
    modbus_points_finish(&bus->points);
    free(bus->blocks);
    free(bus->samples);
    free(bus);
}

#define SHARED_FUNCTIONS                                                                           \
    .sensor_options = modbus_sensor_options, .dim_options = modbus_dim_options,                    \
    .switch_options = modbus_switch_options, .add_sensor = add_sensor, .add_output = add_output,   \
    .connect = bus_connect, .read = bus_read, .write = bus_write, .make_safe = bus_make_safe,      \
    .disconnect = bus_disconnect, .probe = bus_probe, .destroy = bus_destroy

extern const struct driver driver_modbus_rtu, driver_modbus_tcp;

const struct driver driver_modbus_tcp = {
    .name = "modbus-tcp",
    .help =
        "Modbus TCP device, or units behind a gateway. The protocol has no password: keep it on a "
        "network of its own.",
    .bus_options = modbus_tcp_options,
    .create = create_tcp,
    SHARED_FUNCTIONS,
};

const struct driver driver_modbus_rtu = {
    .name = "modbus-rtu",
    .help = "Modbus RTU on a serial line, usually RS-485 through an adapter that switches its "
            "transmitter by itself.",
    .bus_options = modbus_rtu_options,
    .create = create_rtu,
    SHARED_FUNCTIONS,
};
#undef SHARED_FUNCTIONS
