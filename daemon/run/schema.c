/* SPDX-License-Identifier: Apache-2.0 */
/* The top of the tables and what stands alone; schema_space.c has what grows, schema_fixture.c the
 * lamps. */
#include "schema.h"

#include "schema_parts.h"

#include "config.h"
#include "prices.h"

/* One row a key: its facts first, its help below. */
/* clang-format off */

static const struct key site_keys[] = {
    [SITE_NAME] = {.name = "name", .type = KEY_TEXT, .high = 63, .fallback = "",
        .help = "What the place is called in reports."},
    [SITE_UTC_OFFSET] = {.name = "utc_offset", .type = KEY_OFFSET, .fallback = "",
        .help = "Offset from UTC that all light days use, the whole year. Give this or time_zone."},
    [SITE_TIME_ZONE] = {.name = "time_zone", .type = KEY_TEXT, .low = 1, .high = 63,
        .fallback = "",
        .help = "Name in the system's time zone table, such as \"Europe/Berlin\". Its winter time "
                "is used all year: daylight saving never moves the night of the plants."},
    [SITE_LATITUDE] = {.name = "latitude", .type = KEY_REAL, .unit = "degrees north", .low = -90,
        .high = 90, .fallback = "",
        .help = "For the path of the sun; north is positive."},
    [SITE_LONGITUDE] = {.name = "longitude", .type = KEY_REAL, .unit = "degrees east", .low = -180,
        .high = 180, .fallback = "",
        .help = "For the path of the sun; east is positive."},
    [SITE_PRICE] = {.name = "price_per_kwh", .type = KEY_REAL, .unit = "currency per kWh",
        .low = PRICES_LOW, .high = PRICES_HIGH, .fallback = "0",
        .help = "Price of electricity, where no rule and no row of the tariff below holds."},
    [SITE_CURRENCY] = {.name = "currency", .type = KEY_TEXT, .high = 7, .fallback = "",
        .help = "Written behind costs."},
    [SITE_TARIFF] = {.name = "tariff", .type = KEY_GROUP, .inner = schema_tariff,
        .help = "Prices that change. Day reports say what the light of the day has cost by them."},
    [SITE_POWER] = {.name = "power", .type = KEY_GROUP, .inner = schema_power,
        .help = "The supply that all lamps share."},
    {0},
};

static const struct key clock_keys[] = {
    [CLOCK_TRUST_HELD_OVER] = {.name = "trust_held_over", .type = KEY_BOOL, .fallback = "true",
        .help = "After a start without network time: believe the clock when it is later than the "
                "last entry of the journal, by at most a year (a battery-backed clock). false: "
                "wait for network time."},
    {0},
};

static const struct key bus_keys[] = {
    [BUS_NAME] = {.name = "name", .type = KEY_NAME, .low = 1, .high = CONFIG_NAME_MAX - 1,
        .is_hardware = true,
        .help = "Your own name for this line."},
    [BUS_DRIVER] = {.name = "driver", .type = KEY_TEXT, .low = 1, .high = 31, .is_hardware = true,
        .help = "Who speaks on it: modbus-tcp, modbus-rtu, gpio, pwm, dac, hwmon, or bench (simulated). The "
                "keys below belong to it."},
    [BUS_EVERY] = {.name = "every_s", .type = KEY_REAL, .unit = "s", .low = 0.2, .high = 60,
        .fallback = "1.0", .is_hardware = true,
        .help = "How often its sensors are read."},
    {0},
};

/* One for each kind of sensor: ppfd, temperature, humidity, power. An open thermistor reads as the
 * end of its table, usually −40 °C, which must not pass for cool. */
static const char *const kind_low[] = {"-10.0", "-35.0", "0.0", "0.0"};
static const char *const kind_high[] = {"4000.0", "125.0", "100.0", "5000.0"};
static const char *const kind_stale[] = {"10.0", "10.0", "60.0", "10.0"};
static const char *const kind_lost[] = {"60.0", "60.0", "300.0", "60.0"};
static const char *const kind_jump[] = {"0.0", "5.0", "0.0", "0.0"};
static const char *const kind_frozen[] = {"300.0", "0.0", "0.0", "300.0"};

