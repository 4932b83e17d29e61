/* SPDX-License-Identifier: Apache-2.0 */
/* What a limiter and the present state are called. words_event.c has the sentences of events. */
#include "words.h"

#include "clocktrust.h"
#include "parse.h"
#include "units.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define STEADY_LEVEL 0.015 /* nearer to what is asked is there */

static const char *const limiter_words[LIMITER_COUNT] = {
    [LIMITER_NOT_RUNNING] = "lamp control not running",
    [LIMITER_NIGHT] = "night",
    [LIMITER_CLOCK_UNTRUSTED] = "time of day not known",
    [LIMITER_OUTPUT_FAULT] = "an output that did not obey",
    [LIMITER_HEAT_TRIP] = "heat trip",
    [LIMITER_DRIVER_TRIP] = "LED driver trip",
    [LIMITER_REST] = "minimum off time of the switch",
    [LIMITER_HEAT] = "heat foldback",
    [LIMITER_DRIVE_CEILING] = "drive ceiling of the LED driver",
    [LIMITER_POWER_LIMIT] = "power limit of all spaces",
    [LIMITER_LIGHT_CEILING] = "PPFD ceiling of the stage",
    [LIMITER_SENSOR_LOST] = "no light reading",
    [LIMITER_BY_HAND] = "by hand",
    [LIMITER_DAWN] = "dawn",
    [LIMITER_DUSK] = "dusk",
    [LIMITER_FULL_LIGHT] = "lamps at full light",
    [LIMITER_TARGET_MET] = "target met",
    [LIMITER_PLAN] = "plan",
};

const char *words_limiter(enum limiter limiter)
{
    return (unsigned)limiter < LIMITER_COUNT ? limiter_words[limiter] : "unknown";
}

const char *words_missing(enum limiter limiter)
{
    if (limiter == LIMITER_PLAN || limiter == LIMITER_TARGET_MET) {
        return "what the plan did not foresee";
    }
    return words_limiter(limiter);
}

const char *words_clock(const char *name)
{
    if (strcmp(name, clocktrust_name(CLOCK_UNTRUSTED)) == 0) {
        return "not believed";
    }
    return strcmp(name, clocktrust_name(CLOCK_HELD_OVER)) == 0 ? "not synchronised" : name;
}

/* What the sentences of one state are made from. */
struct scene {
    const struct config *config;
    const struct config_space *space;
    const struct now *now;
    const struct verdict *verdict;
    char on[48]; /* "on at 62 %", "on at 28 %, rising to 62 %" or "dark" */
};

/* "06:00"; "2026-11-03 06:00" when more than a day away. */
static void moment(const struct scene *scene, int64_t wall_s, char *buffer, size_t size)
{
    const struct lightday_rules *day = &scene->space->rules.day;
    char time[12];
    parse_format_time_of_day(lightday_second(day, wall_s) / 60 * 60, time, sizeof time);
    if (wall_s - scene->now->wall_s < UNITS_S_PER_DAY) {
        (void)snprintf(buffer, size, "%s", time);
        return;
    }
    char date[16];
    const struct lightday_rules civil = {.utc_offset_s = day->utc_offset_s, .start_s = 0};
    parse_format_date(lightday_of(&civil, wall_s), date, sizeof date);
    (void)snprintf(buffer, size, "%s %s", date, time);
}

/* " until 06:00" behind `before`, or "" when no lights-on is in sight. Inside the window the next
 * lights-on is that of the next window. */
static void until_on(const struct scene *scene, const char *before, char *buffer, size_t size)
{
    const struct lightday_place *place = &scene->verdict->place;
    int64_t until_s = place->until_on_s;
    if (place->is_lit && !place->is_always) {
        const int64_t now_s = scene->now->wall_s;
        until_s = decide_next_on(&scene->space->rules, now_s + place->until_off_s) - now_s;
    }
    if (until_s <= 0) {
        (void)snprintf(buffer, size, "%s", "");
        return;
    }
    char time[40];
    moment(scene, scene->now->wall_s + until_s, time, sizeof time);
    (void)snprintf(buffer, size, "%s until %s", before, time);
}

