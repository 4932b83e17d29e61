/* SPDX-License-Identifier: Apache-2.0 */
/* Metrics of the growing spaces. */
#include "metrics_parts.h"

#include "air.h"
#include "status.h"
#include "units.h"

#include <string.h>

/* Before the outputs are known to be safe nothing was decided. */
static int count(const struct picture *picture)
{
    return picture->is_ready ? picture->config->space_count : 0;
}

static void labels(const struct picture *picture, int index, FILE *out)
{
    metrics_label(out, "space", picture->config->spaces[index].name);
}

static const struct verdict *verdict_of(const struct picture *picture, int index)
{
    return &picture->spaces[index].verdict;
}

static const char *limiter_word(int word)
{
    return word < LIMITER_COUNT ? limiter_name((enum limiter)word) : NULL;
}

static double limiter(const struct picture *picture, int index, int word)
{
    return (int)verdict_of(picture, index)->limiter == word;
}

static double limiter_seconds(const struct picture *picture, int index, int word)
{
    return picture->spaces[index].tally.limiter_s[word];
}

static double missing(const struct picture *picture, int index, int word)
{
    return verdict_of(picture, index)->account.missing_mol[word];
}

static const char *phase_word(int word)
{
    static const char *const names[] = {"waiting", "night", "dawn", "day", "dusk", "over", NULL};
    return names[word];
}

static double phase(const struct picture *picture, int index, int word)
{
    const char *now =
        status_phase(&picture->config->spaces[index].rules, verdict_of(picture, index));
    return strcmp(now, phase_word(word)) == 0;
}

static double lit(const struct picture *picture, int index, int word)
{
    (void)word;
    const struct verdict *verdict = verdict_of(picture, index);
    for (int i = 0; i < picture->config->spaces[index].rules.fixture_count; i++) {
        if (verdict->fixtures[i].closed) {
            return 1;
        }
    }
    return 0;
}

static double level(const struct picture *picture, int index, int word)
{
    (void)word;
    return verdict_of(picture, index)->level;
}

static double asked(const struct picture *picture, int index, int word)
{
    (void)word;
    return verdict_of(picture, index)->asked;
}

static double lamp(const struct picture *picture, int index, int word)
{
    (void)word;
    return verdict_of(picture, index)->lamp_umol * 1e-6;
}

static double sunlight(const struct picture *picture, int index, int word)
{
    (void)word;
    return verdict_of(picture, index)->daylight_umol * 1e-6;
}

static double measured(const struct picture *picture, int index, int word)
{
    (void)word;
    return verdict_of(picture, index)->light_is_measured;
}

static double delivered(const struct picture *picture, int index, int word)
{
    (void)word;
    return verdict_of(picture, index)->account.delivered_mol;
}

static double target(const struct picture *picture, int index, int word)
{
    (void)word;
    return verdict_of(picture, index)->account.target_mol;
}

static double out_of_reach(const struct picture *picture, int index, int word)
{
    (void)word;
    return verdict_of(picture, index)->reach.is_short;
}

static double last_delivered(const struct picture *picture, int index, int word)
{
    (void)word;
    const struct picture_space *space = &picture->spaces[index];
    return space->has_last_day ? space->last_day.account.delivered_mol : UNITS_NONE;
}

static double last_target(const struct picture *picture, int index, int word)
{
    (void)word;
    const struct picture_space *space = &picture->spaces[index];
    return space->has_last_day ? space->last_day.account.target_mol : UNITS_NONE;
}

static double night_dose(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->spaces[index].state.night_dose * 1e-6;
}

static double watts(const struct picture *picture, int index, int word)
{
    (void)word;
    return verdict_of(picture, index)->watts;
}

static double air(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->spaces[index].air.temperature.value;
}

static double humidity(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->spaces[index].air.humidity.value * 1e-2;
}

static double deficit(const struct picture *picture, int index, int word)
{
    (void)word;
    const struct recorder_air *seen = &picture->spaces[index].air;
    return air_vpd_kpa(seen->temperature.value, seen->humidity.value) * 1e3;
}

static double ageing(const struct picture *picture, int index, int word)
{
    (void)word;
    const struct ageing_view view = ageing_view(&picture->spaces[index].state.ageing,
                                                &picture->config->spaces[index].rules.ageing);
    return view.is_known ? view.share : UNITS_NONE;
}

static double energy(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->spaces[index].tally.energy_j;
}

static double cost(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->spaces[index].tally.cost;
}

static double lamp_sum(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->spaces[index].tally.lamp_mol;
}

