/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the configuration says of a Modbus bus: its settings, its sensors and outputs, and the units
 * they belong to. Filled before the first connection; checks what a range of a single option cannot
 * say.
 */
#ifndef LAMPWARDEN_MODBUS_POINTS_H
#define LAMPWARDEN_MODBUS_POINTS_H

#include "driver.h"
#include "modbus_line.h"
#include "modbus_plan.h"
#include "modbus_port.h"
#include "modbus_value.h"

struct modbus_settings {
    struct modbus_port_setup port;
    struct modbus_timing timing;
    struct modbus_plan_limits plan;
    int unit; /* of points that name none */
};

/* A register and what it must hold. */
struct modbus_constant {
    bool is_given;
    uint8_t function;
    uint16_t address, value;
};

struct modbus_unit {
    uint8_t number;
    int gap_ms, timeout_ms, worst_reply_ms; /* its own; 0: the bus's */
    struct modbus_constant identity;        /* tells this device from every other one on the bus */
    struct modbus_constant loss;            /* sets what it does when it hears nothing */
    bool has_probe;
    struct modbus_request probe; /* an ordinary read of it */
    struct modbus_health health;
    unsigned known_in;   /* generation of the link in which it proved itself … */
    unsigned guarded_in; /* … and in which its loss register was seen right */
};

struct modbus_sensor {
    int unit; /* index */
    struct modbus_format format;
};

struct modbus_output {
    int unit; /* index */
    enum output_kind kind;
    uint16_t address;
    uint8_t write_function;
    struct modbus_span span; /* a switch: raw of open and of closed */
    double safe;
    bool verify;
    bool is_safe;      /* its safe value was taken since the bus was opened */
    int vanishings;    /* how often the adapter went right after this switch closed */
    int64_t closed_ns; /* when it was last told to close */
    int64_t hold_ns;   /* not closed before */
};

struct modbus_points {
    struct modbus_unit *units;
    struct modbus_sensor *sensors;
    struct modbus_wish *wishes; /* one a sensor, in the plan's order */
    struct modbus_output *outputs;
    int unit_count, sensor_count, output_count;
};

int modbus_points_tcp(const struct option_value *options, struct modbus_settings *ret,
                      struct err *err);
int modbus_points_rtu(const struct option_value *options, struct modbus_settings *ret,
                      struct err *err);

int modbus_points_add_sensor(struct modbus_points *points, const struct modbus_settings *settings,
                             const struct option_value *options, struct err *err);
int modbus_points_add_output(struct modbus_points *points, const struct modbus_settings *settings,
                             enum output_kind kind, const struct option_value *options,
                             struct err *err);

/* Writes what the units want for themselves into the bus's timing: the quarantine becomes that of
 * the slowest. */
void modbus_points_pace(const struct modbus_points *points, struct modbus_timing *timing);

void modbus_points_finish(struct modbus_points *points);

#endif