/* The names of the fixtures that this limiter rules, joined: "lamp-1, lamp-2 and 3 more". */
static void culprits(const struct scene *scene, enum limiter limiter, char *buffer, size_t size)
{
    size_t used = 0;
    int left_out = 0;
    buffer[0] = '\0';
    for (int i = 0; i < scene->space->rules.fixture_count; i++) {
        if (scene->verdict->fixtures[i].limiter != limiter) {
            continue;
        }
        const char *name = scene->config->fixtures[scene->space->fixtures[i]].name;
        int length =
            used < 64 ? snprintf(buffer + used, size - used, "%s%s", used ? ", " : "", name) : -1;
        if (length < 0 || (size_t)length >= size - used) {
            buffer[used] = '\0';
            left_out++;
        } else {
            used += (size_t)length;
        }
    }
    if (left_out > 0) {
        (void)snprintf(buffer + used, size - used, " and %d more", left_out);
    }
    if (used == 0) {
        (void)snprintf(buffer, size, "%s", "a fixture");
    }
}

static double hottest_c(const struct scene *scene)
{
    double hottest = UNITS_NONE;
    for (int i = 0; i < scene->space->rules.fixture_count; i++) {
        const struct reading *heat = &scene->now->fixtures[i].heat;
        hottest = reading_is_good(heat) ? fmax(hottest, heat->value) : hottest;
    }
    return hottest;
}

static void say_night(const struct scene *scene, char *buffer, size_t size)
{
    const struct stage_today *stage = &scene->verdict->stage;
    char when[48];
    switch (stage->phase) {
    case STAGE_WAITING:
        (void)snprintf(buffer, size, "dark: the first stage begins in %d %s", stage->day,
                       stage->day == 1 ? "day" : "days");
        return;
    case STAGE_OVER:
        (void)snprintf(buffer, size, "dark: the last stage has ended");
        return;
    case STAGE_RUNNING:
        until_on(scene, "", when, sizeof when);
        (void)snprintf(buffer, size, "dark: night%s", when);
        return;
    }
}

static void say_hand(const struct scene *scene, char *buffer, size_t size)
{
    if (!scene->now->hand.is_active) {
        const double percent = units_clamp(scene->verdict->level, 0, 1) * 100;
        (void)snprintf(buffer, size, "on at %.0f %%, with an output moved by hand", percent);
        return;
    }
    int64_t left_s = (scene->now->hand.until_ns - scene->now->boot_ns) / UNITS_NS_PER_S;
    char when[40];
    moment(scene, scene->now->wall_s + left_s, when, sizeof when);
    (void)snprintf(buffer, size, "%s by hand until %s", scene->on, when);
}

static void say_heat(const struct scene *scene, char *buffer, size_t size)
{
    double heat_c = hottest_c(scene);
    if (units_known(heat_c)) {
        (void)snprintf(buffer, size, "%s, held down by heat (heatsink %.1f °C)", scene->on, heat_c);
    } else {
        (void)snprintf(buffer, size, "%s, held down by heat", scene->on);
    }
}

static void say_ramp(const struct scene *scene, bool is_dawn, char *buffer, size_t size)
{
    double percent = scene->verdict->level * 100;
    if (is_dawn) {
        (void)snprintf(buffer, size, "dawn: %.0f %% rising to %.0f %%", percent,
                       scene->verdict->planned_level * 100);
        return;
    }
    char when[40];
    int64_t left_s = scene->verdict->place.until_off_s;
    moment(scene, scene->now->wall_s + (left_s > 0 ? left_s : 0), when, sizeof when);
    (void)snprintf(buffer, size, "dusk: %.0f %% falling to dark at %s", percent, when);
}

