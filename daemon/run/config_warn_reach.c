/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Targets out of reach: of the lamps indoors, of lamps and the clearest sky under glass.
 */
#include "config_build.h"

#include "config_section.h"
#include "findings.h"
#include "plan_day.h"
#include "units.h"

#include <math.h>
#include <string.h>

#define CLEAREST   1.1 /* of the clear sky: what the clearest days bring (clearness.h) */
#define SKY_STEP_S 600
#define DAYS_MOST  366 /* a stage without an end comes to every season */
#define LOOKS_MOST 62  /* at so many days of a stage */

/* Seconds of full light that a climb slower than the dawn takes. */
static double climb_s(const struct stage *stage, double highest_umol)
{
    if (!(stage->rise_umol_per_s > 0)) {
        return 0;
    }
    return fmax(highest_umol / stage->rise_umol_per_s - stage->ramp.dawn_s, 0) / 2;
}

/* A day of a stage: the most that lamps give beside the clearest sky, and what that brings. */
struct sunny_day {
    double lamp_mol, sky_mol;
};

static struct sunny_day sunny_day(const struct space_rules *rules, const struct stage *stage,
                                  double highest_umol, int64_t day)
{
    const int64_t begin_s = lightday_begin(&rules->day, day);
    const struct plan_lamp lamp = plan_day_lamp(rules, stage, highest_umol);
    struct learned learned;
    struct plan_slots slots;
    learned_init(&learned);
    plan_day_slots(rules, stage, &learned, 1, begin_s, &slots);
    struct sunny_day sunny = {.lamp_mol = plan_reach_mol(&lamp, &slots, CLEAREST)};
    for (int64_t s = SKY_STEP_S / 2; s < UNITS_S_PER_DAY; s += SKY_STEP_S) {
        sunny.sky_mol += units_mol(CLEAREST * sun_clear_umol(&rules->sun, begin_s + s), SKY_STEP_S);
    }
    return sunny;
}

/* Of a stage that begins on a light day; the days that are the poorest and the richest in sun. */
static void look_at_days(const struct space_rules *rules, const struct stage *stage,
                         double highest_umol, int64_t first, struct sunny_day ret[2])
{
    const int32_t days = stage->days > 0 && stage->days < DAYS_MOST ? stage->days : DAYS_MOST;
    const int32_t step = 1 + (days - 1) / LOOKS_MOST;
    for (int32_t i = 0; i < days; i += step) {
        const struct sunny_day day = sunny_day(rules, stage, highest_umol, first + i);
        const double mol = day.lamp_mol + day.sky_mol;
        ret[0] = i == 0 || mol < ret[0].lamp_mol + ret[0].sky_mol ? day : ret[0];
        ret[1] = i == 0 || mol > ret[1].lamp_mol + ret[1].sky_mol ? day : ret[1];
    }
}

static void put_ceiling(const struct stage *stage, char *buffer, size_t size)
{
    buffer[0] = '\0';
    if (isfinite(stage->ceiling_umol)) {
        (void)snprintf(buffer, size, ", ceiling %.0f µmol m⁻² s⁻¹", stage->ceiling_umol);
    }
}

/* Only where the place is known: the sun of an equinox that stands in promises nothing. */
static void warn_under_glass(const struct section *root, const struct config *config, int index,
                             struct findings *findings)
{
    const struct config_space *space = &config->spaces[index];
    const struct space_rules *rules = &space->rules;
    const struct value *names = &section_entry(root, ROOT_SPACES, index)->values[SPACE_STAGES];
    const double lamps = config_lamps_umol(rules);
    int64_t first = rules->first_day;
    for (int i = 0; rules->sun.has_place && i < rules->stage_count; i++) {
        const struct stage *stage = &rules->stages[i];
        struct sunny_day days[2] = {{0, 0}, {0, 0}};
        look_at_days(rules, stage, lamps, first, days);
        first += stage->days;
        const double least = days[0].lamp_mol + days[0].sky_mol;
        const double most = days[1].lamp_mol + days[1].sky_mol;
        if (!(least < stage->target_mol)) {
            continue;
        }
        const int number = (int)names->items[i].integer;
        char ceiling[48];
        put_ceiling(stage, ceiling, sizeof ceiling);
        findings_warning(
            findings, section_entry(root, ROOT_STAGES, number)->values[STAGE_TARGET].line,
            "stages[%d] in space %s: %.1f mol asked; under the clearest sky %.1f "
            "reachable on the poorest day of the stage and %.1f on the richest: sun "
            "%.1f and %.1f, window %.4g h less dawn and dusk, lamps %.0f µmol m⁻² s⁻¹%s",
            number, space->name, stage->target_mol, least, most, days[0].sky_mol, days[1].sky_mol,
            stage->window.length_s / 3600.0, lamps, ceiling);
    }
}

static void warn_indoors(const struct section *root, const struct config *config, int index,
                         struct findings *findings)
{
    const struct config_space *space = &config->spaces[index];
    const struct value *names = &section_entry(root, ROOT_SPACES, index)->values[SPACE_STAGES];
    double lamps = config_lamps_umol(&space->rules);
    for (int i = 0; i < space->rules.stage_count; i++) {
        const struct stage *stage = &space->rules.stages[i];
        double highest = fmin(lamps, stage->ceiling_umol);
        double lit_s =
            ramp_integral(&stage->ramp, stage->window.length_s, 0, stage->window.length_s);
        double reach = units_mol(highest, fmax(lit_s - climb_s(stage, highest), 0));
        if (!(reach < stage->target_mol)) {
            continue;
        }
        int number = (int)names->items[i].integer;
        char ceiling[48];
        put_ceiling(stage, ceiling, sizeof ceiling);
        char climb[64] = "";
        if (climb_s(stage, highest) > 0) {
            (void)snprintf(climb, sizeof climb, ", rising by %.4g µmol m⁻² s⁻¹ a minute",
                           stage->rise_umol_per_s * 60);
        }
        findings_warning(
            findings, section_entry(root, ROOT_STAGES, number)->values[STAGE_TARGET].line,
            "stages[%d] in space %s: %.1f mol asked, %.1f reachable: window %.4g h less "
            "dawn and dusk, lamps %.0f µmol m⁻² s⁻¹%s%s",
            number, space->name, stage->target_mol, reach, stage->window.length_s / 3600.0, lamps,
            ceiling, climb);
    }
}

void config_warn_reach(const struct section *root, const struct config *config,
                       struct findings *findings)
{
    for (int i = 0; i < config->space_count; i++) {
        if (config->spaces[i].rules.sees_daylight) {
            warn_under_glass(root, config, i, findings);
        } else {
            warn_indoors(root, config, i, findings);
        }
    }
}
