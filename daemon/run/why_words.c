/* SPDX-License-Identifier: Apache-2.0 */
/* The first sentence of an explanation: what the lamps did, who held them there, what was planned.
 */
#include "why_parts.h"

#include "parse.h"
#include "units.h"
#include "words.h"

#include <stdarg.h>
#include <stdio.h>

#define SOME_MOL 0.005 /* less is printed as 0.00 */

/* Why a lamp has no more, then and now. */
static const struct {
    const char *then, *now;
} reasons[LIMITER_COUNT] = {
    [LIMITER_NOT_RUNNING] = {"nobody ran the lamps", "nobody runs the lamps"},
    [LIMITER_NIGHT] = {"it was night", "it is night"},
    [LIMITER_CLOCK_UNTRUSTED] = {"the time of day was not known", "the time of day is not known"},
    [LIMITER_OUTPUT_FAULT] = {"an output did not obey", "an output does not obey"},
    [LIMITER_HEAT_TRIP] = {"a heat trip held its switch open", "a heat trip holds its switch open"},
    [LIMITER_DRIVER_TRIP] = {"its LED driver had tripped and rested",
                             "its LED driver has tripped and rests"},
    [LIMITER_REST] = {"its switch served its minimum off time",
                      "its switch serves its minimum off time"},
    [LIMITER_HEAT] = {"heat foldback allowed no more", "heat foldback allows no more"},
    [LIMITER_DRIVE_CEILING] = {"the drive ceiling of its LED driver allowed no more",
                               "the drive ceiling of its LED driver allows no more"},
    [LIMITER_POWER_LIMIT] = {"the power limit of all spaces allowed no more",
                             "the power limit of all spaces allows no more"},
    [LIMITER_LIGHT_CEILING] = {"the PPFD ceiling of the stage allowed no more",
                               "the PPFD ceiling of the stage allows no more"},
    [LIMITER_SENSOR_LOST] = {"without a light reading there was only the stage's fixed level",
                             "without a light reading there is only the stage's fixed level"},
    [LIMITER_BY_HAND] = {"somebody had set that by hand", "somebody has set that by hand"},
    [LIMITER_DAWN] = {"dawn had come no further", "dawn has come no further"},
    [LIMITER_DUSK] = {"dusk allowed no more", "dusk allows no more"},
    [LIMITER_FULL_LIGHT] = {"that was all there is", "that is all there is"},
    [LIMITER_TARGET_MET] = {"the target was met", "the target is met"},
    [LIMITER_PLAN] = {"the plan asked for no more", "the plan asks for no more"},
};

void why_add(struct why_text *text, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    const int length = vsnprintf(text->at, text->left, format, args);
    va_end(args);
    const size_t used = length < 0                    ? 0
                        : (size_t)length < text->left ? (size_t)length
                                                      : text->left - 1;
    text->at += used;
    text->left -= used;
}

void why_clock(const struct why_frame *frame, int64_t wall_s, char *buffer, unsigned size)
{
    const struct lightday_rules civil = {.utc_offset_s = frame->offset_s};
    parse_format_time_of_day(lightday_second(&civil, wall_s) / 60 * 60, buffer, size);
}

double why_lamp_cost(const struct why_frame *frame)
{
    const double mol_per_s = units_mol(frame->lamp_umol, 1);
    return mol_per_s > 1e-7 && frame->watts > 0
               ? frame->price_per_kwh * units_kwh(frame->watts, 1) / mol_per_s
               : UNITS_NONE;
}

/* "was" or "is". */
static const char *be(const struct why_frame *frame)
{
    return frame->is_now ? "is" : "was";
}

static void add_to_come(struct why_text *text, const struct why_frame *frame,
                        const struct moment *moment)
{
    const double mol = moment->target_mol - moment->delivered_mol;
    if (mol >= SOME_MOL) {
        why_add(text, "%.*f mol %s still to come", mol < 1 ? 2 : 1, mol,
                frame->is_now ? "are" : "were");
    } else {
        why_add(text, "the target %s all but met", be(frame));
    }
}

