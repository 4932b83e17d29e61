/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_bus.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <stdlib.h>

enum { ILLEGAL_ADDRESS = 0x02, ILLEGAL_VALUE = 0x03 };

static void replan(struct bus *bus)
{
    bus->block_count = modbus_plan_build(bus->points.wishes, bus->points.sensor_count,
                                         &bus->settings.plan, bus->blocks);
}

int modbus_reader_plan(struct bus *bus, struct err *err)
{
    size_t count = (size_t)bus->points.sensor_count;
    if (bus->blocks || count == 0) {
        return 0;
    }
    bus->blocks = calloc(count, sizeof *bus->blocks);
    bus->samples = calloc(count, sizeof *bus->samples);
    if (!bus->blocks || !bus->samples) {
        return err_fail(err, ENOMEM, "no memory for the plan of %zu sensors", count);
    }
    for (size_t i = 0; i < count; i++) {
        bus->samples[i].error = -EAGAIN; /* not read yet */
    }
    replan(bus);
    return 0;
}

static const struct modbus_block *block_at(const struct bus *bus, int wish)
{
    for (int i = 0; i < bus->block_count; i++) {
        if (wish < bus->blocks[i].first + bus->blocks[i].wish_count) {
            return &bus->blocks[i];
        }
    }
    return &bus->blocks[0];
}

static void store_error(struct bus *bus, const struct modbus_block *block, int error)
{
    for (int i = 0; i < block->wish_count; i++) {
        struct sample *sample = &bus->samples[bus->points.wishes[block->first + i].sensor];
        *sample = (struct sample){.error = error, .taken_ns = clock_boot_ns()};
    }
}

static void store_values(struct bus *bus, const struct modbus_block *block,
                         const struct modbus_reply *reply)
{
    const int64_t taken_ns = clock_boot_ns(); /* it arrived just now */
    for (int i = 0; i < block->wish_count; i++) {
        const struct modbus_wish *wish = &bus->points.wishes[block->first + i];
        int place = wish->address - block->request.address;
        uint16_t words[2] = {modbus_pdu_word(reply, place),
                             wish->count > 1 ? modbus_pdu_word(reply, place + 1) : 0};
        struct sample *sample = &bus->samples[wish->sensor];
        *sample = (struct sample){
            .value = modbus_value_decode(&bus->points.sensors[wish->sensor].format, words),
            .taken_ns = taken_ns,
        };
        modbus_value_print(words, wish->count, sample->raw, sizeof sample->raw);
    }
}

/* Returns false when the block was split: its wishes are to be fetched one by one. */
static bool store_answer(struct bus *bus, const struct modbus_block *block,
                         const struct modbus_reply *reply)
{
    if (modbus_pdu_check(&block->request, reply) == MODBUS_PDU_OK) {
        store_values(bus, block, reply);
        return true;
    }
    uint8_t code = modbus_pdu_exception(reply);
    bool is_too_much = code == ILLEGAL_ADDRESS || code == ILLEGAL_VALUE;
    if (is_too_much && modbus_plan_split(bus->points.wishes, block)) {
        replan(bus);
        return false;
    }
    store_error(bus, block, modbus_pdu_exception_errno(code));
    return true;
}

/* An answer is waited for in full or not asked for: one cut short would pass for a unit in trouble.
 */
static bool has_time(const struct bus *bus, const struct modbus_block *block, int64_t deadline_ns)
{
    return modbus_line_done_ns(&bus->link.line, &block->request, clock_real_ns()) <= deadline_ns;
}

static int fetch(struct bus *bus, const struct modbus_block *block, int64_t deadline_ns,
                 struct modbus_reply *ret, struct err *err)
{
    int unit = bus->points.sensors[bus->points.wishes[block->first].sensor].unit;
    int rc = modbus_unit_recognise(bus, unit, deadline_ns, err);
    if (rc < 0) {
        return rc;
    }
    return modbus_unit_exchange(bus, unit, &block->request, deadline_ns, ret, err);
}