static const struct key sensor_keys[] = {
    [SENSOR_NAME] = {.name = "name", .type = KEY_NAME, .low = 1, .high = CONFIG_NAME_MAX - 1,
        .is_hardware = true,
        .help = "Your own name for this sensor."},
    [SENSOR_BUS] = {.name = "bus", .type = KEY_REF, .target = ROOT_BUSES, .is_hardware = true,
        .help = "The line it hangs on. The keys below belong to that line's driver."},
    [SENSOR_KIND] = {.name = "kind", .type = KEY_CHOICE,
        .choices = "ppfd temperature humidity power", .is_hardware = true,
        .help = "What it measures: ppfd in µmol m⁻² s⁻¹, temperature in °C, humidity in % "
                "relative, power in W."},
    [SENSOR_LOW] = {.name = "low", .type = KEY_REAL, .unit = "unit of its kind", .low = -1e6,
        .high = 1e6, .by_kind = kind_low,
        .help = "A reading below this cannot be true and is refused."},
    [SENSOR_HIGH] = {.name = "high", .type = KEY_REAL, .unit = "unit of its kind", .low = -1e6,
        .high = 1e6, .by_kind = kind_high,
        .help = "A reading above this cannot be true and is refused."},
    [SENSOR_STALE] = {.name = "stale_s", .type = KEY_REAL, .unit = "s", .low = 0.5, .high = 86400,
        .by_kind = kind_stale,
        .help = "A reading older than this is not acted on any more."},
    [SENSOR_LOST] = {.name = "lost_s", .type = KEY_REAL, .unit = "s", .low = 1, .high = 86400,
        .by_kind = kind_lost,
        .help = "A sensor without a good reading for this long counts as lost."},
    [SENSOR_JUMP] = {.name = "jump_per_s", .type = KEY_REAL, .unit = "unit of its kind per second",
        .low = 0, .high = 1e6, .by_kind = kind_jump,
        .help = "A faster change is not believed before three readings agree; 0: any change is "
                "believed."},
    [SENSOR_FROZEN] = {.name = "frozen_s", .type = KEY_REAL, .unit = "s", .low = 0, .high = 86400,
        .by_kind = kind_frozen,
        .help = "A reading that stands still for this long while the light changed is suspect; 0: "
                "not watched."},
    [SENSOR_FROZEN_STIR] = {.name = "frozen_stir", .type = KEY_REAL, .unit = "share of full light",
        .low = 0.01, .high = 1, .fallback = "0.1",
        .help = "How far the light must have changed for that."},
    [SENSOR_POWER_ON] = {.name = "power_on_c", .type = KEY_REAL, .unit = "°C", .low = -100,
        .high = 200, .fallback = "",
        .help = "A value that the chip shows before its first measurement (85 for many 1-Wire "
                "probes, set by itself for those that the kernel reads). Refused at first; believed "
                "when the temperature was led up to it, when another sensor of the fixture is "
                "nearly as hot, or when it stays for lost_s and no other sensor of the fixture is "
                "good. -100 switches this off."},
    {0},
};

static const struct key output_keys[] = {
    [OUTPUT_NAME] = {.name = "name", .type = KEY_NAME, .low = 1, .high = CONFIG_NAME_MAX - 1,
        .is_hardware = true,
        .help = "Your own name for this output."},
    [OUTPUT_BUS] = {.name = "bus", .type = KEY_REF, .target = ROOT_BUSES, .is_hardware = true,
        .help = "The line it hangs on. The keys below belong to that line's driver."},
    [OUTPUT_KIND] = {.name = "kind", .type = KEY_CHOICE, .choices = "dim switch",
        .is_hardware = true,
        .help = "dim: sets the dimming line of a fixture; switch: closes and opens its mains "
                "contact."},
    [OUTPUT_TOLERANCE] = {.name = "tolerance", .type = KEY_REAL,
        .unit = "share of the output's range", .low = 0.0001, .high = 0.5, .fallback = "0.01",
        .help = "dim: how far the value read back may differ from the one written before it counts "
                "as a fault."},
    {0},
};