static double daylight_sum(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->spaces[index].tally.daylight_mol;
}

static double night_breaks(const struct picture *picture, int index, int word)
{
    (void)word;
    return (double)picture->spaces[index].tally.night_breaks;
}

static const char *class_word(int word)
{
    return word <= JOURNAL_ALARM ? journal_class_name((enum journal_class)word) : NULL;
}

static double events(const struct picture *picture, int index, int word)
{
    return (double)picture->spaces[index].tally.events[word];
}

static const struct metric metrics[] = {
    {"space_limiter", "The rule that sets the level, 1 for the one that does.", METRIC_GAUGE,
     limiter, "limiter", limiter_word},
    {"space_phase", "Part of the light day, 1 for the one that holds.", METRIC_GAUGE, phase,
     "phase", phase_word},
    {"space_lit", "1: a contact is closed.", METRIC_GAUGE, lit, NULL, NULL},
    {"space_level_ratio", "Level of its lamps, share of their full light.", METRIC_GAUGE, level,
     NULL, NULL},
    {"space_asked_level_ratio", "Level asked of the fixtures before their own limits.",
     METRIC_GAUGE, asked, NULL, NULL},
    {"space_lamp_ppfd_moles_per_square_meter_second", "Light of the lamps at the canopy.",
     METRIC_GAUGE, lamp, NULL, NULL},
    {"space_daylight_ppfd_moles_per_square_meter_second", "Daylight at the canopy.", METRIC_GAUGE,
     sunlight, NULL, NULL},
    {"space_light_measured", "1: by a good sensor reading; 0: reckoned from the dimming curves.",
     METRIC_GAUGE, measured, NULL, NULL},
    {"space_delivered_moles_per_square_meter", "Light of the open light day so far.", METRIC_GAUGE,
     delivered, NULL, NULL},
    {"space_target_moles_per_square_meter", "Light that the open light day asks for.", METRIC_GAUGE,
     target, NULL, NULL},
    {"space_missing_moles_per_square_meter",
     "Light that the open light day can no longer get, by what took it.", METRIC_GAUGE, missing,
     "limiter", limiter_word},
    {"space_target_out_of_reach", "1: the open light day can no longer meet its target.",
     METRIC_GAUGE, out_of_reach, NULL, NULL},
    {"space_last_day_delivered_moles_per_square_meter", "Light of the light day that closed last.",
     METRIC_GAUGE, last_delivered, NULL, NULL},
    {"space_last_day_target_moles_per_square_meter", "Target of the light day that closed last.",
     METRIC_GAUGE, last_target, NULL, NULL},
    {"space_night_dose_moles_per_square_meter",
     "Light that fell into nights of the open light day.", METRIC_GAUGE, night_dose, NULL, NULL},
    {"space_power_watts", "Power of its lamps, by their meters or else by their dimming curves.",
     METRIC_GAUGE, watts, NULL, NULL},
    {"space_air_celsius", "Temperature of its air.", METRIC_GAUGE, air, NULL, NULL},
    {"space_relative_humidity_ratio", "Relative humidity of its air.", METRIC_GAUGE, humidity, NULL,
     NULL},
    {"space_vapour_pressure_deficit_pascals", "Vapour pressure deficit of its air.", METRIC_GAUGE,
     deficit, NULL, NULL},
    {"space_lamp_light_of_commissioning_ratio",
     "Light of its lamps beside that of their commissioning.", METRIC_GAUGE, ageing, NULL, NULL},
    {"space_limiter_seconds_total", "How long each rule has set the level since the start.",
     METRIC_COUNTER, limiter_seconds, "limiter", limiter_word},
    {"space_energy_joules_total", "Energy drawn since the start.", METRIC_COUNTER, energy, NULL,
     NULL},
    {"space_cost_total", "What that energy cost, in the currency of the site.", METRIC_COUNTER,
     cost, NULL, NULL},
    {"space_lamp_moles_per_square_meter_total", "Light of the lamps since the start.",
     METRIC_COUNTER, lamp_sum, NULL, NULL},
    {"space_daylight_moles_per_square_meter_total", "Daylight since the start.", METRIC_COUNTER,
     daylight_sum, NULL, NULL},
    {"space_night_breaks_total", "Lights in a night since the start.", METRIC_COUNTER, night_breaks,
     NULL, NULL},
    {"space_events_total", "Events of the space since the start.", METRIC_COUNTER, events, "class",
     class_word},
    {0},
};

const struct metric_table metrics_spaces = {metrics, count, labels};