static void say_met(const struct scene *scene, char *buffer, size_t size)
{
    char when[64];
    double delivered_mol = scene->verdict->account.delivered_mol;
    until_on(scene, ", off", when, sizeof when);
    if (scene->verdict->level > 0) {
        (void)snprintf(buffer, size, "target met: %.1f mol, %s", delivered_mol, scene->on);
    } else {
        (void)snprintf(buffer, size, "target met: %.1f mol%s", delivered_mol, when);
    }
}

static void say_plan(const struct scene *scene, char *buffer, size_t size)
{
    const struct verdict *verdict = scene->verdict;
    if (verdict->level > 0 && decide_is_floor(&scene->space->rules, verdict)) {
        (void)snprintf(buffer, size, "%s for the stage's least light", scene->on);
    } else if (verdict->level > 0) {
        (void)snprintf(buffer, size, "%s by plan", scene->on);
    } else if (verdict->daylight_umol > 0) {
        (void)snprintf(buffer, size, "off by plan: daylight gives %.0f µmol m⁻² s⁻¹",
                       verdict->daylight_umol);
    } else if (verdict->asked > 0) {
        (void)snprintf(buffer, size, "dark: waiting its turn to switch on");
    } else {
        (void)snprintf(buffer, size, "off by plan");
    }
}

static void say_full(const struct scene *scene, char *buffer, size_t size)
{
    double short_mol = account_missing_mol(&scene->verdict->account);
    if (short_mol >= 0.05) {
        (void)snprintf(buffer, size, "%s: all there is, the day will be short by %.1f mol",
                       scene->on, short_mol);
    } else {
        (void)snprintf(buffer, size, "%s: all there is", scene->on);
    }
}

/* Limiters that are a fixed phrase behind "on at 41 %" or "dark". */
static void say_phrase(const struct scene *scene, char *buffer, size_t size)
{
    char who[80];
    const char *phrase = words_limiter(scene->verdict->limiter);
    culprits(scene, scene->verdict->limiter, who, sizeof who);
    switch (scene->verdict->limiter) {
    case LIMITER_OUTPUT_FAULT:
        (void)snprintf(buffer, size, "%s: an output of %s does not obey", scene->on, who);
        return;
    case LIMITER_HEAT_TRIP:
        (void)snprintf(buffer, size, "%s: heat trip of %s, waiting for it to cool", scene->on, who);
        return;
    case LIMITER_DRIVER_TRIP:
        (void)snprintf(buffer, size, "%s: LED driver trip of %s, resting before the next try",
                       scene->on, who);
        return;
    case LIMITER_CLOCK_UNTRUSTED:
    case LIMITER_REST:
    case LIMITER_DRIVE_CEILING:
    case LIMITER_POWER_LIMIT:
    case LIMITER_LIGHT_CEILING:
    case LIMITER_SENSOR_LOST:
        (void)snprintf(buffer, size, "%s: %s", scene->on, phrase);
        return;
    case LIMITER_NOT_RUNNING:
    case LIMITER_NIGHT:
    case LIMITER_HEAT:
    case LIMITER_BY_HAND:
    case LIMITER_DAWN:
    case LIMITER_DUSK:
    case LIMITER_FULL_LIGHT:
    case LIMITER_TARGET_MET:
    case LIMITER_PLAN:
    case LIMITER_COUNT:
        break;
    }
    (void)snprintf(buffer, size, "%s, %s", scene->on, phrase);
}

/* The lowest level that all lamps can be dimmed to. */
static double least_level(const struct space_rules *rules)
{
    double least = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        least = fmax(least, dimcurve_min_level(&rules->fixtures[i].curve));
    }
    return least;
}

/* Whether the level is on its way to what the space asks for; a fixture's own limits are no way. */
static bool is_asked_for(const struct verdict *verdict)
{
    return verdict->asked > 0 &&
           (verdict->limiter == LIMITER_PLAN || verdict->limiter == LIMITER_FULL_LIGHT ||
            verdict->limiter == LIMITER_BY_HAND || verdict->limiter == LIMITER_LIGHT_CEILING ||
            verdict->limiter == LIMITER_SENSOR_LOST);
}