static const struct key journal_keys[] = {
    [JOURNAL_PATH] = {.name = "path", .type = KEY_TEXT, .high = 255,
        .fallback = "/var/lib/lampwarden/journal.db",
        .help = "The file that keeps readings, events and day reports. \"\": nothing is kept, also "
                "not over a restart."},
    [JOURNAL_KEEP] = {.name = "keep_days", .type = KEY_INT, .unit = "days", .low = 1,
        .high = 36500, .fallback = "400",
        .help = "Minute readings older than this are dropped; events and day reports stay."},
    [JOURNAL_COMMIT] = {.name = "commit_s", .type = KEY_REAL, .unit = "s", .low = 1, .high = 3600,
        .fallback = "60.0",
        .help = "How often readings are written to the disk; alarms are written at once. Larger "
                "values spare a memory card, and lose more when the power fails."},
    {0},
};

static const struct key control_keys[] = {
    [CONTROL_SOCKET] = {.name = "socket", .type = KEY_TEXT, .low = 1, .high = 107,
        .fallback = "/run/lampwarden/control",
        .help = "Where the lampwarden command finds the daemon."},
    [CONTROL_GROUP] = {.name = "group", .type = KEY_TEXT, .high = 31, .fallback = "",
        .help = "Members of this group may use it beside root. \"\": nobody else."},
    {0},
};

const struct key schema_root[] = {
    [ROOT_SITE] = {.name = "site", .type = KEY_GROUP, .inner = site_keys,
        .help = "The place, its time and its electricity."},
    [ROOT_CLOCK] = {.name = "clock", .type = KEY_GROUP, .inner = clock_keys,
        .help = "What is believed of the computer's clock."},
    [ROOT_BUSES] = {.name = "buses", .type = KEY_LIST, .inner = bus_keys, .low = 1,
        .high = CONFIG_BUSES_MAX, .extra = EXTRA_BUS,
        .help = "The lines to the devices: one entry for each thing that answers as a whole."},
    [ROOT_SENSORS] = {.name = "sensors", .type = KEY_LIST, .inner = sensor_keys,
        .high = CONFIG_SENSORS_MAX, .fallback = "", .extra = EXTRA_SENSOR,
        .help = "Everything that is measured."},
    [ROOT_OUTPUTS] = {.name = "outputs", .type = KEY_LIST, .inner = output_keys, .low = 1,
        .high = CONFIG_OUTPUTS_MAX, .extra = EXTRA_OUTPUT,
        .help = "Everything that is set or switched."},
    [ROOT_LIMITS] = {.name = "limits", .type = KEY_GROUP, .inner = schema_limits,
        .help = "Protection of the lamps: for every fixture that does not say otherwise."},
    [ROOT_FIXTURES] = {.name = "fixtures", .type = KEY_LIST, .inner = schema_fixture, .low = 1,
        .high = CONFIG_FIXTURES_MAX,
        .help = "The lamps: outputs, dimming curve and sensors of each."},
    [ROOT_STAGES] = {.name = "stages", .type = KEY_LIST, .inner = schema_stage, .low = 1,
        .high = CONFIG_STAGES_MAX,
        .help = "Parts of a crop's life: the day that the plants get in each."},
    [ROOT_SPACES] = {.name = "spaces", .type = KEY_LIST, .inner = schema_space, .low = 1,
        .high = CONFIG_SPACES_MAX,
        .help = "The growing areas, each with its own light day."},
    [ROOT_JOURNAL] = {.name = "journal", .type = KEY_GROUP, .inner = journal_keys,
        .help = "The stored record."},
    [ROOT_CONTROL] = {.name = "control", .type = KEY_GROUP, .inner = control_keys,
        .help = "Who may ask and command."},
    [ROOT_PAGE] = {.name = "page", .type = KEY_GROUP, .inner = schema_page,
        .help = "The page for a browser. It shows and commands nothing."},
    [ROOT_ALARM] = {.name = "alarm", .type = KEY_GROUP, .inner = schema_alarm,
        .help = "Programs of yours that are told what happens: mail, chat, a siren."},
    {0},
};
