/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The narrow interface to hardware: a const table of functions per driver.
 *
 * A bus is one thing that answers as a whole: a Modbus line, a GPIO chip, a PWM chip, the hwmon
 * tree, the bench. Sensors and outputs are points on a bus. Each bus has one worker thread in
 * `run`, and every function below is called by that thread alone (make-safe calls them from its
 * only thread).
 *
 * The contract of a driver
 *  - Options arrive typed and inside their ranges; the driver checks only what a range cannot say.
 *  - `create`, `add_*` touch no hardware. `connect` opens the device and brings every output to its
 *    safe value before it returns 0, without any output passing through another value on the way.
 *    A single point that cannot be had (a busy line, a missing probe) does not fail it while
 *    others can: that output's writes and that sensor's samples give the error, and try again.
 *  - Time: `connect` and `make_safe` ≤ 2 s, `read` ≤ 2 s for the whole bus, `write` ≤ 1 s, whatever
 *    the device does. No retry beyond that budget, no back-off, no sleeping for its own sake: run
 *    decides when.
 *  - Errors are negative errno values with a sentence. -EAGAIN: try again later, still connected
 *    (a quarantine, a busy slave). -EIO, -ENODEV, -ENXIO, -EBADF, -ENOTCONN: the connection is
 *    gone, run calls `disconnect`, waits, and calls `connect` again. After any error the bus stays
 *    usable or says -EIO for ever; it never crashes, exits, aborts or logs.
 *  - No mutable statics: all state hangs on the struct bus. Time comes from base/clock.h: real time
 *    for how long a device may take, boot time for when a value was taken.
 *  - `make_safe` may be called in any state (also before connect and after an error), tries every
 *    output even when one fails, and returns the first error.
 *  - `write` returns 0 only when the device took the value; `ret_seen` is what was read back
 *    afterwards in the same unit, or NaN where the device cannot be asked.
 *
 * Units: a dim output takes the drive 0 … 1 of its range, a switch output 0 (open) or 1 (closed);
 * a sensor gives its value in the unit of its kind (SENSOR_PPFD: µmol m⁻² s⁻¹, SENSOR_TEMPERATURE:
 * °C, SENSOR_HUMIDITY: % relative, SENSOR_POWER: W) after the driver applied scale and offset.
 */
#ifndef LAMPWARDEN_DRIVER_H
#define LAMPWARDEN_DRIVER_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct err;
struct bus; /* each driver defines its own */

enum sensor_kind { SENSOR_PPFD, SENSOR_TEMPERATURE, SENSOR_HUMIDITY, SENSOR_POWER };
enum output_kind { OUTPUT_DIM, OUTPUT_SWITCH };

enum option_type { OPTION_TEXT, OPTION_INT, OPTION_REAL, OPTION_BOOL, OPTION_CHOICE };

/* One key of a bus, a sensor or an output as the configuration writes it. */
struct option {
    const char *name;
    enum option_type type;
    const char *unit;     /* shown in messages and documentation; "" when it has none */
    double low, high;     /* OPTION_INT, OPTION_REAL: allowed range; OPTION_TEXT: length */
    const char *choices;  /* OPTION_CHOICE: "abcd cdab badc dcba" */
    const char *fallback; /* value when absent, as text; NULL: the key is required */
    const char *help;     /* one or two sentences for the documented configuration */
};

/* Parallel to the option table that asked for it. Texts belong to the caller, outlive the bus. */
struct option_value {
    const char *text; /* OPTION_TEXT, and OPTION_CHOICE as written */
    int64_t integer;  /* OPTION_INT; OPTION_CHOICE: index into choices */
    double real;      /* OPTION_REAL */
    bool flag;        /* OPTION_BOOL */
};

#define SAMPLE_RAW_MAX 24

/* What one sensor said in one read. `error` is 0 or a negative errno; value is valid with 0. */
struct sample {
    double value;
    int64_t taken_ns; /* boot time at which the answer arrived */
    int error;
    /* As the device said it, believed or not: "0x00EB 0x41C8", "23500"; "": nothing to show. */
    char raw[SAMPLE_RAW_MAX];
};

struct driver {
    const char *name; /* the configuration's `driver = "…"` */
    const char *help; /* one sentence */

    /* Tables end with an entry whose name is NULL; a NULL table: this driver has none. */
    const struct option *bus_options;
    const struct option *sensor_options;
    const struct option *dim_options;
    const struct option *switch_options;

    int (*create)(const struct option_value *options, struct bus **ret, struct err *err);
    /* Ids count from 0 in the order of the calls, sensors and outputs apart. */
    int (*add_sensor)(struct bus *bus, enum sensor_kind kind, const struct option_value *options,
                      struct err *err);
    int (*add_output)(struct bus *bus, enum output_kind kind, const struct option_value *options,
                      struct err *err);
    int (*connect)(struct bus *bus, struct err *err);
    /* Fills one sample per added sensor. Returns 0 when the bus as a whole answered; single
     * sensors may still carry errors. On a negative return every sample carries that error. A bus
     * without sensors is asked too: a closed contact is not written again, so this is where it
     * shows that its device is gone. */
    int (*read)(struct bus *bus, struct sample *ret_samples, struct err *err);
    int (*write)(struct bus *bus, int output, double value, double *ret_seen, struct err *err);
    int (*make_safe)(struct bus *bus, struct err *err);
    void (*disconnect)(struct bus *bus);
    /* For a bus whose devices have addresses, else NULL: asks one address, configured or not, for
     * anything at all, with at most one harmless request, within the time of a read. 0: someone
     * answered, ret_words says what ("register 0 holds 235", "refuses: illegal data address").
     * -EINVAL: no such address on this kind of bus; -ETIMEDOUT: nobody there; -EAGAIN: ask again;
     * else as `read`. Sensors and outputs of the bus go on as before. Works without a connection,
     * too: that nobody answers at the configured addresses is a reason to ask. */
    int (*probe)(struct bus *bus, int address, char *ret_words, size_t size, struct err *err);
    void (*destroy)(struct bus *bus); /* NULL is fine; disconnects first */
    /* Of a temperature sensor with these options: what it shows before its first measurement, °C;
     * NaN: no such value. NULL: not for any sensor of this driver. */
    double (*power_on_c)(const struct option_value *options);
};

/* All drivers of this build, ended by NULL. */
extern const struct driver *const driver_registry[];

/* By name; NULL when this build has none of that name. */
const struct driver *driver_find(const char *name);

/* "built without: gpio (Debian: libgpiod-dev)" or "" – for messages about an unknown driver. */
const char *driver_missing(void);

/* Does this error of a driver mean that the connection is gone? See the contract above. */
bool driver_is_gone(int error);

/* How many options a table holds (0 for NULL). */
size_t option_count(const struct option *table);

#endif
