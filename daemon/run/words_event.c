/* SPDX-License-Identifier: Apache-2.0 */
/* One event of decide as a sentence. */
#include "words.h"

#include "parse.h"

#include <math.h>
#include <stdio.h>

/* A sentence is being built: the event, the name of its fixture or space, and where the words go.
 */
struct sentence {
    const struct decide_event *event;
    const struct config_space *space;
    const char *who;
    char *buffer;
    size_t size;
};

static void duration(double seconds, char *buffer, unsigned size)
{
    parse_format_duration(seconds > 0 ? seconds : 0, buffer, size);
}

static void say_day(const struct sentence *s)
{
    const struct decide_event *event = s->event;
    if (event->kind == EVENT_DAY_BEGINS) {
        (void)snprintf(s->buffer, s->size,
                       "the light day begins: day %.0f of its stage, target %.1f mol", event->b,
                       event->a);
    } else if (event->kind == EVENT_CARRIED_OVER) {
        (void)snprintf(s->buffer, s->size,
                       "the target is %.1f mol less %.1f mol that yesterday brought above its "
                       "stage's",
                       event->a + event->b, event->b);
    } else if (event->kind == EVENT_DAY_ENDS) {
        (void)snprintf(s->buffer, s->size, "the last light day ended with %.2f of %.2f mol",
                       event->a, event->b);
    } else if (event->kind == EVENT_TARGET_MET) {
        (void)snprintf(s->buffer, s->size, "the day's target is met: %.2f mol", event->a);
    } else {
        words_reach(&event->reach, s->buffer, s->size);
    }
}

static void say_stage(const struct sentence *s)
{
    int index =
        s->event->a >= 0 && s->event->a < s->space->rules.stage_count ? (int)s->event->a : -1;
    if (s->event->kind == EVENT_STAGE_BEGINS && index >= 0) {
        (void)snprintf(s->buffer, s->size, "stage %s begins", s->space->rules.stages[index].name);
    } else if (s->event->kind == EVENT_STAGE_BEGINS) {
        (void)snprintf(s->buffer, s->size, "a stage begins");
    } else {
        (void)snprintf(s->buffer, s->size, "the last stage has ended: the lamps stay dark");
    }
}

static void say_lights(const struct sentence *s)
{
    if (s->event->kind == EVENT_LIGHTS_ON) {
        (void)snprintf(s->buffer, s->size, "lights on, %.0f %% asked", s->event->a * 100);
    } else {
        (void)snprintf(s->buffer, s->size, "lights off, %.2f mol so far", s->event->a);
    }
}

static void say_heat(const struct sentence *s)
{
    if (s->event->kind == EVENT_HEAT_TRIP) {
        (void)snprintf(s->buffer, s->size, "heat trip of %s at %.1f °C: its switch is open", s->who,
                       s->event->a);
    } else if (s->event->kind == EVENT_HEAT_BLIND) {
        (void)snprintf(s->buffer, s->size,
                       "no temperature of %s can be read: its switch is open as if it were hot",
                       s->who);
    } else if (s->event->kind == EVENT_HEAT_REARMED) {
        (void)snprintf(s->buffer, s->size, "%s has cooled to %.1f °C and may light again", s->who,
                       s->event->a);
    } else {
        (void)snprintf(s->buffer, s->size,
                       "%s tripped by heat too often today: it stays off until acknowledged",
                       s->who);
    }
}

/* " (12 W seen, 250 W by its curve)", or nothing where nothing was measured. */
static void evidence(const struct sentence *s, char *buffer, size_t size)
{
    const struct decide_evidence *its = &s->event->evidence;
    const char *unit = its->in_watts ? "W" : "µmol m⁻² s⁻¹";
    buffer[0] = '\0';
    if (isfinite(its->seen) && isfinite(its->expected)) {
        (void)snprintf(buffer, size, " (%.0f %s seen, %.0f by its curve)", its->seen, unit,
                       its->expected);
    }
}