/* "it bought light up to 0.021 EUR/mol at 0.300 EUR/kWh" */
static void add_price(struct why_text *text, const struct why_frame *frame,
                      const struct moment *moment)
{
    const char *currency = frame->currency;
    why_add(text, "it %s light up to %.3f%s%s/mol", frame->is_now ? "buys" : "bought",
            moment->chain.light_price, currency[0] ? " " : "", currency);
    if (units_known(frame->price_per_kwh)) {
        why_add(text, " at %.3f%s%s/kWh", frame->price_per_kwh, currency[0] ? " " : "", currency);
    }
}

static void add_priced(struct why_text *text, const struct why_frame *frame,
                       const struct moment *moment)
{
    if (moment->by_guard) {
        why_add(text, "a dark sky could leave the day short: ");
        add_to_come(text, frame, moment);
    } else if (!(moment->chain.light_price > 0)) {
        why_add(text, "daylight %s likely to give the rest: ", be(frame));
        add_to_come(text, frame, moment);
    } else if (!(moment->planned_level > 0)) {
        add_price(text, frame, moment);
        why_add(text, ", and the sun or another hour %s likely to be cheaper", be(frame));
    } else {
        add_price(text, frame, moment);
        why_add(text, ", and ");
        add_to_come(text, frame, moment);
    }
}

void why_plan_reason(struct why_text *text, const struct why_frame *frame,
                     const struct moment *moment)
{
    switch (moment->chain.plan) {
    case CHAIN_PLAN_PRICED:
        add_priced(text, frame, moment);
        return;
    case CHAIN_PLAN_HELD:
        why_add(text, "%s",
                moment->planned_level > 0 ? "a lamp that was just lit burns on at its lowest level"
                                          : "a lamp that just went out, or soon would, stays dark");
        return;
    case CHAIN_PLAN_SHARED:
        add_to_come(text, frame, moment);
        why_add(text, ", its part in the plan of all spaces");
        return;
    case CHAIN_PLAN_ONE_LEVEL:
        add_to_come(text, frame, moment);
        if (moment->planned_level < 1 - CHAIN_SAME) {
            why_add(text, ", at one level for the rest of the window");
        }
        return;
    case CHAIN_PLAN_NONE:
    case CHAIN_PLAN_COUNT:
        break;
    }
    add_to_come(text, frame, moment);
}

/* "the plan asked for 80 % because …" */
static void add_plan(struct why_text *text, const struct why_frame *frame,
                     const struct moment *moment)
{
    const char *asks = frame->is_now ? "asks" : "asked";
    if (moment->is_floor || moment->floor_level > moment->planned_level) {
        why_add(text, "the stage's least light %s %.0f %%", frame->is_now ? "needs" : "needed",
                100 * moment->floor_level);
        return;
    }
    if (moment->planned_level > 0) {
        why_add(text, "the plan %s for %.0f %% because ", asks, 100 * moment->planned_level);
    } else {
        why_add(text, "the plan %s for no light because ", asks);
    }
    why_plan_reason(text, frame, moment);
}

static void add_until(struct why_text *text, const struct why_frame *frame,
                      const struct moment *moment)
{
    char clock[12];
    if (moment->phase == STAGE_WAITING) {
        why_add(text, ", the first stage %s not begun", frame->is_now ? "has" : "had");
    } else if (moment->phase == STAGE_OVER) {
        why_add(text, ", the last stage %s over", be(frame));
    } else if (units_known(moment->until_s)) {
        why_clock(frame, moment->wall_s + (int64_t)moment->until_s + 30, clock, sizeof clock);
        why_add(text, " until %s", clock);
    }
}

/* Who held it, and where that was not the plan, what the plan wanted. */
static void add_reason(struct why_text *text, const struct why_frame *frame,
                       const struct moment *moment, enum limiter limiter)
{
    if ((unsigned)limiter >= LIMITER_COUNT) {
        why_add(text, "by a rule that this program does not know");
        return;
    }
    if (limiter == LIMITER_PLAN || limiter == LIMITER_FULL_LIGHT) {
        if (limiter == LIMITER_FULL_LIGHT) {
            why_add(text, "%s; ", frame->is_now ? reasons[limiter].now : reasons[limiter].then);
        }
        add_plan(text, frame, moment);
        return;
    }
    why_add(text, "%s", frame->is_now ? reasons[limiter].now : reasons[limiter].then);
    if (limiter == LIMITER_NIGHT) {
        add_until(text, frame, moment);
    } else if (limiter == LIMITER_TARGET_MET && moment->level > 0) {
        why_add(text, ", the lowest level keeps the plants' day");
    } else if (moment->is_lit && limiter != LIMITER_TARGET_MET &&
               limiter != LIMITER_CLOCK_UNTRUSTED && limiter != LIMITER_BY_HAND) {
        why_add(text, "; ");
        add_plan(text, frame, moment);
    }
}

