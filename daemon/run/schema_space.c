/* SPDX-License-Identifier: Apache-2.0 */
/* Keys of what grows: stages of a crop and the spaces that live through them. */
#include "schema_parts.h"

#include "config.h"

/* One row a key: its facts first, its help below. */
/* clang-format off */

const struct key schema_stage[] = {
    [STAGE_NAME] = {.name = "name", .type = KEY_NAME, .low = 1, .high = STAGE_NAME_MAX - 1,
        .help = "Your own name for this stage."},
    [STAGE_DAYS] = {.name = "days", .type = KEY_INT, .unit = "days", .low = 0, .high = 3650,
        .help = "How long it lasts; 0: until further notice, for the last stage of a space."},
    [STAGE_ON] = {.name = "lights_on", .type = KEY_TIME,
        .help = "When its day begins, in the site's fixed time (winter time, all year)."},
    [STAGE_LENGTH] = {.name = "day_length_h", .type = KEY_REAL, .unit = "h", .low = 0, .high = 24,
        .help = "Length of its day, dawn and dusk included."},
    [STAGE_TARGET] = {.name = "target_mol", .type = KEY_REAL, .unit = "mol m⁻² per day",
        .low = 0.01, .high = 80,
        .help = "Daily light integral that the plants shall have."},
    [STAGE_CARRY] = {.name = "carry_over_mol", .type = KEY_REAL, .unit = "mol m⁻² per day",
        .low = 0, .high = 40, .fallback = "0.0",
        .help = "Most by which the target of a day is lowered for what the day before, of the same "
                "stage, had above its stage's: lamps and sun, as far as it was measured. A shortage is "
                "never carried. 0: every day by itself."},
    [STAGE_CEILING] = {.name = "ceiling_umol", .type = KEY_REAL, .unit = "µmol m⁻² s⁻¹", .low = 1,
        .high = 3000, .fallback = "",
        .help = "Highest light at the canopy. Left out: no ceiling."},
    [STAGE_FLOOR] = {.name = "floor_umol", .type = KEY_REAL, .unit = "µmol m⁻² s⁻¹", .low = 0,
        .high = 3000, .fallback = "0.0",
        .help = "Least light at the canopy while the day lasts, daylight counted: the lamps fill "
                "what the sun lacks of it, and go on when the target is met. 0: none."},
    [STAGE_DAWN] = {.name = "dawn_min", .type = KEY_REAL, .unit = "min", .low = 0, .high = 240,
        .fallback = "30.0",
        .help = "Time from first to full light; 0: at once."},
    [STAGE_DUSK] = {.name = "dusk_min", .type = KEY_REAL, .unit = "min", .low = 0, .high = 240,
        .fallback = "30.0",
        .help = "Time from full to last light; 0: at once."},
    [STAGE_RAMP] = {.name = "ramp", .type = KEY_CHOICE, .choices = "linear cosine",
        .fallback = "cosine",
        .help = "Shape of dawn and dusk, in light."},
    [STAGE_PROTECT] = {.name = "protect_night", .type = KEY_BOOL, .fallback = "false",
        .help = "true for short-day plants: nothing lights their night, neither by hand nor for a "
                "test, unless the operator says in words that the night shall be broken."},
    [STAGE_RISE] = {.name = "rise_umol_per_min", .type = KEY_REAL,
        .unit = "µmol m⁻² s⁻¹ per minute", .low = 0.5, .high = 100000, .fallback = "",
        .help = "How fast the lamps' light at the canopy may rise, above the lowest light that they "
                "start with; it falls as fall_percent_per_min of the space says. Left out: as "
                "rise_percent_per_min of the space says."},
    [STAGE_RUN] = {.name = "shortest_run_min", .type = KEY_REAL, .unit = "min", .low = 0,
        .high = 240, .fallback = "10.0",
        .help = "Under daylight a lamp that was lit burns at least so long, at its lowest light when "
                "the plan would put it out, and is not lit for less than this before its night. "
                "A target that is met ends it."},
    [STAGE_REST] = {.name = "shortest_rest_min", .type = KEY_REAL, .unit = "min", .low = 0,
        .high = 240, .fallback = "20.0",
        .help = "Under daylight a lamp that was put out rests at least so long, unless a dark sky "
                "would leave the day short or floor_umol needs it."},
    {0},
};

