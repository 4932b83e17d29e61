/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The bench as a driver: simulated fixtures and sensors inside the daemon, in real time (times
 * `pace`). Bench time begins with the first connect and goes on through errors and reconnects.
 * Under the script's bus-down nothing answers: reads fail with -EIO, so that run takes its usual
 * way back.
 */
#include "bench_faults.h"
#include "bench_model.h"
#include "driver.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <stdlib.h>

#define POINTS_MAX 512
/* Reads closer together than this see the same readings: real sensors convert no faster. */
#define STEP_MIN_S 0.05

enum bus_option {
    BUS_SEED,
    BUS_LAYOUT,
    BUS_FULL_UMOL,
    BUS_FULL_WATTS,
    BUS_TRIP_DRIVE,
    BUS_TRIP_COLD,
    BUS_ROOM,
    BUS_ROOM_SWING,
    BUS_HUMIDITY,
    BUS_DAYLIGHT,
    BUS_NOISE,
    BUS_PACE,
    BUS_SCRIPT,
    BUS_OPTIONS
};

static const struct option bus_options[] = {
    [BUS_SEED] = {"seed", OPTION_INT, "", 0, 9007199254740992.0, NULL, "1",
                  "The same seed and the same commands give the same noise."},
    [BUS_LAYOUT] =
        {"layout", OPTION_TEXT, "", 1, 200, NULL, "1",
         "How many fixtures hang over each canopy: \"2,1,1\" is two over canopy 0, one each "
         "over canopies 1 and 2."},
    [BUS_FULL_UMOL] = {"full_umol", OPTION_REAL, "µmol m⁻² s⁻¹", 1, 3000, NULL, "420",
                       "PPFD of each fixture at its canopy at full light, cold."},
    [BUS_FULL_WATTS] = {"full_watts", OPTION_REAL, "W", 1, 3000, NULL, "300",
                        "Wall power of each fixture at full light; its heatsink is scaled to it."},
    [BUS_TRIP_DRIVE] = {"trip_drive", OPTION_REAL, "ratio", 0.1, 2, NULL, "2",
                        "Above this drive the LED drivers trip; above 1: never."},
    [BUS_TRIP_COLD] = {"trip_cold_c", OPTION_REAL, "°C", -40, 200, NULL, "200",
                       "They trip only while the heatsink is colder than this."},
    [BUS_ROOM] = {"room_c", OPTION_REAL, "°C", -20, 60, NULL, "22",
                  "Mean temperature of the room."},
    [BUS_ROOM_SWING] = {"room_swing_c", OPTION_REAL, "K", 0, 20, NULL, "2",
                        "Half the daily swing of the room; coldest at the start and every 24 h."},
    [BUS_HUMIDITY] = {"humidity", OPTION_REAL, "%", 1, 100, NULL, "60",
                      "Relative humidity at the room's mean temperature."},
    [BUS_DAYLIGHT] = {"daylight_umol", OPTION_REAL, "µmol m⁻² s⁻¹", 0, 2500, NULL, "0",
                      "Steady daylight on every canopy."},
    [BUS_NOISE] = {"ppfd_noise", OPTION_REAL, "ratio", 0, 0.2, NULL, "0.005",
                   "Standard deviation of the PPFD readings, as a share of the reading."},
    [BUS_PACE] = {"pace", OPTION_REAL, "ratio", 0.1, 3600, NULL, "1",
                  "How much faster than real time the bench lives."},
    [BUS_SCRIPT] = {"script", OPTION_TEXT, "", 0, 255, NULL, "",
                    "Fault script: a text file, one fault a line: FROM LENGTH KIND UNIT [VALUE]."},
    [BUS_OPTIONS] = {.name = NULL},
};

enum what { WHAT_USUAL, WHAT_PPFD, WHAT_HEAT, WHAT_POWER, WHAT_AIR, WHAT_HUMIDITY };

enum point_option { POINT_UNIT, POINT_WHAT, POINT_OPTIONS };

#define UNIT_OPTION                                                                                \
    {                                                                                              \
        "unit", OPTION_INT, "", 0, BENCH_FIXTURES_MAX - 1, NULL, "0",                              \
            "Counts from 0: the fixture, or the canopy of a PPFD sensor."                          \
    }

static const struct option sensor_options[] = {
    [POINT_UNIT] = UNIT_OPTION,
    [POINT_WHAT] = {"what", OPTION_CHOICE, "", 0, 0, "usual ppfd heat power air humidity", "usual",
                    "What is measured. usual: what the sensor's kind says, for a temperature the "
                    "heatsink; air: the room."},
    [POINT_OPTIONS] = {.name = NULL},
};

static const struct option output_options[] = {
    [POINT_UNIT] = UNIT_OPTION,
    {.name = NULL},
};

#undef UNIT_OPTION

struct sensor {
    enum what what;
    int unit;
};

struct output {
    enum output_kind kind;
    int unit;
};

