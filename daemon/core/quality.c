/* SPDX-License-Identifier: Apache-2.0 */
#include "quality.h"

#include "units.h"

/* No sensor in use resolves so little; a float read in the wrong word order looks like this. */
#define TINY 1e-6

/* A 1-Wire probe's finest step is 0.0625 °C: nearer than half of it is the same value. */
#define POWER_ON_SAME      0.03
#define POWER_ON_NEAR      5.0
#define POWER_ON_NEIGHBOUR 10.0

/* Samples near one another after which a jump is believed. */
#define JUMP_BELIEVED 3

void quality_reset(struct quality *quality)
{
    *quality = (struct quality){
        .last = READING_NONE,
        .fault = QUALITY_NO_ANSWER,
        .still_stimulus = UNITS_NONE,
        .sample_ns = INT64_MIN,
    };
}

static bool has_last(const struct quality *quality)
{
    return units_known(quality->last.value);
}

/* A jump from one sample to a later one: faster than the sensor's world can change. */
static bool is_jump(const struct quality_rules *rules, double from, int64_t from_ns, double to,
                    int64_t to_ns)
{
    return fabs(to - from) > rules->jump_per_s * units_seconds(to_ns - from_ns);
}

/* Heat leads up to its value, and shows at a neighbour too. */
static bool is_backed(const struct quality_rules *rules, const struct quality *quality,
                      const struct quality_sample *sample)
{
    bool is_led_up_to = has_last(quality) &&
                        sample->taken_ns - quality->last.taken_ns <= rules->stale_ns &&
                        fabs(quality->last.value - sample->value) <= POWER_ON_NEAR;
    return is_led_up_to || fabs(sample->neighbour - sample->value) <= POWER_ON_NEIGHBOUR;
}

/* True: a power-on value that is not taken for heat, or not yet. A chip that keeps saying so has
 * probably lost its power for good. A good neighbour tells how hot it is then; without one better
 * dark for that than burnt by a real temperature. */
static bool is_power_on(const struct quality_rules *rules, struct quality *quality,
                        const struct quality_sample *sample)
{
    if (!(fabs(sample->value - rules->power_on_c) < POWER_ON_SAME) ||
        is_backed(rules, quality, sample)) {
        quality->is_powering_on = false;
        return false;
    }
    if (!quality->is_powering_on ||
        sample->taken_ns - quality->power_on_seen_ns > rules->stale_ns) {
        quality->is_powering_on = true;
        quality->power_on_ns = sample->taken_ns;
    }
    quality->power_on_seen_ns = sample->taken_ns;
    return units_known(sample->neighbour) ||
           sample->taken_ns - quality->power_on_ns < rules->lost_ns;
}

static enum quality_fault refuse(const struct quality_rules *rules, struct quality *quality,
                                 const struct quality_sample *sample)
{
    double value = sample->value;

    if (!isfinite(value)) {
        return QUALITY_NOT_A_NUMBER;
    }
    if (value != 0 && fabs(value) < TINY) {
        return QUALITY_TINY;
    }
    if (!(value >= rules->low && value <= rules->high)) {
        return QUALITY_RANGE;
    }
    return is_power_on(rules, quality, sample) ? QUALITY_POWER_ON : QUALITY_OK;
}

/* True: the value is a jump that is not believed yet. */
static bool is_doubted(const struct quality_rules *rules, struct quality *quality, double value,
                       int64_t taken_ns)
{
    /* While a jump is pending the sensor contradicts itself: no long time to have changed in. */
    bool is_pending = quality->candidate_count > 0;
    int64_t from_ns = is_pending ? quality->candidate_ns : quality->last.taken_ns;

    if (!has_last(quality) || !is_jump(rules, quality->last.value, from_ns, value, taken_ns)) {
        quality->candidate_count = 0;
        return false;
    }
    bool agrees =
        is_pending && !is_jump(rules, quality->candidate, quality->candidate_ns, value, taken_ns);
    quality->candidate_count = agrees ? quality->candidate_count + 1 : 1;
    quality->candidate = value;
    quality->candidate_ns = taken_ns;
    if (quality->candidate_count < JUMP_BELIEVED) {
        return true;
    }
    quality->candidate_count = 0;
    return false;
}

