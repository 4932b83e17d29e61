/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Keys of the lamps and of their protection. Defaults of heat: a proportional band of 12 K that
 * ends at a limit of 70 °C, falls at once and rises slowly, trips 10 K above and re-arms 15 K below
 * the limit.
 */
#include "schema_parts.h"

#include "config.h"
#include "measured.h"

/* One row a key: its facts first, its help below. */
/* clang-format off */

static const struct key heat_keys[] = {
    [HEAT_FROM] = {.name = "foldback_from_c", .type = KEY_REAL, .unit = "°C", .low = 0,
        .high = 150, .fallback = "58.0",
        .help = "Heatsink temperature at which the light begins to be held down."},
    [HEAT_TO] = {.name = "foldback_to_c", .type = KEY_REAL, .unit = "°C", .low = 0, .high = 150,
        .fallback = "70.0",
        .help = "… and at which only foldback_level is left. Ask the maker for the limit; a band "
                "of 12 K or more does not swing."},
    [HEAT_LEVEL] = {.name = "foldback_level", .type = KEY_REAL, .unit = "share of full light",
        .low = 0.01, .high = 1, .fallback = "0.1",
        .help = "Light that is left at foldback_to_c."},
    [HEAT_TRIP] = {.name = "trip_c", .type = KEY_REAL, .unit = "°C", .low = 0, .high = 200,
        .fallback = "80.0",
        .help = "At or above this three times running the switch opens at once. This does not "
                "replace a thermal cut-out in the fixture."},
    [HEAT_REARM] = {.name = "rearm_c", .type = KEY_REAL, .unit = "°C", .low = 0, .high = 150,
        .fallback = "55.0",
        .help = "Below this the lamp may be lit again."},
    [HEAT_FILTER] = {.name = "filter_s", .type = KEY_REAL, .unit = "s", .low = 0, .high = 600,
        .fallback = "20.0",
        .help = "Time constant of the filter before the band. The trip takes raw readings."},
    [HEAT_RISE] = {.name = "rise_percent_per_min", .type = KEY_REAL,
        .unit = "% of full light per minute", .low = 0.1, .high = 600, .fallback = "10.0",
        .help = "How fast the light comes back as the lamp cools."},
    [HEAT_LOST] = {.name = "sensor_lost_s", .type = KEY_REAL, .unit = "s", .low = 1, .high = 3600,
        .fallback = "30.0",
        .help = "Without any good temperature for this long the lamp counts as hot."},
    [HEAT_STEEP] = {.name = "steep_k_per_s", .type = KEY_REAL, .unit = "K/s", .low = 0.1,
        .high = 1000, .fallback = "5.0",
        .help = "A faster step is a bad reading, not heat."},
    [HEAT_LATCH] = {.name = "trips_to_latch", .type = KEY_INT, .low = 1, .high = 1000,
        .fallback = "3",
        .help = "After so many trips in one light day the lamp stays off until somebody "
                "acknowledges it."},
    {0},
};

static const struct key switching_keys[] = {
    [SWITCHING_MIN_ON] = {.name = "min_on_s", .type = KEY_REAL, .unit = "s", .low = 0,
        .high = 3600, .fallback = "60.0",
        .help = "Shortest time a contact stays closed, served at the lowest light. Night and "
                "faults open it at once."},
    [SWITCHING_MIN_OFF] = {.name = "min_off_s", .type = KEY_REAL, .unit = "s", .low = 0,
        .high = 3600, .fallback = "60.0",
        .help = "Shortest time a contact stays open: inrush limiters in LED drivers must cool "
                "down."},
    [SWITCHING_SETTLE] = {.name = "settle_s", .type = KEY_REAL, .unit = "s", .low = 0, .high = 60,
        .fallback = "2.0",
        .help = "Time at the lowest light before and after the contact moves."},
    {0},
};

static const struct key led_driver_keys[] = {
    [LED_COLLAPSE] = {.name = "collapse", .type = KEY_REAL, .unit = "share of what was expected",
        .low = 0.05, .high = 0.9, .fallback = "0.3",
        .help = "Light or power below this share means: the LED driver shut down."},
    [LED_CONFIRM] = {.name = "confirm_s", .type = KEY_REAL, .unit = "s", .low = 1, .high = 600,
        .fallback = "6.0",
        .help = "… when it lasts this long."},
    [LED_SETTLE] = {.name = "settle_s", .type = KEY_REAL, .unit = "s", .low = 0, .high = 600,
        .fallback = "5.0",
        .help = "Light and power count only so long after the contact or the dimming moved."},
    [LED_REST] = {.name = "rest_s", .type = KEY_REAL, .unit = "s", .low = 1, .high = 3600,
        .fallback = "60.0",
        .help = "The switch stays open this long before the lamp is lit again at its lowest "
                "light."},
    [LED_LONG_REST] = {.name = "long_rest_s", .type = KEY_REAL, .unit = "s", .low = 1,
        .high = 86400, .fallback = "1800.0",
        .help = "… and this long after `tries` trips without light in between."},
    [LED_STEP] = {.name = "step", .type = KEY_REAL, .unit = "share of the drive", .low = 0.005,
        .high = 0.5, .fallback = "0.05",
        .help = "For the rest of the day the lamp stays this far below the drive that tripped."},
    [LED_TRIES] = {.name = "tries", .type = KEY_INT, .low = 1, .high = 100, .fallback = "3",
        .help = "Trips without light in between before the long rest."},
    [LED_LOWEST] = {.name = "lowest_ceiling", .type = KEY_REAL, .unit = "share of the drive",
        .low = 0, .high = 1, .fallback = "0.3",
        .help = "Trips never lower the drive ceiling below this."},
    {0},
};

