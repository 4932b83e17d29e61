/* SPDX-License-Identifier: Apache-2.0 */
/* The part of a fixture's record that nothing is ruled by. */
#include "config_build.h"

#include "arena.h"
#include "config_section.h"
#include "units.h"

static double real_of(const struct section *section, int key)
{
    return section->values[key].is_set ? section_real(section, key) : UNITS_NONE;
}

static bool take_readings(const struct value *list, struct arena *arena, struct measured *measured)
{
    struct measured_reading *readings = arena_take(arena, (size_t)list->count, sizeof *readings);
    for (int i = 0; readings && i < list->count; i++) {
        const struct section *section = &list->sections[i];
        readings[i] = (struct measured_reading){section_real(section, READING_DRIVE),
                                                section_real(section, READING_LEVEL),
                                                real_of(section, READING_WATTS)};
    }
    measured->readings = readings;
    measured->reading_count = list->count;
    return readings != NULL;
}

bool build_measured(const struct section *fixture, struct arena *arena, struct measured *ret)
{
    const struct section *section = section_group(fixture, FIXTURE_MEASURED);
    *ret = (struct measured){
        .date = section_text(section, MEASURED_DATE),
        .sensor = section_text(section, MEASURED_SENSOR),
        .heat_low_c = real_of(section, MEASURED_HEAT_LOW),
        .heat_high_c = real_of(section, MEASURED_HEAT_HIGH),
        .worst_level = real_of(section, MEASURED_WORST_LEVEL),
        .rms_level = real_of(section, MEASURED_RMS_LEVEL),
        .rms_w = real_of(section, MEASURED_RMS_W),
        .holds_drive = real_of(section, MEASURED_HOLDS),
        .saturated_above = real_of(section, MEASURED_SATURATED),
        .droop = real_of(section, MEASURED_DROOP),
        .droop_per_k = real_of(section, MEASURED_DROOP_PER_K),
        .ceiling_heat_c = real_of(section, MEASURED_CEILING_HEAT),
        .ceiling_margin = real_of(section, MEASURED_CEILING_MARGIN),
    };
    return take_readings(&section->values[MEASURED_READINGS], arena, ret);
}