const struct key schema_space[] = {
    [SPACE_NAME] = {.name = "name", .type = KEY_NAME, .low = 1, .high = CONFIG_NAME_MAX - 1,
        .help = "Your own name for this space."},
    [SPACE_FIXTURES] = {.name = "fixtures", .type = KEY_REFS, .target = ROOT_FIXTURES, .low = 1,
        .high = SPACE_FIXTURES_MAX,
        .help = "The lamps above it. A lamp belongs to one space."},
    [SPACE_PPFD] = {.name = "ppfd_sensors", .type = KEY_REFS, .target = ROOT_SENSORS,
        .target_kind = "ppfd", .high = CONFIG_PPFD_SENSORS_MAX, .fallback = "",
        .help = "Light sensors at the canopy. Without one the light is reckoned from the dimming "
                "curves."},
    [SPACE_CANOPY] = {.name = "canopy_factor", .type = KEY_REAL, .unit = "ratio", .low = 0.05,
        .high = 20, .fallback = "1.0",
        .help = "Mean light over the canopy, divided by what the sensors read where they stand."},
    [SPACE_AGED_AT] = {.name = "aged_at", .type = KEY_REAL, .unit = "share of commissioning",
        .low = 0.3, .high = 0.99, .fallback = "0.8",
        .help = "What the lamps still give when their loss is told (0.8 is called L80). Needs "
                "`commissioned` of its lamps."},
    [SPACE_AIR_C] = {.name = "air_temperature", .type = KEY_REF, .target = ROOT_SENSORS,
        .target_kind = "temperature", .fallback = "",
        .help = "For the record."},
    [SPACE_AIR_RH] = {.name = "air_humidity", .type = KEY_REF, .target = ROOT_SENSORS,
        .target_kind = "humidity", .fallback = "",
        .help = "For the record."},
    [SPACE_DAYLIGHT] = {.name = "sees_daylight", .type = KEY_BOOL, .fallback = "false",
        .help = "true: the light sensors also see the sun, and the lamps add what the day lacks."},
    [SPACE_DAYLIGHT_SHARE] = {.name = "daylight_share", .type = KEY_REAL, .unit = "ratio",
        .low = 0.02, .high = 1, .fallback = "0.6",
        .help = "Share of the outdoor light that reaches the canopy: for the first days, after "
                "which the sensors have taught it."},
    [SPACE_DAY_START] = {.name = "light_day_start", .type = KEY_TIME, .choices = "auto",
        .fallback = "auto",
        .help = "When the 24 h begin over which the daily light is summed, in the site's fixed "
                "time. auto: under daylight behind the cheap night, so that cheap hours come last, "
                "when the day's sun is known (about 07:00); else at midnight, or where it cuts no stage's day. "
                "lampwarden check says which and why."},
    [SPACE_STAGES] = {.name = "stages", .type = KEY_REFS, .target = ROOT_STAGES, .low = 1,
        .high = CONFIG_STAGES_MAX,
        .help = "What it lives through, one after the other."},
    [SPACE_START] = {.name = "start", .type = KEY_DATE,
        .help = "Light day on which the first stage begins."},
    [SPACE_ACCLIMATION] = {.name = "acclimation_mol_per_day", .type = KEY_REAL,
        .unit = "mol m⁻² per day", .low = 0.01, .high = 80, .fallback = "",
        .help = "Largest change of the target from one day to the next where stages meet. Left "
                "out: at once."},
    [SPACE_CLOCK_POLICY] = {.name = "clock_policy", .type = KEY_CHOICE,
        .choices = "dark low carry-on", .fallback = "dark",
        .help = "While the time of day is not known: dark: no light; low: lowest light; carry-on: "
                "as if the clock were right."},
    [SPACE_RISE] = {.name = "rise_percent_per_min", .type = KEY_REAL,
        .unit = "% of full light per minute", .low = 0.1, .high = 6000, .fallback = "60.0",
        .help = "How fast the light may rise."},
    [SPACE_FALL] = {.name = "fall_percent_per_min", .type = KEY_REAL,
        .unit = "% of full light per minute", .low = 0.1, .high = 6000, .fallback = "60.0",
        .help = "How fast the light falls. Night, heat and faults do not wait for it."},
    [SPACE_MARGIN] = {.name = "aim_margin", .type = KEY_REAL, .unit = "share of the target",
        .low = 0, .high = 0.05, .fallback = "0.002",
        .help = "Aim this much above the target, so that rounding never leaves it short."},
    [SPACE_NIGHT_LIGHT] = {.name = "night_threshold_umol", .type = KEY_REAL,
        .unit = "µmol m⁻² s⁻¹", .low = 0.001, .high = 100, .fallback = "0.2",
        .help = "Light above this counts as light in the night; 0.05 when the sensor resolves so "
                "little."},
    [SPACE_NIGHT_CONFIRM] = {.name = "night_confirm_s", .type = KEY_REAL, .unit = "s", .low = 0,
        .high = 3600, .fallback = "10.0",
        .help = "… when it lasts this long."},
    [SPACE_BRIDGE] = {.name = "bridge_s", .type = KEY_REAL, .unit = "s", .low = 1, .high = 86400,
        .fallback = "300.0",
        .help = "A gap in time up to this long is bridged in the light sum; what is longer counts "
                "as lost."},
    [SPACE_ESTIMATE] = {.name = "estimate_h", .type = KEY_REAL, .unit = "h", .low = 0, .high = 240,
        .fallback = "",
        .help = "How long the light sum may be reckoned from the dimming curves while no sensor "
                "answers. Left out: without end."},
    {0},
};