static void say_curve(const struct sentence *s)
{
    const struct decide_evidence *its = &s->event->evidence;
    const char *unit = its->in_watts ? "W" : "µmol m⁻² s⁻¹";
    char length[24];
    duration(CURVEWATCH_CONFIRM_S, length, sizeof length);
    (void)snprintf(s->buffer, s->size,
                   "%s gives %.0f %s at drive %.2f, its curve says %.0f %s; for %s", s->who,
                   s->event->a, unit, its->drive, s->event->b, unit, length);
}

/* Sensor or lamp: the steps cannot tell which, so both cures are named. */
static void say_drift(const struct sentence *s)
{
    const double ratio = s->event->a;
    const int length =
        snprintf(s->buffer, s->size,
                 "where the lamps switch the sensor shows %.0f %% of the light that they promise "
                 "(median of %.0f)",
                 ratio * 100, s->event->b);
    if (length < 0 || (size_t)length >= s->size) {
        return;
    }
    if (fabs(ratio - 1) < LAMPSTEP_DRIFT) {
        (void)snprintf(s->buffer + length, s->size - (size_t)length, ": they agree again");
    } else {
        (void)snprintf(s->buffer + length, s->size - (size_t)length,
                       "; sensor wrong: canopy_factor × %.2f; lamps aged: ppfd_full × %.2f; see "
                       "lampwarden gain",
                       1 / ratio, ratio);
    }
}

static void say_correction(const struct sentence *s)
{
    const double factor = s->event->a;
    if (s->event->kind == EVENT_SENSOR_CORRECTED) {
        (void)snprintf(s->buffer, s->size,
                       "accepted: the PPFD sensor shows %.3g times the light that falls; readings "
                       "are divided by it (median of %.0f steps of the lamps)",
                       factor, s->event->b);
    } else if (s->event->kind == EVENT_LAMP_CORRECTED) {
        (void)snprintf(s->buffer, s->size,
                       "accepted: the lamps give %.3g times their ppfd_full (median of %.0f steps)",
                       factor, s->event->b);
    } else {
        (void)snprintf(s->buffer, s->size,
                       "sensor and lamps count as configured again (before: readings ÷ %.3g, "
                       "ppfd_full × %.3g)",
                       factor, s->event->b);
    }
}

static void say_driver(const struct sentence *s)
{
    double drive = s->event->a * 100;
    char seen[80];
    evidence(s, seen, sizeof seen);
    if (s->event->kind == EVENT_DRIVER_TRIP) {
        (void)snprintf(
            s->buffer, s->size,
            "the LED driver of %s tripped at %.0f %% drive%s: resting, then at most %.0f %%",
            s->who, drive, seen, s->event->b * 100);
    } else if (s->event->kind == EVENT_DRIVER_RESTRIKE) {
        (void)snprintf(s->buffer, s->size, "%s is tried again, with at most %.0f %% drive", s->who,
                       drive);
    } else if (s->event->kind == EVENT_DRIVER_LIGHT_BACK) {
        (void)snprintf(s->buffer, s->size, "%s gives light again", s->who);
    } else {
        (void)snprintf(s->buffer, s->size,
                       "%s gave no light after %.0f tries%s: it looks broken and rests longer now",
                       s->who, s->event->a, seen);
    }
}

static void say_sensor(const struct sentence *s)
{
    if (s->event->kind == EVENT_SENSOR_BACK) {
        (void)snprintf(s->buffer, s->size, "the light reading is back");
    } else if (isfinite(s->event->a)) {
        (void)snprintf(s->buffer, s->size,
                       "the light reading is lost: going on without it at %.0f %%",
                       s->event->a * 100);
    } else {
        (void)snprintf(s->buffer, s->size, "the light reading is lost");
    }
}

