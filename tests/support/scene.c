/* SPDX-License-Identifier: Apache-2.0 */
#include "scene.h"

#include "units.h"

#include <string.h>

static struct reading good(double value, int64_t boot_ns)
{
    return units_known(value) ? (struct reading){value, boot_ns, READING_GOOD} : READING_NONE;
}

/* Marks in `quality` of readings that follow the lamp: none; a test's own value is kept in the
 * reading and only its time moves on. */
static void refresh(struct reading *reading, int64_t boot_ns)
{
    if (reading->quality == READING_GOOD) {
        reading->taken_ns = boot_ns;
    }
}

static bool follows(const struct reading *reading)
{
    return reading->quality == READING_SUSPECT; /* not yet set by the test */
}

void scene_begin(struct scene *scene, int fixtures, int64_t second)
{
    memset(scene, 0, sizeof *scene);
    sim_config_init(&scene->sim, fixtures);
    const struct space_rules *rules = &scene->sim.space.rules;
    space_init(&scene->state, rules);
    scene->now = (struct now){
        .boot_ns = 1000 * UNITS_NS_PER_S,
        .wall_s = lightday_begin(&rules->day, SIM_DAY) + second,
        .clock = CLOCK_SYNCHRONISED,
        .may_close = true,
        .inputs_settled = true,
        .price_per_kwh = 0.3,
        .ppfd = {0, 0, READING_SUSPECT},
    };
    for (int i = 0; i < fixtures; i++) {
        scene->now.fixtures[i].heat = good(40, scene->now.boot_ns);
        scene->now.fixtures[i].power = (struct reading){0, 0, READING_SUSPECT};
    }
}

void scene_ppfd(struct scene *scene, double umol)
{
    scene->now.ppfd = good(umol, scene->now.boot_ns);
}

void scene_heat(struct scene *scene, int fixture, double celsius)
{
    scene->now.fixtures[fixture].heat = good(celsius, scene->now.boot_ns);
}

void scene_power(struct scene *scene, int fixture, double watts)
{
    scene->now.fixtures[fixture].power = good(watts, scene->now.boot_ns);
}

void scene_tick(struct scene *scene, double dt_s)
{
    const struct space_rules *rules = &scene->sim.space.rules;
    scene->now.boot_ns += (int64_t)(dt_s * 1e9);
    scene->now.wall_s += (int64_t)dt_s;
    if (rules->tariff) {
        scene->now.price_per_kwh = tariff_price(rules->tariff, scene->now.wall_s);
    }
    struct now now = scene->now;
    double umol = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        const struct fixture_state *fixture = &scene->state.fixtures[i];
        const double watts =
            fixture->level > 0 ? dimcurve_watts(&rules->fixtures[i].curve, fixture->drive) : 0;
        umol += rules->fixtures[i].full_umol * fixture->level;
        refresh(&scene->now.fixtures[i].heat, now.boot_ns);
        refresh(&scene->now.fixtures[i].power, now.boot_ns);
        now.fixtures[i].heat = scene->now.fixtures[i].heat;
        now.fixtures[i].power = follows(&scene->now.fixtures[i].power)
                                    ? good(watts, now.boot_ns)
                                    : scene->now.fixtures[i].power;
    }
    refresh(&scene->now.ppfd, now.boot_ns);
    now.ppfd = follows(&scene->now.ppfd) ? good(umol, now.boot_ns) : scene->now.ppfd;
    decide(rules, &scene->state, &now, &scene->verdict);
    scene->now.acknowledged = false;
}

void scene_run(struct scene *scene, int ticks)
{
    for (int i = 0; i < ticks; i++) {
        scene_tick(scene, 1);
    }
}

bool scene_said(const struct scene *scene, enum core_event kind)
{
    for (int i = 0; i < scene->verdict.event_count; i++) {
        if (scene->verdict.events[i].kind == kind) {
            return true;
        }
    }
    return false;
}