struct bus {
    struct bench_model *model;
    double pace;
    bool has_begun, is_connected;
    int64_t stepped_ns;
    int sensor_count, output_count;
    struct sensor sensors[POINTS_MAX];
    struct output outputs[POINTS_MAX];
};

static void bench_destroy(struct bus *bus)
{
    if (bus) {
        bench_model_destroy(bus->model);
        free(bus);
    }
}

static int fill_setup(struct bench_setup *setup, const struct option_value *options,
                      struct err *err)
{
    bench_setup_defaults(setup);
    setup->seed = (uint64_t)options[BUS_SEED].integer;
    setup->room_c = options[BUS_ROOM].real;
    setup->room_swing_c = options[BUS_ROOM_SWING].real;
    setup->humidity_percent = options[BUS_HUMIDITY].real;
    setup->ppfd_noise = options[BUS_NOISE].real;
    int code = bench_setup_layout(setup, options[BUS_LAYOUT].text, options[BUS_FULL_UMOL].real,
                                  options[BUS_FULL_WATTS].real, err);
    for (int i = 0; code == 0 && i < setup->fixture_count; i++) {
        setup->fixtures[i].trip_drive = options[BUS_TRIP_DRIVE].real;
        setup->fixtures[i].trip_cold_c = options[BUS_TRIP_COLD].real;
    }
    return code;
}

static int create_model(struct bus *bus, const struct option_value *options, struct err *err)
{
    struct bench_setup setup;
    int code = fill_setup(&setup, options, err);
    if (code < 0) {
        return code;
    }
    bus->pace = options[BUS_PACE].real;
    bus->model = bench_model_create(&setup);
    if (!bus->model) {
        return err_fail(err, ENOMEM, "no memory for the bench");
    }
    for (int i = 0; i < bench_model_canopies(bus->model); i++) {
        bench_model_set_daylight(bus->model, i, options[BUS_DAYLIGHT].real);
    }
    const char *script = options[BUS_SCRIPT].text;
    return script && *script ? bench_faults_load(bus->model, script, err) : 0;
}

static int bench_create(const struct option_value *options, struct bus **ret, struct err *err)
{
    struct bus *bus = calloc(1, sizeof *bus);
    if (!bus) {
        return err_fail(err, ENOMEM, "no memory for the bench");
    }
    int code = create_model(bus, options, err);
    if (code < 0) {
        bench_destroy(bus);
        return code;
    }
    *ret = bus;
    return 0;
}

static int check_unit(const char *what, int64_t unit, int count, struct err *err)
{
    if (unit >= count) {
        return err_fail(err, ERANGE, "unit: %s %lld does not exist (0 … %d by the bus's layout)",
                        what, (long long)unit, count - 1);
    }
    return 0;
}

static enum what usual_what(enum sensor_kind kind)
{
    switch (kind) {
    case SENSOR_PPFD:
        return WHAT_PPFD;
    case SENSOR_TEMPERATURE:
        return WHAT_HEAT;
    case SENSOR_HUMIDITY:
        return WHAT_HUMIDITY;
    case SENSOR_POWER:
        return WHAT_POWER;
    }
    return WHAT_USUAL;
}

static int bench_add_sensor(struct bus *bus, enum sensor_kind kind,
                            const struct option_value *options, struct err *err)
{
    if (bus->sensor_count == POINTS_MAX) {
        return err_fail(err, ENOSPC, "more than %d sensors on one bench", POINTS_MAX);
    }
    enum what what = (enum what)options[POINT_WHAT].integer;
    if (what == WHAT_USUAL) {
        what = usual_what(kind);
    }
    bool is_air = kind == SENSOR_TEMPERATURE && what == WHAT_AIR;
    if (what != usual_what(kind) && !is_air) {
        return err_fail(err, EINVAL, "what: \"%s\" does not fit a sensor of this kind",
                        options[POINT_WHAT].text ? options[POINT_WHAT].text : "?");
    }
    int64_t unit = options[POINT_UNIT].integer;
    int code = 0;
    if (what == WHAT_PPFD) {
        code = check_unit("canopy", unit, bench_model_canopies(bus->model), err);
    } else if (what == WHAT_HEAT || what == WHAT_POWER) {
        code = check_unit("fixture", unit, bench_model_fixtures(bus->model), err);
    }
    if (code < 0) {
        return code;
    }
    bus->sensors[bus->sensor_count++] = (struct sensor){.what = what, .unit = (int)unit};
    return 0;
}

static int bench_add_output(struct bus *bus, enum output_kind kind,
                            const struct option_value *options, struct err *err)
{
    if (bus->output_count == POINTS_MAX) {
        return err_fail(err, ENOSPC, "more than %d outputs on one bench", POINTS_MAX);
    }
    int64_t unit = options[POINT_UNIT].integer;
    int code = check_unit("fixture", unit, bench_model_fixtures(bus->model), err);
    if (code < 0) {
        return code;
    }
    for (int i = 0; i < bus->output_count; i++) {
        if (bus->outputs[i].kind == kind && bus->outputs[i].unit == unit) {
            return err_fail(err, ENOTUNIQ, "unit: another output drives fixture %lld already",
                            (long long)unit);
        }
    }
    bus->outputs[bus->output_count++] = (struct output){.kind = kind, .unit = (int)unit};
    return 0;
}