/* A unit that was missing when the bus was connected is made safe as soon as it answers. */
static int settle_late_comers(struct bus *bus, int64_t deadline_ns)
{
    for (int i = 0; i < bus->points.unit_count; i++) {
        if (!modbus_health_is_due(&bus->points.units[i].health, clock_real_ns())) {
            continue;
        }
        int rc = modbus_output_settle_unit(bus, i, deadline_ns, NULL);
        if (modbus_link_is_gone(rc) || rc == -ENODEV) {
            return rc;
        }
    }
    return 0;
}

struct progress {
    int visited;  /* wishes */
    int answered; /* blocks */
    int error;    /* the first */
};

/* Goes round the plan from where the last read stopped until every wish had its turn or the time is
 * over. Returns an error only when the bus is lost. */
static int go_round(struct bus *bus, int64_t deadline_ns, struct progress *progress,
                    struct err *err)
{
    int count = bus->points.sensor_count;
    while (progress->visited < count) {
        const struct modbus_block *block = block_at(bus, bus->cursor);
        int wishes = block->wish_count, next = (block->first + wishes) % count;
        if (progress->visited > 0 && !has_time(bus, block, deadline_ns)) {
            return 0;
        }
        struct modbus_reply reply;
        int rc = fetch(bus, block, deadline_ns, &reply, progress->error == 0 ? err : NULL);
        if (modbus_link_is_gone(rc) || rc == -ENODEV) {
            return rc;
        }
        if (rc == 0) {
            progress->answered++;
            if (!store_answer(bus, block, &reply)) {
                continue;
            }
        } else {
            int error = rc == -EBUSY ? -EAGAIN : rc;
            progress->error = progress->error == 0 ? error : progress->error;
            if (rc == -EAGAIN) {
                return 0; /* it would go no better with the others */
            }
            store_error(bus, block, error);
        }
        progress->visited += wishes;
        bus->cursor = next;
    }
    return 0;
}

static int all_samples(const struct bus *bus, int error, struct sample *ret)
{
    int64_t now = clock_boot_ns();
    for (int i = 0; i < bus->points.sensor_count; i++) {
        ret[i] = (struct sample){.error = error, .taken_ns = now};
    }
    return error;
}

/* Sensors whose turn did not come: during a quarantine they are not readable; else they keep their
 * last sample with its time, and only grow older. */
static void hand_over(const struct bus *bus, int visited, struct sample *ret)
{
    int count = bus->points.sensor_count;
    bool is_barred = bus->link.line.state != MODBUS_UP;
    for (int i = 0; i < count; i++) {
        int sensor = bus->points.wishes[(bus->cursor + i) % count].sensor;
        ret[sensor] = bus->samples[sensor];
        if (i < count - visited && is_barred) {
            ret[sensor] = (struct sample){.error = -EAGAIN, .taken_ns = clock_boot_ns()};
        }
    }
}

int modbus_reader_read(struct bus *bus, int64_t deadline_ns, struct sample *ret, struct err *err)
{
    int rc = modbus_link_ready(&bus->link, deadline_ns, err);
    struct progress progress = {0};
    if (rc == 0) {
        bus->owes_read = false;
        rc = go_round(bus, deadline_ns, &progress, err);
    }
    if (rc == 0) {
        rc = settle_late_comers(bus, deadline_ns);
    }
    if (rc == 0 && progress.answered == 0 && progress.error != 0) {
        rc = progress.error;
    }
    if (rc < 0 && !modbus_link_is_gone(rc) && modbus_unit_all_silent(bus)) {
        rc = err_fail(err, bus->settings.port.is_tcp ? ENOTCONN : EIO,
                      "none of the units of this bus answers");
    }
    if (rc < 0) {
        return all_samples(bus, rc, ret);
    }
    if (bus->points.sensor_count > 0) {
        hand_over(bus, progress.visited, ret);
    }
    return 0;
}
