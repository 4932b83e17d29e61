/* SPDX-License-Identifier: Apache-2.0 */
/* An explanation as a JSON object: see why.h. */
#include "why_parts.h"

#include "civil.h"
#include "control_proto.h"
#include "parse.h"
#include "units.h"
#include "words.h"

#define OLD_NOTE "this minute was stored before the chain was kept"

static const enum limiter of_space[] = {
    LIMITER_NIGHT,       LIMITER_CLOCK_UNTRUSTED, LIMITER_LIGHT_CEILING,
    LIMITER_SENSOR_LOST, LIMITER_BY_HAND,         LIMITER_DAWN,
    LIMITER_DUSK,        LIMITER_FULL_LIGHT,      LIMITER_TARGET_MET,
    LIMITER_PLAN,
};

static const enum limiter of_fixture[] = {
    LIMITER_OUTPUT_FAULT, LIMITER_HEAT_TRIP,     LIMITER_DRIVER_TRIP, LIMITER_REST,
    LIMITER_HEAT,         LIMITER_DRIVE_CEILING, LIMITER_POWER_LIMIT,
};

enum {
    OF_SPACE = sizeof of_space / sizeof *of_space,
    OF_FIXTURE = sizeof of_fixture / sizeof *of_fixture,
    SAW_MAX = 320,
    SENTENCE_MAX = 512,
};

/* JSON knows no NaN; of a level in the journal two decimals of a percent are known. */
static void put_real(json_t *object, const char *name, double value)
{
    json_object_set_new(object, name, control_real(value));
}

static void put_moment(json_t *object, const char *name, int64_t wall_s, int32_t offset_s)
{
    char time[32];
    parse_format_datetime(wall_s, offset_s, time, sizeof time);
    json_object_set_new(object, name, json_string(time));
}

static void put_limiter(json_t *object, const char *name, const char *words, enum limiter limiter)
{
    json_object_set_new(object, name, json_string(limiter_name(limiter)));
    json_object_set_new(object, words, json_string(words_limiter(limiter)));
}

/* null: there was none, or it is not stored. */
static json_t *reading_json(const struct moment_reading *reading)
{
    if (!units_known(reading->value)) {
        return json_null();
    }
    json_t *object = json_object();
    put_real(object, "value", reading->value);
    json_object_set_new(object, "quality", json_string(journal_quality_name(reading->quality)));
    put_real(object, "age_s", reading->age_s);
    return object;
}

static json_t *rule_json(const struct chain_rules *rules, enum limiter limiter, enum limiter winner,
                         const char *saw)
{
    json_t *object = json_object();
    put_limiter(object, "limiter", "words", limiter);
    put_real(object, "allowed",
             chain_has_said(rules, limiter) ? rules->allowed[limiter] : UNITS_NONE);
    json_object_set_new(object, "rules", json_boolean(limiter == winner));
    json_object_set_new(object, "saw", saw[0] ? control_text(saw) : json_null());
    return object;
}

static const char *pace_name(enum chain_pace pace)
{
    switch (pace) {
    case CHAIN_THERE:
        return "there";
    case CHAIN_RISES:
        return "rises";
    case CHAIN_FALLS:
        return "falls";
    case CHAIN_LOWEST:
        return "lowest-level";
    case CHAIN_WAITS:
        return "waits";
    case CHAIN_PACE_COUNT:
        break;
    }
    return "unknown";
}

static const char *plan_name(enum chain_plan plan)
{
    switch (plan) {
    case CHAIN_PLAN_ONE_LEVEL:
        return "one-level";
    case CHAIN_PLAN_PRICED:
        return "priced";
    case CHAIN_PLAN_SHARED:
        return "shared";
    case CHAIN_PLAN_HELD:
        return "held";
    case CHAIN_PLAN_NONE:
    case CHAIN_PLAN_COUNT:
        break;
    }
    return "none";
}

static json_t *fixture_json(const struct moment *moment, int index)
{
    const struct moment_fixture *fixture = &moment->fixtures[index];
    const struct chain_fixture *chain = &moment->chain.fixtures[index];
    enum limiter winner = LIMITER_COUNT;
    json_t *object = json_object();
    json_t *rules = json_array();
    char saw[SAW_MAX];
    (void)chain_may_have(chain, &winner);
    json_object_set_new(object, "fixture", json_string(fixture->name));
    put_real(object, "level", fixture->level);
    put_limiter(object, "limiter", "limiter_words", winner);
    json_object_set_new(object, "pace", json_string(pace_name(chain->pace)));
    put_real(object, "asked_level", chain->asked);
    json_object_set_new(object, "asked_by", json_string(limiter_name(chain->asked_by)));
    json_object_set_new(object, "heat", reading_json(&fixture->heat));
    json_object_set_new(object, "power", reading_json(&fixture->power));
    for (int i = 0; i < OF_FIXTURE; i++) {
        why_fixture_saw(moment, index, of_fixture[i], saw, sizeof saw);
        json_array_append_new(rules, rule_json(&chain->rules, of_fixture[i], winner, saw));
    }
    if (chain_has_said(&chain->rules, LIMITER_LIGHT_CEILING)) { /* of one that is moved by hand */
        why_fixture_saw(moment, index, LIMITER_LIGHT_CEILING, saw, sizeof saw);
        json_array_append_new(rules, rule_json(&chain->rules, LIMITER_LIGHT_CEILING, winner, saw));
    }
    json_object_set_new(object, "rules", rules);
    return object;
}