const struct key schema_limits[] = {
    [LIMITS_HEAT] = {.name = "heat", .type = KEY_GROUP, .inner = heat_keys,
        .help = "Heat of a fixture."},
    [LIMITS_SWITCHING] = {.name = "switching", .type = KEY_GROUP, .inner = switching_keys,
        .help = "Care of a fixture's mains contact."},
    [LIMITS_LED_DRIVER] = {.name = "led_driver", .type = KEY_GROUP, .inner = led_driver_keys,
        .help = "LED drivers that shut down when they are driven too far."},
    {0},
};

static const struct key point_keys[] = {
    [POINT_DRIVE] = {.name = "drive", .type = KEY_REAL, .unit = "share of the output's range",
        .low = 0, .high = 1,
        .help = "What the output is told."},
    [POINT_LEVEL] = {.name = "level", .type = KEY_REAL, .unit = "share of full light", .low = 0,
        .high = 1,
        .help = "Light that was measured at it, as a share of the most; the last point has 1."},
    [POINT_WATTS] = {.name = "watts", .type = KEY_REAL, .unit = "W", .low = 0, .high = 100000,
        .fallback = "",
        .help = "Power at the wall. For all points or for none."},
    {0},
};

/* Beside what a sweep measured: when, by what, how well. For people, and for comparison later. */
static const struct key reading_keys[] = {
    [READING_DRIVE] = {.name = "drive", .type = KEY_REAL, .unit = "share of the output's range",
        .low = 0, .high = 1,
        .help = "What the output was told."},
    [READING_LEVEL] = {.name = "level", .type = KEY_REAL, .unit = "share of full light",
        .low = -0.1, .high = 2,
        .help = "Light that was read, daylight and droop taken out."},
    [READING_WATTS] = {.name = "watts", .type = KEY_REAL, .unit = "W", .low = 0, .high = 100000,
        .fallback = "",
        .help = "Power at the wall then."},
    {0},
};

static const struct key measured_keys[] = {
    [MEASURED_DATE] = {.name = "date", .type = KEY_TEXT, .high = 63, .fallback = "", .help = "Day and hour of it."},
    [MEASURED_SENSOR] = {.name = "sensor", .type = KEY_TEXT, .high = 127, .fallback = "",
        .help = "The light sensors it was read by."},
    [MEASURED_HEAT_LOW] = {.name = "heat_low_c", .type = KEY_REAL, .unit = "°C", .low = -40, .high = 200, .fallback = "",
        .help = "Coldest heatsink meanwhile."},
    [MEASURED_HEAT_HIGH] = {.name = "heat_high_c", .type = KEY_REAL, .unit = "°C", .low = -40, .high = 200,
        .fallback = "",
        .help = "Hottest heatsink meanwhile."},
    [MEASURED_WORST_LEVEL] = {.name = "worst_level", .type = KEY_REAL, .unit = "share of full light", .low = 0, .high = 1,
        .fallback = "",
        .help = "What the curve misses the worst reading by."},
    [MEASURED_RMS_LEVEL] = {.name = "rms_level", .type = KEY_REAL, .unit = "share of full light", .low = 0, .high = 1,
        .fallback = "",
        .help = "… and all of them, as root mean square."},
    [MEASURED_RMS_W] = {.name = "rms_w", .type = KEY_REAL, .unit = "W", .low = 0, .high = 20000, .fallback = "",
        .help = "The same of the watts."},
    [MEASURED_HOLDS] = {.name = "holds_drive", .type = KEY_REAL, .unit = "share of the output's range", .low = 0,
        .high = 1, .fallback = "",
        .help = "Lowest drive with light, dimmed down to it."},
    [MEASURED_SATURATED] = {.name = "saturated_above", .type = KEY_REAL, .unit = "share of the output's range", .low = 0,
        .high = 1, .fallback = "",
        .help = "From here on more drive gives no more light."},
    [MEASURED_DROOP] = {.name = "droop", .type = KEY_REAL, .unit = "share of light", .low = -1, .high = 1,
        .fallback = "",
        .help = "Lost from the coldest to the hottest heatsink."},
    [MEASURED_DROOP_PER_K] = {.name = "droop_per_k", .type = KEY_REAL, .unit = "share of light per K", .low = -1, .high = 1,
        .fallback = "",
        .help = "… per kelvin."},
    [MEASURED_CEILING_HEAT] = {.name = "ceiling_heat_c", .type = KEY_REAL, .unit = "°C", .low = -40, .high = 200,
        .fallback = "",
        .help = "Heatsink at which the LED driver tripped at its lowest drive."},
    [MEASURED_CEILING_MARGIN] = {.name = "ceiling_margin", .type = KEY_REAL,
        .unit = "share of the output's range", .low = 0, .high = 1, .fallback = "",
        .help = "How far drive_ceiling stays below what held; absent when nothing tripped."},
    [MEASURED_READINGS] = {.name = "readings", .type = KEY_LIST, .inner = reading_keys,
        .high = MEASURED_READINGS_MAX, .fallback = "",
        .help = "What the curve was made of, for its picture."},
    {0},
};

