/* SPDX-License-Identifier: Apache-2.0 */
/* What a person accepts of the light's gain: between two ticks, never by itself. */
#include "tick_private.h"

#include "announce.h"
#include "err.h"
#include "units.h"

#include <errno.h>

#define NOTHING_TO_CORRECT 0.005

static double basis_of(const struct config_space *space, enum correction_of of)
{
    return of == CORRECTION_SENSOR ? space->canopy_factor : space_configured_umol(&space->rules);
}

static void tell(const struct tick *tick, int space, const struct decide_event *event)
{
    struct journal_event stored;
    recorder_event(tick->config, space, event, tick->sure_s, tick->states[space].light_day,
                   &stored);
    (void)journal_put_event(tick->journal, &stored); /* a loss is counted by the journal */
    announce_log(&stored);
}

static void tell_end(const struct tick *tick, int space, const struct correction *before)
{
    tell(tick, space,
         &(struct decide_event){
             .kind = EVENT_CORRECTION_ENDS, .fixture = -1, .a = before->sensor, .b = before->lamp});
}

static int refuse(const struct config_space *space, const struct space_state *state,
                  struct err *err)
{
    const double ratio = lampstep_ratio(&state->lampstep);
    if (!space->rules.has_ppfd) {
        return err_fail(err, EPERM, "%s has no PPFD sensor: nobody saw its lamps", space->name);
    }
    if (!units_known(ratio)) {
        return err_fail(
            err, EPERM,
            "%s: only %d of the %d steps that it takes were seen. A step is a moment at "
            "which its lamps light up or go dark under a quiet sky",
            space->name, state->lampstep.count, LAMPSTEP_KEPT);
    }
    if (!(fabs(ratio - 1) >= NOTHING_TO_CORRECT)) {
        return err_fail(err, EPERM,
                        "%s: sensor and lamps agree within %.1f %%, there is nothing to correct",
                        space->name, 100 * NOTHING_TO_CORRECT);
    }
    return err_fail(err, ERANGE,
                    "%s: with what was accepted before this would leave %.2g … %.2g. That is no "
                    "ageing: look at the sensor's place, its register and the lamps' ppfd_full",
                    space->name, CORRECTION_LOW, CORRECTION_HIGH);
}

int tick_correct(struct tick *tick, int space, enum correction_of of, struct err *err)
{
    const struct config_space *its = &tick->config->spaces[space];
    struct space_state *state = &tick->states[space];
    const double ratio = lampstep_ratio(&state->lampstep);
    if (!its->rules.has_ppfd || !(fabs(ratio - 1) >= NOTHING_TO_CORRECT) ||
        !space_correct(state, of, basis_of(its, of), tick->sure_s)) {
        return refuse(its, state, err);
    }
    const bool is_sensor = of == CORRECTION_SENSOR;
    tell(tick, space,
         &(struct decide_event){.kind = is_sensor ? EVENT_SENSOR_CORRECTED : EVENT_LAMP_CORRECTED,
                                .fixture = -1,
                                .a = is_sensor ? state->correction.sensor : state->correction.lamp,
                                .b = LAMPSTEP_KEPT});
    return 0;
}

bool tick_uncorrect(struct tick *tick, int space)
{
    struct space_state *state = &tick->states[space];
    const struct correction before = state->correction;
    if (correction_is_none(&before)) {
        return false;
    }
    space_uncorrect(state);
    tell_end(tick, space, &before);
    return true;
}

void tick_rebase_correction(struct tick *tick, int space)
{
    const struct config_space *its = &tick->config->spaces[space];
    struct correction *correction = &tick->states[space].correction;
    const struct correction before = *correction;
    const bool sensor_ended =
        correction_rebase(correction, CORRECTION_SENSOR, basis_of(its, CORRECTION_SENSOR));
    const bool lamp_ended =
        correction_rebase(correction, CORRECTION_LAMP, basis_of(its, CORRECTION_LAMP));
    if (sensor_ended || lamp_ended) {
        tell_end(tick, space, &before);
    }
}
