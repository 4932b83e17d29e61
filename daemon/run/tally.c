/* SPDX-License-Identifier: Apache-2.0 */
#include "tally.h"

#include "units.h"

#include <math.h>
#include <string.h>

struct tally_before tally_look(const struct space_state *state)
{
    struct tally_before before = {
        .energy_kwh = state->energy_kwh,
        .cost = state->cost,
        .lamp_mol = state->integral.lamp_mol,
        .daylight_mol = state->integral.daylight_mol,
    };
    for (int i = 0; i < SPACE_FIXTURES_MAX; i++) {
        before.switch_operations[i] = state->fixtures[i].switching.operations_total;
    }
    return before;
}

/* A sum of the light day grew; where the day closed in between, it ended at `closed` first. A price
 * below zero lets a cost fall, which a counter must not: that is left out. */
static double growth(double before, double after, const double *closed)
{
    const double grown = closed ? fmax(*closed - before, 0) + after : after - before;
    return grown > 0 ? grown : 0;
}

void tally_step(struct tally *tally, const struct tally_before *before,
                const struct space_state *state, const struct verdict *verdict, double dt_s)
{
    const struct day_summary *closed = verdict->day_closed ? &verdict->closed : NULL;
    tally->energy_j += UNITS_J_PER_KWH * growth(before->energy_kwh, state->energy_kwh,
                                                closed ? &closed->energy_kwh : NULL);
    tally->cost += growth(before->cost, state->cost, closed ? &closed->cost : NULL);
    tally->lamp_mol += growth(before->lamp_mol, state->integral.lamp_mol,
                              closed ? &closed->integral.lamp_mol : NULL);
    tally->daylight_mol += growth(before->daylight_mol, state->integral.daylight_mol,
                                  closed ? &closed->integral.daylight_mol : NULL);
    if ((unsigned)verdict->limiter < LIMITER_COUNT && dt_s > 0) {
        tally->limiter_s[verdict->limiter] += dt_s;
    }
    for (int i = 0; i < SPACE_FIXTURES_MAX; i++) {
        const uint64_t now = state->fixtures[i].switching.operations_total;
        if (now > before->switch_operations[i]) {
            tally->fixtures[i].switch_operations += now - before->switch_operations[i];
        }
    }
}

void tally_event(struct tally *tally, const struct decide_event *event, enum journal_class class)
{
    tally->events[class]++;
    tally->night_breaks += event->kind == EVENT_NIGHT_BREAK;
    if (event->fixture < 0 || event->fixture >= SPACE_FIXTURES_MAX) {
        return;
    }
    struct tally_fixture *fixture = &tally->fixtures[event->fixture];
    /* the trip that was one too many says so instead of being called a trip */
    fixture->heat_trips += event->kind == EVENT_HEAT_TRIP || event->kind == EVENT_HEAT_BLIND ||
                           event->kind == EVENT_HEAT_LATCHED;
    fixture->driver_trips +=
        event->kind == EVENT_DRIVER_TRIP || event->kind == EVENT_DRIVER_GAVE_UP;
}

void tally_carry(struct tally *tally, const struct config *before, int old_space,
                 const struct config *after, int space)
{
    struct tally_fixture old[SPACE_FIXTURES_MAX];
    const struct config_space *was = &before->spaces[old_space];
    const struct config_space *is = &after->spaces[space];
    memcpy(old, tally->fixtures, sizeof old);
    memset(tally->fixtures, 0, sizeof tally->fixtures);
    for (int place = 0; place < is->rules.fixture_count; place++) {
        const char *name = after->fixtures[is->fixtures[place]].name;
        for (int i = 0; i < was->rules.fixture_count; i++) {
            if (strcmp(before->fixtures[was->fixtures[i]].name, name) == 0) {
                tally->fixtures[place] = old[i];
            }
        }
    }
}