static void say_level(const struct scene *scene, char *buffer, size_t size)
{
    const struct verdict *verdict = scene->verdict;
    const double level = units_clamp(verdict->level, 0, 1);
    const double lowest = fmax(verdict->asked, least_level(&scene->space->rules));
    if (!(level > 0)) {
        (void)snprintf(buffer, size, "dark");
    } else if (is_asked_for(verdict) && verdict->asked > level + STEADY_LEVEL) {
        (void)snprintf(buffer, size, "on at %.0f %%, rising to %.0f %%", 100 * level,
                       100 * verdict->asked);
    } else if (is_asked_for(verdict) && level > lowest + STEADY_LEVEL) {
        (void)snprintf(buffer, size, "on at %.0f %%, falling to %.0f %%", 100 * level,
                       100 * lowest);
    } else {
        (void)snprintf(buffer, size, "on at %.0f %%", 100 * level);
    }
}

static void say_limiter(const struct scene *scene, char *buffer, size_t size)
{
    const enum limiter limiter = scene->verdict->limiter;
    switch (limiter) {
    case LIMITER_NIGHT:
        say_night(scene, buffer, size);
        return;
    case LIMITER_HEAT:
        say_heat(scene, buffer, size);
        return;
    case LIMITER_BY_HAND:
        say_hand(scene, buffer, size);
        return;
    case LIMITER_DAWN:
    case LIMITER_DUSK:
        say_ramp(scene, limiter == LIMITER_DAWN, buffer, size);
        return;
    case LIMITER_FULL_LIGHT:
        say_full(scene, buffer, size);
        return;
    case LIMITER_TARGET_MET:
        say_met(scene, buffer, size);
        return;
    case LIMITER_PLAN:
        say_plan(scene, buffer, size);
        return;
    case LIMITER_NOT_RUNNING:
    case LIMITER_CLOCK_UNTRUSTED:
    case LIMITER_OUTPUT_FAULT:
    case LIMITER_HEAT_TRIP:
    case LIMITER_DRIVER_TRIP:
    case LIMITER_REST:
    case LIMITER_DRIVE_CEILING:
    case LIMITER_POWER_LIMIT:
    case LIMITER_LIGHT_CEILING:
    case LIMITER_SENSOR_LOST:
    case LIMITER_COUNT:
        break;
    }
    say_phrase(scene, buffer, size);
}

/* What was commanded is dark; what nobody confirmed is said beside it. */
static void add_unsure(const struct scene *scene, char *buffer, size_t size)
{
    for (int i = 0; i < scene->space->rules.fixture_count; i++) {
        const size_t used = strlen(buffer);
        if (scene->verdict->fixtures[i].unsure_s > 0) {
            (void)snprintf(buffer + used, size - used, "; %s may still be lit",
                           scene->config->fixtures[scene->space->fixtures[i]].name);
        }
    }
}

static void add_unknown(const struct scene *scene, char *buffer, size_t size)
{
    const char *before = "; switch not known, may be lit: ";
    for (int i = 0; i < scene->space->rules.fixture_count; i++) {
        const size_t used = strlen(buffer);
        if (scene->verdict->fixtures[i].is_unknown) {
            (void)snprintf(buffer + used, size - used, "%s%s", before,
                           scene->config->fixtures[scene->space->fixtures[i]].name);
            before = ", ";
        }
    }
}

void words_state(const struct config *config, int space, const struct now *now,
                 const struct verdict *verdict, char *buffer, size_t size)
{
    struct scene scene = {
        .config = config, .space = &config->spaces[space], .now = now, .verdict = verdict};
    say_level(&scene, scene.on, sizeof scene.on);
    say_limiter(&scene, buffer, size);
    add_unsure(&scene, buffer, size);
    add_unknown(&scene, buffer, size);
}
