/* SPDX-License-Identifier: Apache-2.0 */
/* What each rule saw when it spoke, or kept silent. */
#include "why_parts.h"

#include "parse.h"
#include "units.h"

/* "heatsink 68.2 °C (good, 3 s old)" */
static void add_reading(struct why_text *text, const char *name, const char *unit, int decimals,
                        const struct moment_reading *reading)
{
    char age[24];
    if (!units_known(reading->value)) {
        why_add(text, "%s: no reading", name);
        return;
    }
    why_add(text, "%s %.*f %s (%s", name, decimals, reading->value, unit,
            journal_quality_name(reading->quality));
    if (units_known(reading->age_s)) {
        parse_format_duration(reading->age_s, age, sizeof age);
        why_add(text, ", %s old", age);
    }
    why_add(text, ")");
}

static void add_duration(struct why_text *text, const char *before, double seconds)
{
    char words[24];
    if (units_known(seconds)) {
        parse_format_duration(seconds, words, sizeof words);
        why_add(text, "%s%s", before, words);
    }
}

static void add_window(struct why_text *text, const struct why_frame *frame,
                       const struct moment *moment)
{
    char clock[12];
    if (moment->phase == STAGE_WAITING) {
        why_add(text, "the first stage has not begun");
    } else if (moment->phase == STAGE_OVER) {
        why_add(text, "the last stage is over");
    } else if (units_known(moment->until_s)) {
        why_clock(frame, moment->wall_s + (int64_t)moment->until_s + 30, clock, sizeof clock);
        why_add(text, "%s %s", moment->is_lit ? "lights off at" : "lights on at", clock);
    } else if (moment->is_lit) {
        why_add(text, "always lit");
    }
}

static void add_ceiling(struct why_text *text, const struct moment *moment)
{
    if (units_known(moment->ceiling_umol)) {
        why_add(text, "at most %.0f µmol m⁻² s⁻¹", moment->ceiling_umol);
    }
    if (moment->daylight_umol > 0) {
        why_add(text, "%sdaylight gives %.0f µmol m⁻² s⁻¹",
                units_known(moment->ceiling_umol) ? ", " : "", moment->daylight_umol);
    }
}

static void add_plan(struct why_text *text, const struct why_frame *frame,
                     const struct moment *moment)
{
    if (moment->is_floor || moment->floor_level > moment->planned_level) {
        why_add(text, "the stage's least light");
    } else {
        why_plan_reason(text, frame, moment);
    }
    if (units_known(moment->forecast_mol)) {
        why_add(text, "; on course for %.1f mol", moment->forecast_mol);
    }
}

void why_saw(const struct why_frame *frame, const struct moment *moment, enum limiter limiter,
             char *buffer, size_t size)
{
    struct why_text text = {buffer, size};
    buffer[0] = '\0';
    switch (limiter) {
    case LIMITER_NIGHT:
        add_window(&text, frame, moment);
        break;
    case LIMITER_LIGHT_CEILING:
        if (chain_has_said(&moment->chain.rules, limiter)) {
            add_ceiling(&text, moment);
        }
        break;
    case LIMITER_SENSOR_LOST:
        add_reading(&text, "PPFD", "µmol m⁻² s⁻¹", 0, &moment->ppfd);
        break;
    case LIMITER_BY_HAND:
        add_duration(&text, "for another ", moment->hand_left_s);
        break;
    case LIMITER_FULL_LIGHT:
    case LIMITER_TARGET_MET:
    case LIMITER_PLAN:
        if (chain_has_said(&moment->chain.rules, limiter)) {
            add_plan(&text, frame, moment);
        }
        break;
    case LIMITER_DAWN:
    case LIMITER_DUSK:
        if (chain_has_said(&moment->chain.rules, limiter)) {
            why_add(&text, "of the plan's %.0f %%", 100 * moment->planned_level);
        }
        break;
    case LIMITER_NOT_RUNNING:
    case LIMITER_CLOCK_UNTRUSTED:
    case LIMITER_OUTPUT_FAULT:
    case LIMITER_HEAT_TRIP:
    case LIMITER_DRIVER_TRIP:
    case LIMITER_REST:
    case LIMITER_HEAT:
    case LIMITER_DRIVE_CEILING:
    case LIMITER_POWER_LIMIT:
    case LIMITER_COUNT:
        break;
    }
}

static void add_heat(struct why_text *text, const struct moment_fixture *fixture)
{
    add_reading(text, "heatsink", "°C", 1, &fixture->heat);
    if (units_known(fixture->heat_from_c)) {
        why_add(text, ", foldback begins at %.0f °C%s", fixture->heat_from_c,
                fixture->heat.value < fixture->heat_from_c ? ": its light comes back slowly" : "");
    }
}

static void add_trip(struct why_text *text, const struct moment_fixture *fixture)
{
    add_reading(text, "heatsink", "°C", 1, &fixture->heat);
    if (fixture->is_latched) {
        why_add(text, ", stays off until 'lampwarden resume'");
    } else if (units_known(fixture->rearm_c)) {
        why_add(text, ", ends below %.0f °C", fixture->rearm_c);
    }
}

void why_fixture_saw(const struct moment *moment, int index, enum limiter limiter, char *buffer,
                     size_t size)
{
    struct why_text text = {buffer, size};
    const struct moment_fixture *fixture = &moment->fixtures[index];
    const bool has_said = chain_has_said(&moment->chain.fixtures[index].rules, limiter);
    buffer[0] = '\0';
    if (limiter == LIMITER_HEAT && (has_said || units_known(fixture->heat.value))) {
        add_heat(&text, fixture);
        return;
    }
    if (!has_said) {
        return;
    }
    switch (limiter) {
    case LIMITER_HEAT_TRIP:
        add_trip(&text, fixture);
        break;
    case LIMITER_DRIVER_TRIP:
        add_duration(&text, "tries again in ", fixture->rest_left_s);
        break;
    case LIMITER_REST:
        add_duration(&text, "its switch may close in ", fixture->rest_left_s);
        break;
    case LIMITER_DRIVE_CEILING:
        why_add(&text, "drive at most %.2f", fixture->drive_cap);
        break;
    case LIMITER_POWER_LIMIT:
        if (units_known(moment->budget_w)) {
            why_add(&text, "the space may draw %.0f W now", moment->budget_w);
        }
        break;
    case LIMITER_LIGHT_CEILING:
        why_add(&text, "beside the other lamps");
        break;
    case LIMITER_NOT_RUNNING:
    case LIMITER_NIGHT:
    case LIMITER_CLOCK_UNTRUSTED:
    case LIMITER_OUTPUT_FAULT:
    case LIMITER_HEAT:
    case LIMITER_SENSOR_LOST:
    case LIMITER_BY_HAND:
    case LIMITER_DAWN:
    case LIMITER_DUSK:
    case LIMITER_FULL_LIGHT:
    case LIMITER_TARGET_MET:
    case LIMITER_PLAN:
    case LIMITER_COUNT:
        break;
    }
}
