/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Every key of the configuration in const tables: name, type, unit, range, default, help. The same
 * tables parse, check, document and print. The options of drivers are turned into keys and join the
 * table of their bus, sensor or output behind its own keys.
 *
 * A new key is one row here, its index in the enum above its table, and one line in
 * config_build*.c.
 */
#ifndef LAMPWARDEN_SCHEMA_H
#define LAMPWARDEN_SCHEMA_H

#include "driver.h"

#include <stdbool.h>

enum key_type {
    KEY_TEXT, /* low … high: length */
    KEY_NAME, /* letters, digits, '_', '-', '.'; unique in its list */
    KEY_INT,
    KEY_REAL,
    KEY_BOOL,
    KEY_CHOICE, /* one word of `choices` */
    KEY_TIME, /* "06:00", seconds of the day; "24:00" too where high is SCHEMA_DAY_END_S; a word of
                 choices, if there are any: −1 − its index */
    KEY_DATE, /* "2026-11-02", days since 1970-01-01 */
    KEY_OFFSET,   /* "+01:00", seconds east of UTC */
    KEY_WEEKDAYS, /* "Mon-Fri", bits from Monday */
    KEY_MONTHS,   /* "Nov-Feb", bits from January */
    KEY_REF,      /* name of an entry of the top-level list `target` */
    KEY_REFS,     /* list of such names; low … high: how many */
    KEY_TEXTS,    /* list of texts; low … high: how many */
    KEY_GROUP,    /* keys of its own */
    KEY_LIST,     /* list of groups; low … high: how many */
};

#define SCHEMA_DAY_END_S  86400
#define SCHEMA_TEXTS_EACH 255 /* bytes of each text of a list */

/* Whose driver options join the keys of a list's entries. */
enum key_extra { EXTRA_NONE, EXTRA_BUS, EXTRA_SENSOR, EXTRA_OUTPUT };

enum root_key {
    ROOT_SITE,
    ROOT_CLOCK,
    ROOT_BUSES,
    ROOT_SENSORS,
    ROOT_OUTPUTS,
    ROOT_LIMITS, /* before the fixtures, which inherit from it */
    ROOT_FIXTURES,
    ROOT_STAGES,
    ROOT_SPACES,
    ROOT_JOURNAL,
    ROOT_CONTROL,
    ROOT_PAGE,
    ROOT_ALARM,
};

struct key {
    const char *name;
    enum key_type type;
    const char *unit; /* NULL: none */
    double low, high;
    const char *choices;
    const char *fallback;       /* NULL: required; "": may be absent */
    const char *const *by_kind; /* instead of fallback: one for each choice of the entry's "kind" */
    const char *help;
    const struct key *inner; /* KEY_GROUP, KEY_LIST; ended by a row without a name */
    enum root_key target;    /* KEY_REF, KEY_REFS */
    const char *target_kind; /* … whose "kind" must be this; NULL: any */
    enum key_extra extra;    /* KEY_LIST */
    bool inherits;           /* KEY_GROUP: absent keys come from the same group of `limits` */
    bool is_hardware;        /* a change needs the device, or its worker, started again */
};

extern const struct key schema_root[];