static void believe(struct quality *quality, double value, int64_t taken_ns, double stimulus)
{
    bool moved = !has_last(quality) || value < quality->last.value || value > quality->last.value;

    if (moved) {
        quality->is_stirred = false;
        quality->still_stimulus = stimulus;
    }
    quality->last = (struct reading){value, taken_ns, READING_GOOD};
}

static void take_sample(const struct quality_rules *rules, struct quality *quality,
                        const struct quality_sample *sample, double stimulus)
{
    quality->sample_ns = sample->taken_ns;
    quality->fault = refuse(rules, quality, sample);
    if (quality->fault != QUALITY_OK) {
        quality->candidate_count = 0;
    } else if (is_doubted(rules, quality, sample->value, sample->taken_ns)) {
        quality->fault = QUALITY_JUMP;
    } else {
        believe(quality, sample->value, sample->taken_ns, stimulus);
    }
}

static void watch_stimulus(const struct quality_rules *rules, struct quality *quality,
                           double stimulus, int64_t now_ns)
{
    if (!units_known(quality->still_stimulus)) {
        quality->still_stimulus = stimulus;
    }
    if (!quality->is_stirred && fabs(stimulus - quality->still_stimulus) >= rules->frozen_stir) {
        quality->is_stirred = true;
        quality->stirred_ns = now_ns;
    }
}

/* Asked of a sample taken long enough after the stir: a sensor that is seldom read is not frozen.
 */
static bool is_frozen(const struct quality_rules *rules, const struct quality *quality)
{
    return rules->frozen_ns > 0 && quality->is_stirred &&
           quality->last.value > rules->frozen_above &&
           quality->last.taken_ns - quality->stirred_ns >= rules->frozen_ns;
}

static struct reading judge(const struct quality_rules *rules, struct quality *quality,
                            int64_t now_ns)
{
    bool has_candidate = quality->candidate_count > 0;

    if (has_candidate && now_ns - quality->candidate_ns <= rules->stale_ns) {
        return (struct reading){quality->candidate, quality->candidate_ns, READING_SUSPECT};
    }
    struct reading reading = quality->last;
    int64_t age_ns = now_ns - reading.taken_ns;
    enum quality_fault fault = QUALITY_OK;

    if (!has_last(quality) || age_ns > rules->lost_ns) {
        reading.value = UNITS_NONE;
        reading.quality = READING_LOST;
        fault = QUALITY_NO_ANSWER;
    } else if (age_ns > rules->stale_ns) {
        reading.quality = READING_STALE;
        fault = QUALITY_NO_ANSWER;
    } else if (is_frozen(rules, quality)) {
        reading.quality = READING_SUSPECT;
        fault = QUALITY_FROZEN;
    }
    if (quality->fault == QUALITY_OK) {
        quality->fault = fault; /* a refused newest sample says more than its consequence */
    }
    return reading;
}

struct reading quality_step(const struct quality_rules *rules, struct quality *quality,
                            const struct quality_sample *sample, double stimulus, int64_t now_ns)
{
    if (sample->error != 0) {
        quality->fault = QUALITY_NO_ANSWER;
    } else if (sample->taken_ns > quality->sample_ns) {
        take_sample(rules, quality, sample, stimulus);
    }
    watch_stimulus(rules, quality, stimulus, now_ns);
    return judge(rules, quality, now_ns);
}

const char *quality_fault_name(enum quality_fault fault)
{
    switch (fault) {
    case QUALITY_OK:
        return "ok";
    case QUALITY_NO_ANSWER:
        return "no answer";
    case QUALITY_NOT_A_NUMBER:
        return "not a number";
    case QUALITY_TINY:
        return "too small to be true (wrong word order?)";
    case QUALITY_RANGE:
        return "out of range";
    case QUALITY_JUMP:
        return "jump";
    case QUALITY_FROZEN:
        return "frozen";
    case QUALITY_POWER_ON:
        return "power-on value";
    }
    return "unknown";
}
