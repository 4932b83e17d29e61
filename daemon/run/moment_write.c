/* SPDX-License-Identifier: Apache-2.0 */
/* A moment as the text of a journal's minute. */
#include "moment_letters.h"

#include "units.h"

#include <string.h>

enum {
    NUMBER_ROOM = 40,
    TAIL_ROOM = 5, /* ";+16" and the NUL */
};

struct writer {
    char *at, *end; /* end: the last that may be written, for the NUL */
    bool is_full;
};

static void put_char(struct writer *writer, char c)
{
    if (writer->at == writer->end) {
        writer->is_full = true;
    } else {
        *writer->at++ = c;
    }
}

/* Digits without noise behind them: "62", "71.25", "-0.3". printf would cost more than the tick. */
static void put_number(struct writer *writer, double value, int decimals)
{
    char digits[NUMBER_ROOM];
    int count = 0;
    double scaled = value;
    for (int i = 0; i < decimals; i++) {
        scaled *= 10;
    }
    uint64_t left = (uint64_t)(fabs(scaled) + 0.5);
    while (decimals > 0 && left % 10 == 0) {
        left /= 10;
        decimals--;
    }
    if (value < 0 && left > 0) {
        put_char(writer, '-');
    }
    do {
        digits[count++] = (char)('0' + left % 10);
        left /= 10;
        if (decimals > 0 && count == decimals) {
            digits[count++] = '.';
        }
    } while (left > 0 || count <= decimals);
    if (digits[count - 1] == '.') {
        digits[count++] = '0';
    }
    while (count > 0) {
        put_char(writer, digits[--count]);
    }
}

static void put_value(struct writer *writer, char letter, double value, int decimals)
{
    if (fabs(value) < MOMENT_LARGEST) { /* false for NaN */
        put_char(writer, ' ');
        put_char(writer, letter);
        put_number(writer, value, decimals);
    }
}

static void put_fields(struct writer *writer, const struct moment_field *fields, int count,
                       const void *object)
{
    for (int i = 0; i < count; i++) {
        double value = 0;
        memcpy(&value, (const char *)object + fields[i].offset, sizeof value);
        if (!fields[i].skips_zero || value < 0 || value > 0) {
            put_value(writer, fields[i].letter, value * fields[i].scale, fields[i].decimals);
        }
    }
}

static void put_rules(struct writer *writer, const struct chain_rules *rules)
{
    for (unsigned i = 0; i < LIMITER_COUNT && rules->said >> i != 0; i++) {
        if (chain_has_said(rules, (enum limiter)i)) {
            put_value(writer, moment_letter((enum limiter)i), rules->allowed[i] * 100, 2);
        }
    }
}

/* "T68.2,3": of 3 s ago; a third number is the quality, where it is not good. */
static void put_reading(struct writer *writer, char letter, const struct moment_reading *reading,
                        int decimals)
{
    if (!units_known(reading->age_s) || !(fabs(reading->value) < MOMENT_LARGEST)) {
        return; /* never read */
    }
    put_value(writer, letter, reading->value, decimals);
    put_char(writer, ',');
    put_number(writer, units_clamp(reading->age_s, 0, MOMENT_LARGEST), 0);
    if (!(reading->quality == READING_GOOD)) {
        put_char(writer, ',');
        put_number(writer, reading->quality, 0);
    }
}

static bool are_same(double level, double other)
{
    return fabs(level - other) <= CHAIN_SAME;
}

/* A dark lamp of which nobody has anything to say. */
static bool is_dull(const struct moment *moment, int index)
{
    const struct moment_fixture *fixture = &moment->fixtures[index];
    const struct chain_fixture *chain = &moment->chain.fixtures[index];
    return !moment->is_lit && !(fixture->level > 0) && chain->rules.said == 0 &&
           chain->pace == CHAIN_THERE && chain->asked_by == moment->limiter;
}

/* Its values, without those that go without saying. */
static void put_lamp(struct writer *writer, const struct moment *moment, int index)
{
    struct moment_fixture shown = moment->fixtures[index];
    const struct chain_fixture *chain = &moment->chain.fixtures[index];
    enum limiter limiter = LIMITER_COUNT;
    const double may_have = chain_may_have(chain, &limiter);
    if (chain->pace != CHAIN_LOWEST && !(may_have > 0 && may_have < shown.least)) {
        shown.least = UNITS_NONE;
    }
    if (are_same(shown.level, moment->level)) {
        shown.level = UNITS_NONE;
    }
    put_fields(writer, moment_fixture_fields, MOMENT_FIXTURE_FIELDS, &shown);
}