static void say_ageing(const struct sentence *s)
{
    const int place = (int)s->event->b;
    if (s->event->kind == EVENT_LIGHT_AGED) {
        (void)snprintf(s->buffer, s->size,
                       "the lamps give %.0f %% of what they were commissioned with, after %.0f "
                       "days: clean lamps and light sensors, then measure again",
                       100 * s->event->a, s->event->b);
        return;
    }
    (void)snprintf(s->buffer, s->size,
                   "light sensor %d of %d shows %.0f %% of what it did beside the others: dust on "
                   "it, or it was moved",
                   place + 1, s->space->ppfd_sensor_count, 100 * s->event->a);
}

static void say_switch(const struct sentence *s)
{
    if (s->event->kind == EVENT_SWITCH_FREED) {
        (void)snprintf(s->buffer, s->size, "the switch of %s obeys again", s->who);
    } else {
        (void)snprintf(s->buffer, s->size,
                       "the switch of %s is open, yet %s is seen (%.1f %s): is its contact welded?",
                       s->who, s->event->evidence.in_watts ? "power" : "light", s->event->a,
                       s->event->evidence.in_watts ? "W" : "µmol m⁻² s⁻¹");
    }
}

static void say_opening(const struct sentence *s)
{
    char length[24];
    if (s->event->kind == EVENT_OPENING_UNCONFIRMED) {
        (void)snprintf(s->buffer, s->size,
                       "the switch of %s was told to open and does not answer: it may still be lit "
                       "at %.0f %%",
                       s->who, s->event->a * 100);
        return;
    }
    duration(s->event->a, length, sizeof length);
    int used = snprintf(s->buffer, s->size, "the opening of the switch of %s is confirmed after %s",
                        s->who, length);
    if (s->event->b > 0 && used > 0 && (size_t)used < s->size) {
        (void)snprintf(s->buffer + used, s->size - (size_t)used,
                       "; the night may have had up to %.0f µmol m⁻² of it", s->event->b);
    }
}

static void say_night(const struct sentence *s)
{
    if (s->event->kind == EVENT_NIGHT_BREAK) {
        (void)snprintf(s->buffer, s->size, "light in the night: %.2f µmol m⁻² s⁻¹", s->event->a);
        return;
    }
    char length[24];
    duration(s->event->b, length, sizeof length);
    (void)snprintf(s->buffer, s->size,
                   "the night is dark again: its dose is %.0f µmol m⁻², longest light %s",
                   s->event->a, length);
}

static void say_hand(const struct sentence *s)
{
    if (s->event->kind == EVENT_HAND_ENDS) {
        (void)snprintf(s->buffer, s->size, "the hand command has ended: back to the plan");
        return;
    }
    char length[24];
    duration(ceil(s->event->b - 0.01), length, sizeof length); /* it was given in whole seconds */
    (void)snprintf(s->buffer, s->size, "by hand: %.0f %% for %s", s->event->a * 100, length);
}

static void say_try(const struct sentence *s)
{
    char length[24];
    duration(ceil(s->event->b - 0.01), length, sizeof length);
    if (s->event->kind == EVENT_TRY_ENDS) {
        (void)snprintf(s->buffer, s->size, "the %s of %s is no longer moved by hand",
                       s->event->a > 0 ? "switch" : "dimming output", s->who);
    } else if (s->event->kind == EVENT_TRY_CONTACT) {
        (void)snprintf(s->buffer, s->size, "try: the switch of %s %s by hand for %s", s->who,
                       s->event->a > 0 ? "closed" : "open", length);
    } else {
        (void)snprintf(s->buffer, s->size, "try: the drive of %s at %.2f by hand for %s", s->who,
                       s->event->a, length);
    }
}

