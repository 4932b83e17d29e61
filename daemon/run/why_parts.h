/* SPDX-License-Identifier: Apache-2.0 */
/* The insides of an explanation, shared by the why*.c files alone. */
#ifndef LAMPWARDEN_WHY_PARTS_H
#define LAMPWARDEN_WHY_PARTS_H

#include "journal.h"
#include "moment.h"

#include <jansson.h>

struct civil;

/* What stands around a moment: whose it is, and what its minute holds beside it. */
struct why_frame {
    const char *space;
    int32_t offset_s;
    const struct civil *civil; /* NULL: not known */
    const char *currency;
    bool is_now;
    int64_t minute_s;     /* of a stored one */
    enum limiter ruled;   /* longest in the minute; LIMITER_COUNT: now */
    double level_mean;    /* of the minute; NaN: now */
    double price_per_kwh; /* NaN: not known */
    double watts, lamp_umol;
};

/* A sentence that grows; what does not fit is cut. */
struct why_text {
    char *at;
    size_t left;
};

void why_add(struct why_text *text, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* "14:05" at the frame's offset; ≥ 12 bytes. */
void why_clock(const struct why_frame *frame, int64_t wall_s, char *buffer, unsigned size);

/* What a mol of all lamp light costs at the price of the moment, currency; the plan looks at what
 * the next one costs, which is another figure. NaN: no light, no price. */
double why_lamp_cost(const struct why_frame *frame);

/* Why the plan asks for its level: "8.1 mol were still to come, at one level …". */
void why_plan_reason(struct why_text *text, const struct why_frame *frame,
                     const struct moment *moment);

/* The first sentence. */
void why_sentence(const struct why_frame *frame, const struct moment *moment, char *buffer,
                  size_t size);

/* The same of a minute without a chain. */
void why_sentence_of_minute(const struct why_frame *frame, char *buffer, size_t size);

/* What a rule saw, "" where there is nothing to say: of the space, or of one of its fixtures. */
void why_saw(const struct why_frame *frame, const struct moment *moment, enum limiter limiter,
             char *buffer, size_t size);
void why_fixture_saw(const struct moment *moment, int fixture, enum limiter limiter, char *buffer,
                     size_t size);

/* The object of one space; NULL: no memory. */
json_t *why_json(const struct why_frame *frame, const struct moment *moment);
json_t *why_json_of_minute(const struct why_frame *frame);

#endif