/* "burned at 45 %, on its way up to 80 %" */
static void add_level(struct why_text *text, const struct why_frame *frame, double level,
                      const struct chain_fixture *chain, bool is_alone)
{
    enum limiter limiter = LIMITER_COUNT;
    const double may_have = chain_may_have(chain, &limiter);
    const char *burns = !is_alone ? "" : frame->is_now ? "burns " : "burned ";
    if (!(level > 0)) {
        why_add(text, "%s dark", be(frame));
    } else {
        why_add(text, "%sat %.0f %%", burns, 100 * level);
    }
    switch (chain->pace) {
    case CHAIN_RISES:
    case CHAIN_FALLS:
        why_add(text, ", on its way %s to %.0f %%", chain->pace == CHAIN_RISES ? "up" : "down",
                100 * may_have);
        break;
    case CHAIN_LOWEST:
        why_add(text, ", the lowest level around a move of its switch");
        break;
    case CHAIN_WAITS:
        why_add(text, ", waiting for its turn to switch on");
        break;
    case CHAIN_THERE:
    case CHAIN_PACE_COUNT:
        break;
    }
}

static void add_when(struct why_text *text, const struct why_frame *frame)
{
    char clock[12];
    if (frame->is_now) {
        why_add(text, "Now ");
    } else {
        why_clock(frame, frame->minute_s, clock, sizeof clock);
        why_add(text, "At %s ", clock);
    }
}

/* Whether one word holds for all of them. */
static bool are_alike(const struct moment *moment)
{
    for (int i = 1; i < moment->fixture_count; i++) {
        if (fabs(moment->fixtures[i].level - moment->fixtures[0].level) > 0.005 ||
            moment->chain.fixtures[i].pace != moment->chain.fixtures[0].pace) {
            return false;
        }
    }
    return true;
}

/* The fixture whose limiter is that of the space, or the first. */
static int who_is_held(const struct moment *moment)
{
    for (int i = 0; i < moment->fixture_count; i++) {
        enum limiter limiter = LIMITER_COUNT;
        (void)chain_may_have(&moment->chain.fixtures[i], &limiter);
        if (limiter == moment->limiter) {
            return i;
        }
    }
    return 0;
}

void why_sentence(const struct why_frame *frame, const struct moment *moment, char *buffer,
                  size_t size)
{
    struct why_text text = {buffer, size};
    buffer[0] = '\0';
    const int held = who_is_held(moment);
    const bool is_alone = moment->fixture_count == 1 && moment->left_out == 0;
    add_when(&text, frame);
    if (moment->fixture_count == 0) {
        why_add(&text, "%s %s dark", frame->space, be(frame));
    } else if (is_alone || are_alike(moment)) {
        why_add(&text, "%s ", is_alone ? moment->fixtures[0].name : frame->space);
        add_level(&text, frame, moment->fixtures[0].level, &moment->chain.fixtures[0], true);
    } else {
        why_add(&text, "%s %s at %.0f %% in all, %s ", frame->space,
                frame->is_now ? "burns" : "burned", 100 * moment->level,
                moment->fixtures[held].name);
        add_level(&text, frame, moment->fixtures[held].level, &moment->chain.fixtures[held], false);
    }
    why_add(&text, ": ");
    add_reason(&text, frame, moment, moment->limiter);
    why_add(&text, ".");
}

void why_sentence_of_minute(const struct why_frame *frame, char *buffer, size_t size)
{
    struct why_text text = {buffer, size};
    buffer[0] = '\0';
    add_when(&text, frame);
    if (frame->level_mean > 0) {
        why_add(&text, "%s burned at %.0f %% in the mean", frame->space, 100 * frame->level_mean);
    } else {
        why_add(&text, "%s was dark", frame->space);
    }
    why_add(&text, ", ruled longest by: %s.", words_limiter(frame->ruled));
}