const struct key schema_fixture[] = {
    [FIXTURE_NAME] = {.name = "name", .type = KEY_NAME, .low = 1, .high = CONFIG_NAME_MAX - 1,
        .help = "Your own name for this lamp."},
    [FIXTURE_DIM] = {.name = "dim", .type = KEY_REF, .target = ROOT_OUTPUTS, .target_kind = "dim",
        .fallback = "",
        .help = "Its dimming output. Without one it gives full light whenever its switch is "
                "closed."},
    [FIXTURE_SWITCH] = {.name = "switch", .type = KEY_REF, .target = ROOT_OUTPUTS,
        .target_kind = "switch", .fallback = "",
        .help = "Its mains contact. Normally open, held closed to light: dark means an open "
                "contact, since an interrupted 0-10 V line is full light."},
    [FIXTURE_CURVE] = {.name = "curve", .type = KEY_LIST, .inner = point_keys,
        .high = DIMCURVE_POINTS_MAX, .fallback = "",
        .help = "Measured dimming curve, drive rising. The lowest point with light is the lowest "
                "light it can hold. Needed with a dimming output."},
    [FIXTURE_FULL_WATTS] = {.name = "full_watts", .type = KEY_REAL, .unit = "W", .low = 0,
        .high = 100000, .fallback = "",
        .help = "Power of a lamp without a dimming output and without a curve."},
    [FIXTURE_PPFD_FULL] = {.name = "ppfd_full", .type = KEY_REAL, .unit = "µmol m⁻² s⁻¹", .low = 1,
        .high = 5000,
        .help = "What it gives at the canopy at full light (level 1), mean over the space."},
    [FIXTURE_COMMISSIONED] = {.name = "commissioned", .type = KEY_DATE, .fallback = "",
        .help = "When ppfd_full and curve were measured. With it for all lamps of a space the daemon "
                "follows how much of that light they still give. Another date begins anew."},
    [FIXTURE_COMMISSIONED_C] = {.name = "commissioned_c", .type = KEY_REAL, .unit = "°C",
        .low = 0, .high = 120, .fallback = "",
        .help = "Heatsink temperature then, in light as it is usual here: light is compared within "
                "10 K of it. Left out: within 10 K of the first day's."},
    [FIXTURE_DRIVE_CEILING] = {.name = "drive_ceiling", .type = KEY_REAL,
        .unit = "share of the output's range", .low = 0.01, .high = 1, .fallback = "1.0",
        .help = "Highest drive that its LED driver holds without tripping, less a margin."},
    [FIXTURE_SAFE_DRIVE] = {.name = "safe_drive", .type = KEY_REAL,
        .unit = "share of the output's range", .low = 0, .high = 1, .fallback = "0.0",
        .help = "What the dimming output shows while the switch is open."},
    [FIXTURE_HEAT_SENSORS] = {.name = "heat_sensors", .type = KEY_REFS, .target = ROOT_SENSORS,
        .target_kind = "temperature", .high = CONFIG_HEAT_SENSORS_MAX, .fallback = "",
        .help = "Temperature sensors on its heatsink; the hottest good one counts."},
    [FIXTURE_POWER_SENSOR] = {.name = "power_sensor", .type = KEY_REF, .target = ROOT_SENSORS,
        .target_kind = "power", .fallback = "",
        .help = "Its watt meter. Shared by several fixtures it only counts energy."},
    [FIXTURE_HEAT] = {.name = "heat", .type = KEY_GROUP, .inner = heat_keys, .inherits = true,
        .help = "Where it differs from limits.heat."},
    [FIXTURE_SWITCHING] = {.name = "switching", .type = KEY_GROUP, .inner = switching_keys,
        .inherits = true,
        .help = "Where it differs from limits.switching."},
    [FIXTURE_LED_DRIVER] = {.name = "led_driver", .type = KEY_GROUP, .inner = led_driver_keys,
        .inherits = true,
        .help = "Where it differs from limits.led_driver."},
    [FIXTURE_MEASURED] = {.name = "measured", .type = KEY_GROUP, .inner = measured_keys,
        .help = "How curve, ppfd_full and drive_ceiling were measured; `lampwarden sweep` writes "
                "all of them into a record, which a line of its own in this group, @include and "
                "the file's name in quotes, puts here. Nothing is ruled by it."},
    {0},
};