/* Whose and when; with the clock on the wall where that shows another time. */
static json_t *begin(const struct why_frame *frame, int64_t wall_s)
{
    json_t *object = json_object();
    const int32_t civil_s = frame->civil ? civil_offset(frame->civil, wall_s) : frame->offset_s;
    json_object_set_new(object, "space", json_string(frame->space));
    put_moment(object, "time", frame->is_now ? wall_s : frame->minute_s, frame->offset_s);
    put_moment(object, "at", wall_s, frame->offset_s);
    if (civil_s != frame->offset_s) {
        put_moment(object, "wall_clock", wall_s, civil_s);
    } else {
        json_object_set_new(object, "wall_clock", json_null());
    }
    json_object_set_new(object, "is_now", json_boolean(frame->is_now));
    return object;
}

static void put_minute(json_t *object, const struct why_frame *frame)
{
    json_object_set_new(object, "ruled_longest",
                        frame->is_now ? json_null() : json_string(limiter_name(frame->ruled)));
    json_object_set_new(object, "ruled_longest_words",
                        frame->is_now ? json_null() : json_string(words_limiter(frame->ruled)));
    put_real(object, "level_mean", frame->level_mean);
    put_real(object, "price_per_kwh", frame->price_per_kwh);
    put_real(object, "lamp_cost_per_mol", why_lamp_cost(frame));
    json_object_set_new(object, "currency", json_string(frame->currency));
}

static void put_plan(json_t *object, const struct moment *moment)
{
    put_real(object, "planned_level", moment->planned_level);
    put_real(object, "floor_level", moment->floor_level);
    json_object_set_new(object, "plan", json_string(plan_name(moment->chain.plan)));
    put_real(object, "light_price_per_mol", moment->chain.light_price);
    put_real(object, "delivered_mol", moment->delivered_mol);
    put_real(object, "target_mol", moment->target_mol);
    put_real(object, "to_come_mol", fmax(0, moment->target_mol - moment->delivered_mol));
    put_real(object, "forecast_mol", moment->forecast_mol);
    json_object_set_new(object, "ppfd", reading_json(&moment->ppfd));
    put_real(object, "daylight_umol", moment->daylight_umol);
}

static void put_rules(json_t *object, const struct why_frame *frame, const struct moment *moment,
                      enum limiter winner)
{
    json_t *rules = json_array();
    json_t *fixtures = json_array();
    char saw[SAW_MAX];
    for (int i = 0; i < OF_SPACE; i++) {
        why_saw(frame, moment, of_space[i], saw, sizeof saw);
        json_array_append_new(rules, rule_json(&moment->chain.rules, of_space[i], winner, saw));
    }
    for (int i = 0; i < moment->fixture_count; i++) {
        json_array_append_new(fixtures, fixture_json(moment, i));
    }
    json_object_set_new(object, "rules", rules);
    json_object_set_new(object, "fixtures", fixtures);
    json_object_set_new(object, "fixtures_left_out", json_integer(moment->left_out));
}

json_t *why_json(const struct why_frame *frame, const struct moment *moment)
{
    char sentence[SENTENCE_MAX];
    enum limiter winner = LIMITER_COUNT;
    json_t *object = begin(frame, moment->wall_s);
    why_sentence(frame, moment, sentence, sizeof sentence);
    json_object_set_new(object, "sentence", control_text(sentence));
    json_object_set_new(object, "note", json_null());
    put_real(object, "level", moment->level);
    put_real(object, "asked_level", chain_least(&moment->chain.rules, &winner));
    put_limiter(object, "limiter", "limiter_words", moment->limiter);
    put_minute(object, frame);
    put_plan(object, moment);
    put_rules(object, frame, moment, winner);
    return object;
}

json_t *why_json_of_minute(const struct why_frame *frame)
{
    char sentence[SENTENCE_MAX];
    json_t *object = begin(frame, frame->minute_s);
    why_sentence_of_minute(frame, sentence, sizeof sentence);
    json_object_set_new(object, "sentence", control_text(sentence));
    json_object_set_new(object, "note", json_string(OLD_NOTE));
    put_minute(object, frame);
    return object;
}