static void catch_up(struct bus *bus)
{
    int64_t now_ns = clock_boot_ns();
    if (!bus->has_begun) {
        bus->has_begun = true;
        bus->stepped_ns = now_ns;
    }
    double seconds = (double)(now_ns - bus->stepped_ns) / (double)CLOCK_NS_PER_S * bus->pace;
    if (seconds >= STEP_MIN_S) {
        bench_model_run(bus->model, seconds);
        bus->stepped_ns = now_ns;
    }
}

static int check_alive(const struct bus *bus, struct err *err)
{
    if (bench_model_has_fault(bus->model, BENCH_BUS_DOWN, 0, NULL)) {
        return err_fail(err, EIO, "the bench does not answer (fault script: bus-down)");
    }
    return 0;
}

static int bench_make_safe(struct bus *bus, struct err *err)
{
    catch_up(bus);
    int code = check_alive(bus, err);
    for (int i = 0; code == 0 && i < bus->output_count; i++) {
        switch (bus->outputs[i].kind) {
        case OUTPUT_DIM:
            bench_model_set_drive(bus->model, bus->outputs[i].unit, 0);
            break;
        case OUTPUT_SWITCH:
            bench_model_set_switch(bus->model, bus->outputs[i].unit, false);
            break;
        }
    }
    return code;
}

static int bench_connect(struct bus *bus, struct err *err)
{
    int code = bench_make_safe(bus, err);
    bus->is_connected = code == 0;
    return code;
}

static int read_sensor(struct bench_model *model, const struct sensor *sensor, double *ret)
{
    double temperature = 0, humidity = 0;
    int code = -EINVAL;
    switch (sensor->what) {
    case WHAT_PPFD:
        return bench_model_ppfd(model, sensor->unit, ret);
    case WHAT_HEAT:
        return bench_model_heat(model, sensor->unit, ret);
    case WHAT_POWER:
        return bench_model_power(model, sensor->unit, ret);
    case WHAT_AIR:
    case WHAT_HUMIDITY:
        code = bench_model_air(model, &temperature, &humidity);
        if (code == 0) {
            *ret = sensor->what == WHAT_AIR ? temperature : humidity;
        }
        return code;
    case WHAT_USUAL:
        break;
    }
    return code;
}

static int bench_read(struct bus *bus, struct sample *ret_samples, struct err *err)
{
    int code = bus->is_connected ? 0 : err_fail(err, ENOTCONN, "the bench is not connected");
    if (code == 0) {
        catch_up(bus);
        code = check_alive(bus, err);
    }
    int64_t now_ns = clock_boot_ns();
    for (int i = 0; i < bus->sensor_count; i++) {
        struct sample sample = {.taken_ns = now_ns, .error = code};
        if (code == 0) {
            sample.error = read_sensor(bus->model, &bus->sensors[i], &sample.value);
        }
        ret_samples[i] = sample;
    }
    return code;
}

static int bench_write(struct bus *bus, int output, double value, double *ret_seen, struct err *err)
{
    if (!bus->is_connected) {
        return err_fail(err, ENOTCONN, "the bench is not connected");
    }
    if (output < 0 || output >= bus->output_count || !(value >= 0 && value <= 1)) {
        return err_fail(err, EINVAL, "output %d: %g is out of range (0 … 1)", output, value);
    }
    catch_up(bus);
    int code = check_alive(bus, err);
    if (code < 0) {
        return code;
    }
    int unit = bus->outputs[output].unit;
    bool is_closed = false;
    switch (bus->outputs[output].kind) {
    case OUTPUT_DIM:
        bench_model_set_drive(bus->model, unit, value);
        return bench_model_drive(bus->model, unit, ret_seen);
    case OUTPUT_SWITCH:
        bench_model_set_switch(bus->model, unit, value >= 0.5);
        code = bench_model_switch(bus->model, unit, &is_closed);
        *ret_seen = is_closed ? 1 : 0;
        return code;
    }
    return err_fail(err, EINVAL, "output %d has no kind", output);
}

static void bench_disconnect(struct bus *bus)
{
    bus->is_connected = false;
}

extern const struct driver driver_bench;
const struct driver driver_bench = {
    .name = "bench",
    .help = "Simulated fixtures, canopies, sensors and a room inside the daemon; no hardware.",
    .bus_options = bus_options,
    .sensor_options = sensor_options,
    .dim_options = output_options,
    .switch_options = output_options,
    .create = bench_create,
    .add_sensor = bench_add_sensor,
    .add_output = bench_add_output,
    .connect = bench_connect,
    .read = bench_read,
    .write = bench_write,
    .make_safe = bench_make_safe,
    .disconnect = bench_disconnect,
    .destroy = bench_destroy,
};