static void put_fixture(struct writer *writer, const struct moment *moment, int index)
{
    const struct moment_fixture *fixture = &moment->fixtures[index];
    const struct chain_fixture *chain = &moment->chain.fixtures[index];
    enum limiter limiter = LIMITER_COUNT;
    const double asked = chain_least(&moment->chain.rules, &limiter);
    put_char(writer, ';');
    for (const char *c = fixture->name; *c; c++) {
        put_char(writer, *c > ' ' && *c != ';' ? *c : '_'); /* names have neither */
    }
    put_lamp(writer, moment, index);
    put_rules(writer, &chain->rules);
    if (chain->asked_by != limiter || !are_same(chain->asked, asked)) {
        put_value(writer, 'A', chain->asked * 100, 2);
        put_char(writer, moment_letter(chain->asked_by));
    }
    if (chain->pace != CHAIN_THERE) {
        put_value(writer, 'E', chain->pace, 0);
    }
    if (fixture->is_latched) {
        put_value(writer, 'K', 1, 0);
    }
    put_reading(writer, 'T', &fixture->heat, 1);
    if (chain_has_said(&chain->rules, LIMITER_DRIVER_TRIP)) {
        put_reading(writer, 'X', &fixture->power, 0);
    }
}

static void put_flags(struct writer *writer, const struct moment *moment)
{
    const int flags =
        (moment->is_lit ? MOMENT_IS_LIT : 0) + (moment->by_guard ? MOMENT_BY_GUARD : 0) +
        (moment->is_floor ? MOMENT_IS_FLOOR : 0) + ((int)moment->phase << MOMENT_PHASE_SHIFT);
    const int usual = (moment_usual(&moment->chain.rules).is_lit ? MOMENT_IS_LIT : 0) +
                      ((int)STAGE_RUNNING << MOMENT_PHASE_SHIFT);
    if (flags != usual) {
        put_value(writer, 'J', flags, 0);
    }
}

static void put_space(struct writer *writer, const struct moment *moment)
{
    const int64_t second = moment->wall_s % 60;
    const struct moment_usual usual = moment_usual(&moment->chain.rules);
    put_char(writer, '@');
    put_number(writer, (double)(second < 0 ? second + 60 : second), 0);
    if (!are_same(moment->level, usual.level)) {
        put_value(writer, 'L', moment->level * 100, 2);
    }
    if (moment->limiter != usual.limiter) {
        put_char(writer, ' ');
        put_char(writer, '=');
        put_char(writer, moment_letter(moment->limiter));
    }
    put_fields(writer, moment_space_fields, MOMENT_SPACE_FIELDS, moment);
    put_rules(writer, &moment->chain.rules);
    if (moment->is_lit && !are_same(moment->planned_level, usual.planned_level)) {
        put_value(writer, 'Q', moment->planned_level * 100, 2);
    }
    if (moment->chain.plan != usual.plan) {
        put_value(writer, 'P', moment->chain.plan, 0);
    }
    put_flags(writer, moment);
    if (moment->is_lit || moment->ppfd.quality != READING_GOOD) {
        put_reading(writer, 'G', &moment->ppfd, 1);
    }
}

void moment_write(const struct moment *moment, char *buffer, size_t size)
{
    struct writer writer = {buffer, buffer + size - TAIL_ROOM, false};
    int left_out = moment->left_out;
    put_space(&writer, moment);
    for (int i = 0; i < moment->fixture_count; i++) {
        char *const before = writer.at;
        if (is_dull(moment, i)) {
            continue;
        }
        put_fixture(&writer, moment, i);
        if (writer.is_full) {
            writer.at = before;
            writer.is_full = false;
            left_out++;
        }
    }
    writer.end = buffer + size - 1;
    if (left_out > 0) {
        put_char(&writer, ';');
        put_char(&writer, '+');
        put_number(&writer, left_out, 0);
    }
    *writer.at = '\0';
}