static void say_clock(const struct sentence *s)
{
    static const char *const policies[] = {
        [CLOCK_POLICY_DARK] = "the lamps stay dark",
        [CLOCK_POLICY_LOW] = "the lamps give a low, constant light",
        [CLOCK_POLICY_CARRY_ON] = "the day goes on by the clock as it is",
    };
    if (s->event->kind == EVENT_GAP) {
        char length[24];
        duration(s->event->a, length, sizeof length);
        (void)snprintf(s->buffer, s->size, "nothing was measured or decided for %s", length);
        return;
    }
    if (s->event->kind == EVENT_CLOCK_TRUSTED) {
        (void)snprintf(s->buffer, s->size, "the time of day is known again");
        return;
    }
    bool is_known = s->event->a >= CLOCK_POLICY_DARK && s->event->a <= CLOCK_POLICY_CARRY_ON;
    (void)snprintf(s->buffer, s->size, "the time of day cannot be trusted: %s",
                   policies[is_known ? (int)s->event->a : (int)CLOCK_POLICY_DARK]);
}

static void (*const say[EVENT_KIND_COUNT])(const struct sentence *s) = {
    [EVENT_DAY_BEGINS] = say_day,
    [EVENT_CARRIED_OVER] = say_day,
    [EVENT_DAY_ENDS] = say_day,
    [EVENT_TARGET_MET] = say_day,
    [EVENT_TARGET_OUT_OF_REACH] = say_day,
    [EVENT_STAGE_BEGINS] = say_stage,
    [EVENT_STAGES_OVER] = say_stage,
    [EVENT_LIGHTS_ON] = say_lights,
    [EVENT_LIGHTS_OFF] = say_lights,
    [EVENT_HEAT_TRIP] = say_heat,
    [EVENT_HEAT_BLIND] = say_heat,
    [EVENT_HEAT_REARMED] = say_heat,
    [EVENT_HEAT_LATCHED] = say_heat,
    [EVENT_DRIVER_TRIP] = say_driver,
    [EVENT_DRIVER_RESTRIKE] = say_driver,
    [EVENT_DRIVER_LIGHT_BACK] = say_driver,
    [EVENT_DRIVER_GAVE_UP] = say_driver,
    [EVENT_SENSOR_LOST] = say_sensor,
    [EVENT_SENSOR_BACK] = say_sensor,
    [EVENT_SWITCH_STUCK] = say_switch,
    [EVENT_SWITCH_FREED] = say_switch,
    [EVENT_NIGHT_BREAK] = say_night,
    [EVENT_NIGHT_BREAK_ENDS] = say_night,
    [EVENT_HAND_BEGINS] = say_hand,
    [EVENT_HAND_ENDS] = say_hand,
    [EVENT_CLOCK_UNTRUSTED] = say_clock,
    [EVENT_CLOCK_TRUSTED] = say_clock,
    [EVENT_GAP] = say_clock,
    [EVENT_TRY_DRIVE] = say_try,
    [EVENT_TRY_CONTACT] = say_try,
    [EVENT_TRY_ENDS] = say_try,
    [EVENT_CURVE_WRONG] = say_curve,
    [EVENT_OPENING_UNCONFIRMED] = say_opening,
    [EVENT_OPENING_CONFIRMED] = say_opening,
    [EVENT_LIGHT_DRIFT] = say_drift,
    [EVENT_SENSOR_CORRECTED] = say_correction,
    [EVENT_LAMP_CORRECTED] = say_correction,
    [EVENT_CORRECTION_ENDS] = say_correction,
    [EVENT_LIGHT_AGED] = say_ageing,
    [EVENT_SENSOR_FALLEN] = say_ageing,
};

void words_event(const struct config *config, int space, const struct decide_event *event,
                 char *buffer, size_t size)
{
    const struct config_space *place = &config->spaces[space];
    bool has_fixture = event->fixture >= 0 && event->fixture < place->rules.fixture_count;
    const struct sentence sentence = {
        .event = event,
        .space = place,
        .who = has_fixture ? config->fixtures[place->fixtures[event->fixture]].name : place->name,
        .buffer = buffer,
        .size = size,
    };
    if ((unsigned)event->kind < EVENT_KIND_COUNT && say[event->kind]) {
        say[event->kind](&sentence);
    } else {
        (void)snprintf(buffer, size, "something happened that has no name");
    }
}