enum site_key {
    SITE_NAME,
    SITE_UTC_OFFSET,
    SITE_TIME_ZONE,
    SITE_LATITUDE,
    SITE_LONGITUDE,
    SITE_PRICE,
    SITE_CURRENCY,
    SITE_TARIFF,
    SITE_POWER,
};
enum power_key { POWER_LIMIT, POWER_SOFT, POWER_SOFT_PRICE };
enum tariff_key { TARIFF_RULES, TARIFF_FILE, TARIFF_EXTRA };
enum rule_key { RULE_DAYS, RULE_MONTHS, RULE_FROM, RULE_TO, RULE_PRICE };
enum clock_key { CLOCK_TRUST_HELD_OVER };
enum bus_key { BUS_NAME, BUS_DRIVER, BUS_EVERY };
enum sensor_key {
    SENSOR_NAME,
    SENSOR_BUS,
    SENSOR_KIND,
    SENSOR_LOW,
    SENSOR_HIGH,
    SENSOR_STALE,
    SENSOR_LOST,
    SENSOR_JUMP,
    SENSOR_FROZEN,
    SENSOR_FROZEN_STIR,
    SENSOR_POWER_ON,
};
enum output_key { OUTPUT_NAME, OUTPUT_BUS, OUTPUT_KIND, OUTPUT_TOLERANCE };
enum limits_key { LIMITS_HEAT, LIMITS_SWITCHING, LIMITS_LED_DRIVER };
enum heat_key {
    HEAT_FROM,
    HEAT_TO,
    HEAT_LEVEL,
    HEAT_TRIP,
    HEAT_REARM,
    HEAT_FILTER,
    HEAT_RISE,
    HEAT_LOST,
    HEAT_STEEP,
    HEAT_LATCH,
};
enum switching_key { SWITCHING_MIN_ON, SWITCHING_MIN_OFF, SWITCHING_SETTLE };
enum led_driver_key {
    LED_COLLAPSE,
    LED_CONFIRM,
    LED_SETTLE,
    LED_REST,
    LED_LONG_REST,
    LED_STEP,
    LED_TRIES,
    LED_LOWEST,
};
enum point_key { POINT_DRIVE, POINT_LEVEL, POINT_WATTS };
enum measured_key {
    MEASURED_DATE,
    MEASURED_SENSOR,
    MEASURED_HEAT_LOW,
    MEASURED_HEAT_HIGH,
    MEASURED_WORST_LEVEL,
    MEASURED_RMS_LEVEL,
    MEASURED_RMS_W,
    MEASURED_HOLDS,
    MEASURED_SATURATED,
    MEASURED_DROOP,
    MEASURED_DROOP_PER_K,
    MEASURED_CEILING_HEAT,
    MEASURED_CEILING_MARGIN,
    MEASURED_READINGS,
};
enum reading_key { READING_DRIVE, READING_LEVEL, READING_WATTS };
enum fixture_key {
    FIXTURE_NAME,
    FIXTURE_DIM,
    FIXTURE_SWITCH,
    FIXTURE_CURVE,
    FIXTURE_FULL_WATTS,
    FIXTURE_PPFD_FULL,
    FIXTURE_COMMISSIONED,
    FIXTURE_COMMISSIONED_C,
    FIXTURE_DRIVE_CEILING,
    FIXTURE_SAFE_DRIVE,
    FIXTURE_HEAT_SENSORS,
    FIXTURE_POWER_SENSOR,
    FIXTURE_HEAT,
    FIXTURE_SWITCHING,
    FIXTURE_LED_DRIVER,
    FIXTURE_MEASURED,
};
enum stage_key {
    STAGE_NAME,
    STAGE_DAYS,
    STAGE_ON,
    STAGE_LENGTH,
    STAGE_TARGET,
    STAGE_CARRY,
    STAGE_CEILING,
    STAGE_FLOOR,
    STAGE_DAWN,
    STAGE_DUSK,
    STAGE_RAMP,
    STAGE_PROTECT,
    STAGE_RISE,
    STAGE_RUN,
    STAGE_REST,
};
enum space_key {
    SPACE_NAME,
    SPACE_FIXTURES,
    SPACE_PPFD,
    SPACE_CANOPY,
    SPACE_AGED_AT,
    SPACE_AIR_C,
    SPACE_AIR_RH,
    SPACE_DAYLIGHT,
    SPACE_DAYLIGHT_SHARE,
    SPACE_DAY_START,
    SPACE_STAGES,
    SPACE_START,
    SPACE_ACCLIMATION,
    SPACE_CLOCK_POLICY,
    SPACE_RISE,
    SPACE_FALL,
    SPACE_MARGIN,
    SPACE_NIGHT_LIGHT,
    SPACE_NIGHT_CONFIRM,
    SPACE_BRIDGE,
    SPACE_ESTIMATE,
};
enum journal_key { JOURNAL_PATH, JOURNAL_KEEP, JOURNAL_COMMIT };
enum control_key { CONTROL_SOCKET, CONTROL_GROUP };
enum page_key { PAGE_ADDRESS, PAGE_PORT, PAGE_PASSWORD_FILE, PAGE_BEHIND_PROXY, PAGE_HOST_NAMES };

enum alarm_key { ALARM_COMMANDS };
enum alarm_command_key {
    ALARM_NAME,
    ALARM_COMMAND,
    ALARM_CLASS,
    ALARM_KINDS,
    ALARM_PER_HOUR,
    ALARM_TIME_LIMIT,
};

int schema_count(const struct key *keys);

/* The same thing in the words of a driver's option. */
struct key schema_from_option(const struct option *option);

/* Which of a key's words this is; −1: none of them. */
int schema_choice(const char *choices, const char *word);

/* "0 … 24, h", "06:00", "one of: dim, switch": what a key takes, for messages and comments. */
void schema_describe(const struct key *key, char *buffer, unsigned size);

#endif
