/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The bus of the Modbus drivers, and the parts that work on it: units (who is there), outputs (what
 * is driven), reader (what is read). Internal to drivers/modbus_*.c; used by the bus's worker
 * alone. Every function returns by its deadline. The errors are those of modbus_link.h, a refusal
 * in the errno of its exception code, and -ENODEV where another device answers than the one that
 * was wired. -EBUSY: this unit asks for patience, while -EAGAIN says that nobody can be asked now;
 * outside of the driver both are -EAGAIN.
 */
#ifndef LAMPWARDEN_MODBUS_BUS_H
#define LAMPWARDEN_MODBUS_BUS_H

#include "modbus_link.h"
#include "modbus_points.h"

struct bus {
    struct modbus_settings settings;
    struct modbus_points points;
    struct modbus_link link;
    bool is_connected;           /* connect came to its end */
    bool has_heard;              /* some unit answered since the link was opened */
    bool owes_read;              /* a probe cost the line some silence: the sensors come next */
    struct modbus_block *blocks; /* the plan; room for one per sensor */
    int block_count;
    int cursor;             /* the wish at which the next read begins */
    struct sample *samples; /* the newest of each sensor */
};

/* The unit's turn: refused while it is resting after failures; counts what comes of it. */
int modbus_unit_exchange(struct bus *bus, int unit, const struct modbus_request *request,
                         int64_t deadline_ns, struct modbus_reply *ret, struct err *err);

/* The same, with a refusal turned into an error. */
int modbus_unit_ask(struct bus *bus, int unit, const struct modbus_request *request,
                    int64_t deadline_ns, struct modbus_reply *ret, struct err *err);

/* Before it is read or driven: proves after each opening and each failure that it is the right
 * device and that its answers belong to our questions. */
int modbus_unit_recognise(struct bus *bus, int unit, int64_t deadline_ns, struct err *err);

/* Before it is driven to anything but its safe value: sees to it that the unit falls back when it
 * hears nothing. */
int modbus_unit_guard(struct bus *bus, int unit, int64_t deadline_ns, struct err *err);

/* Any answer will do: is someone there? */
int modbus_unit_probe(struct bus *bus, int unit, int64_t deadline_ns, struct err *err);

/* The gateway refuses in the name of a unit that it cannot reach. */
bool modbus_unit_is_gateway(const struct modbus_reply *reply);

/* True when every unit failed lately and nothing was heard for several requests. */
bool modbus_unit_all_silent(const struct bus *bus);

/* Writes an absolute value and reads it back. value: drive, or 0 / 1. */
int modbus_output_write(struct bus *bus, int output, double value, int64_t deadline_ns,
                        double *ret_seen, struct err *err);

/* Brings the outputs of one unit that were not yet safe since the opening to their safe value:
 * switches first. Recognises the unit before. */
int modbus_output_settle_unit(struct bus *bus, int unit, int64_t deadline_ns, struct err *err);

/* The same for the whole bus: switches of all units first. Units that failed come last. */
int modbus_output_settle(struct bus *bus, int64_t deadline_ns, struct err *err);

/* Every output to its safe value as fast as it goes, whatever the state of bus and units. */
int modbus_output_make_safe(struct bus *bus, int64_t deadline_ns, struct err *err);

int modbus_reader_plan(struct bus *bus, struct err *err); /* once, when all sensors are known */
int modbus_reader_read(struct bus *bus, int64_t deadline_ns, struct sample *ret, struct err *err);

/* The driver's probe (driver.h) on an open link. One request; an address where nobody answers costs
 * its timeout and a quarantine, and the sensors are read before the next probe. What it learns of
 * the bus's own units counts, what it learns of others does not. */
int modbus_probe(struct bus *bus, int address, int64_t deadline_ns, char *ret_words, size_t size,
                 struct err *err);

#endif
