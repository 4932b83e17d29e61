/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The whole configuration as one value, owned by the caller.
 *
 * config_load reads libconfig text through the tables of schema.c (path, type, unit, default,
 * range, help) and the option tables of the drivers, checks everything, and reports all errors at
 * once. A configuration that loads is consistent: names resolve to indices, curves are initialised,
 * rules of every space are complete. Nothing points into libconfig. Only config_read.c includes
 * libconfig.h.
 */
#ifndef LAMPWARDEN_CONFIG_H
#define LAMPWARDEN_CONFIG_H

#include "daystart.h"
#include "driver.h"
#include "journal.h"
#include "measured.h"
#include "powershare.h"
#include "quality.h"
#include "space.h"
#include "tariff.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#define CONFIG_NAME_MAX 32

enum config_limits {
    CONFIG_BUSES_MAX = 16,
    CONFIG_SENSORS_MAX = 512,
    CONFIG_OUTPUTS_MAX = 512,
    CONFIG_FIXTURES_MAX = 256,
    CONFIG_SPACES_MAX = 128,
    CONFIG_STAGES_MAX = 64,
    CONFIG_PPFD_SENSORS_MAX = 8, /* per space */
    CONFIG_HEAT_SENSORS_MAX = 4, /* per fixture */
    CONFIG_TARIFF_RULES_MAX = 64,
    CONFIG_ALARMS_MAX = 8,
    CONFIG_ALARM_WORDS_MAX = 32, /* of its command */
    CONFIG_ALARM_KINDS_MAX = 64,
};

struct config_site {
    char name[64];
    char time_zone[64];         /* "" when utc_offset was given */
    int32_t utc_offset_s;       /* fixed offset of the light days (the zone's standard offset) */
    double latitude, longitude; /* degrees, north and east positive; NaN: not given */
    char currency[8];
    struct power_limit power; /* for all spaces together */
    int32_t cheap_end_s; /* of the tariff's cheap block, second of the day; −1: none (daystart.h) */
    struct tariff tariff; /* with the civil time of the zone, or of utc_offset for ever */
};

struct config_bus {
    char name[CONFIG_NAME_MAX];
    const struct driver *driver;
    struct option_value *options; /* parallel to driver->bus_options */
    double every_s;               /* poll period of the worker, 0.2 … 60 */
};

struct config_sensor {
    char name[CONFIG_NAME_MAX];
    int bus; /* index into buses */
    enum sensor_kind kind;
    struct option_value *options; /* parallel to driver->sensor_options */
    struct quality_rules quality;
    int line;
};

struct config_output {
    char name[CONFIG_NAME_MAX];
    int bus;
    enum output_kind kind;
    struct option_value *options; /* parallel to driver->dim_options or switch_options */
    double tolerance; /* dim: largest difference between drive and read-back, usual 0.01 */
    int line;
};

struct config_fixture {
    char name[CONFIG_NAME_MAX];
    int dim_output;    /* −1: switch only, always full light while closed */
    int switch_output; /* −1: none; allowed only where the dimming output can dim to off */
    int heat_sensors[CONFIG_HEAT_SENSORS_MAX];
    int heat_sensor_count;
    int power_sensor; /* −1: none */
    int space;        /* the space that uses it; −1: unused */
    bool is_commissioned;
    int64_t commissioned;  /* day of it, since 1970 */
    double commissioned_c; /* heatsink then; NaN: not noted */
    struct measured measured;
};

struct config_space {
    char name[CONFIG_NAME_MAX];
    int fixtures[SPACE_FIXTURES_MAX]; /* indices into fixtures; parallel to rules.fixtures */
    int ppfd_sensors[CONFIG_PPFD_SENSORS_MAX];
    int ppfd_sensor_count;
    double canopy_factor;              /* canopy mean over reading */
    int air_temperature, air_humidity; /* sensors; −1: none */
    struct daystart day_start;         /* why rules.day starts when it does */
    struct space_rules rules;          /* stages and fixtures point into this config */
};

struct config_journal {
    char path[256];  /* database file; "" : no journal */
    int keep_days;   /* minute rows older than this are dropped, whole days at a time */
    double commit_s; /* usual 60 */
};

struct config_control {
    char socket[108];
    char group[32]; /* who may use the socket beside root and the daemon's own user; "" : nobody */
};

/* A command that is run for events. */
struct config_alarm {
    char name[CONFIG_NAME_MAX];
    const char *const *command; /* NULL-ended; the first is a whole path */
    enum journal_class class;   /* and above … */
    const char *const *kinds;   /* … or these alone; NULL-ended */
    int per_hour;
    double limit_s;
};

/* The page for a browser. */
struct config_page {
    char address[46];        /* IPv4 or IPv6, as written */
    int port;                /* 0: no page */
    char password_file[256]; /* "": none is asked for */
    char host_names[256];    /* further names of this computer, separated by spaces */
    bool is_behind_proxy;
};

struct config {
    char path[256];
    struct config_site site;
    struct config_bus *buses;
    int bus_count;
    struct config_sensor *sensors;
    int sensor_count;
    struct config_output *outputs;
    int output_count;
    struct config_fixture *fixtures;
    struct fixture_rules *fixture_rules; /* ordered by space, then by place in the space's list */
    int fixture_count;
    struct config_space *spaces;
    int space_count;
    struct stage *stages; /* every space's own sequence, one after the other */
    int stage_count;
    bool trust_held_over_clock; /* accept an unsynchronised clock that is later than the journal */
    struct config_journal journal;
    struct config_control control;
    struct config_page page;
    struct config_alarm *alarms;
    int alarm_count;
    void *memory; /* texts of the options and the like; freed by config_free */
};

/* What was found wrong, in the order of the file. */
struct config_report {
    int errors, warnings;
    char
        *text; /* one finding a line: "file:line: path: value is out of range (low … high, unit)",
                * warnings with "warning: " after the line number; malloc'ed, not NULL after load */
};

/* Reads and checks. Returns 0 with *ret owned by the caller, or -EINVAL (findings), -ENOENT, -EFBIG
 * … with *ret NULL. The report is filled in both cases and is the caller's (config_report_free). */
int config_load(const char *path, struct config **ret, struct config_report *ret_report);

/* Its buses and sensors alone: neither the rest of the file nor its absence matters. There are no
 * outputs, fixtures and spaces in *ret. */
int config_load_points(const char *path, struct config **ret, struct config_report *ret_report);

/* As config_load, from memory; `name` stands for the file in messages. */
int config_load_text(const char *name, const char *text, size_t size, struct config **ret,
                     struct config_report *ret_report);

/* Loads in a child process first: libconfig may call exit() on hostile files. Use for reloads and
 * --check. */
int config_load_guarded(const char *path, struct config **ret, struct config_report *ret_report);

void config_free(struct config *config); /* NULL is fine */
void config_report_free(struct config_report *report);

/* Effective values with their origin ("default", "file:line"), as libconfig text. It loads again.
 */
int config_print(const struct config *config, FILE *out);

/* The documented example: every key with unit, default, range and help, from the same tables. */
int config_document(FILE *out);

/* True when both need the same devices: then a reload may swap without a restart. When false,
 * `ret_what` (may be NULL) names the first difference, e.g. "buses[0].host". */
bool config_same_hardware(const struct config *a, const struct config *b, const char **ret_what);

#endif
