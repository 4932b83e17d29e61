/* SPDX-License-Identifier: Apache-2.0 */
/* A moment from the text of a journal's minute, which can hold anything. */
#include "moment_letters.h"

#include "err.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* One word of the text. */
struct word {
    char letter;
    double value;
    double age_s; /* NaN: none was written */
    int quality;
    char tail; /* the letter behind a value; '\0': none */
};

/* The number behind a comma, 0 … high. */
static double take_number(const char **at, double high)
{
    char *end = NULL;
    const double value = strtod(*at + 1, &end);
    *at = end;
    return value >= 0 ? fmin(value, high) : 0;
}

/* Takes the word at *at, which ends at a space, at a ';' or with the text. False: it is none. */
static bool take_word(const char **at, struct word *ret)
{
    const char *p = *at;
    char *end = NULL;
    *ret = (struct word){.letter = *p, .quality = READING_LOST, .age_s = UNITS_NONE};
    if (*p++ == '\0') {
        return false;
    }
    if (ret->letter == '=') {
        ret->tail = *p;
        if (moment_limiter(*p++) == LIMITER_COUNT) {
            return false;
        }
    } else {
        ret->value = strtod(p, &end);
        if (end == p || !(fabs(ret->value) <= MOMENT_LARGEST)) {
            return false;
        }
        p = end;
        if (*p == ',') {
            ret->age_s = take_number(&p, MOMENT_LARGEST);
            ret->quality = *p == ',' ? (int)take_number(&p, READING_LOST) : READING_GOOD;
        } else if (*p >= 'a' && *p <= 'z') {
            ret->tail = *p++;
        }
    }
    *at = p;
    return *p == ' ' || *p == ';' || *p == '\0';
}

/* A rule or a field of the table; other letters are the caller's. */
static void take_common(const struct word *word, const struct moment_field *fields, int count,
                        void *object, struct chain_rules *rules)
{
    const enum limiter limiter = moment_limiter(word->letter);
    if (limiter < LIMITER_COUNT) {
        chain_say(rules, limiter, units_clamp(word->value / 100, 0, 1));
    }
    for (int i = 0; i < count; i++) {
        if (fields[i].letter == word->letter) {
            const double value = word->value / fields[i].scale;
            memcpy((char *)object + fields[i].offset, &value, sizeof value);
        }
    }
}

static struct moment_reading reading_of(const struct word *word)
{
    return (struct moment_reading){
        .value = word->value,
        .quality = (enum reading_quality)word->quality,
        .age_s = word->age_s,
    };
}

static void take_space_word(const struct word *word, struct moment *ret)
{
    const int whole = (int)units_clamp(word->value, 0, 255);
    take_common(word, moment_space_fields, MOMENT_SPACE_FIELDS, ret, &ret->chain.rules);
    switch (word->letter) {
    case '=':
        ret->limiter = moment_limiter(word->tail);
        break;
    case 'P':
        ret->chain.plan = whole < CHAIN_PLAN_COUNT ? (enum chain_plan)whole : CHAIN_PLAN_NONE;
        break;
    case 'L':
        ret->level = word->value / 100;
        break;
    case 'J':
        ret->is_lit = (whole & MOMENT_IS_LIT) != 0;
        ret->by_guard = (whole & MOMENT_BY_GUARD) != 0;
        ret->is_floor = (whole & MOMENT_IS_FLOOR) != 0;
        ret->phase = whole >> MOMENT_PHASE_SHIFT == STAGE_WAITING ? STAGE_WAITING
                     : whole >> MOMENT_PHASE_SHIFT == STAGE_OVER  ? STAGE_OVER
                                                                  : STAGE_RUNNING;
        break;
    case 'G':
        ret->ppfd = reading_of(word);
        break;
    case 'Q':
        ret->planned_level = word->value / 100;
        break;
    default:
        break;
    }
}

static void take_fixture_word(const struct word *word, struct moment_fixture *ret,
                              struct chain_fixture *chain)
{
    take_common(word, moment_fixture_fields, MOMENT_FIXTURE_FIELDS, ret, &chain->rules);
    switch (word->letter) {
    case 'A':
        chain->asked = units_clamp(word->value / 100, 0, 1);
        chain->asked_by = moment_limiter(word->tail);
        break;
    case 'E':
        chain->pace = word->value >= CHAIN_THERE && word->value < CHAIN_PACE_COUNT
                          ? (enum chain_pace)(int)word->value
                          : CHAIN_THERE;
        break;
    case 'K':
        ret->is_latched = true;
        break;
    case 'T':
        ret->heat = reading_of(word);
        break;
    case 'X':
        ret->power = reading_of(word);
        break;
    default:
        break;
    }
}

static const struct moment_reading none = {UNITS_NONE, READING_LOST, UNITS_NONE};

static int no_moment(struct err *err)
{
    return err_fail(err, EINVAL, "the chain of this minute cannot be read: it is damaged");
}

static void clear(struct moment *moment)
{
    memset(moment, 0, sizeof *moment);
    moment->chain.light_price = moment->until_s = moment->hand_left_s = UNITS_NONE;
    moment->ceiling_umol = moment->budget_w = moment->planned_level = UNITS_NONE;
    moment->level = moment->forecast_mol = UNITS_NONE;
    moment->delivered_mol = moment->target_mol = UNITS_NONE;
    moment->chain.plan = CHAIN_PLAN_COUNT;
    moment->ppfd = none;
    moment->limiter = LIMITER_COUNT;
}

static void clear_fixture(struct moment *moment, int index)
{
    struct moment_fixture *fixture = &moment->fixtures[index];
    struct chain_fixture *chain = &moment->chain.fixtures[index];
    fixture->least = fixture->heat_from_c = fixture->rearm_c = UNITS_NONE;
    fixture->drive_cap = fixture->rest_left_s = UNITS_NONE;
    fixture->heat = fixture->power = none;
    fixture->level = moment->level;
    chain->asked = chain_least(&moment->chain.rules, &chain->asked_by);
}

/* The words of the space, or of fixture `index`, up to a ';' or the end. */
static int take_words(const char **at, struct moment *ret, int index, struct err *err)
{
    struct word word;
    while (**at == ' ') {
        (*at)++;
        if (!take_word(at, &word)) {
            return no_moment(err);
        }
        if (index < 0) {
            take_space_word(&word, ret);
        } else {
            take_fixture_word(&word, &ret->fixtures[index], &ret->chain.fixtures[index]);
        }
    }
    return **at == ';' || **at == '\0' ? 0 : no_moment(err);
}

static int take_fixture(const char **at, struct moment *ret, struct err *err)
{
    const size_t length = strcspn(*at, " ;");
    if (ret->fixture_count == SPACE_FIXTURES_MAX || length == 0 || length >= CONFIG_NAME_MAX) {
        return no_moment(err);
    }
    clear_fixture(ret, ret->fixture_count);
    memcpy(ret->fixtures[ret->fixture_count].name, *at, length); /* the rest is 0 */
    *at += length;
    return take_words(at, ret, ret->fixture_count++, err);
}

static bool is_before(const char *text, const char *word, char end)
{
    const char *found = strstr(text, word);
    const char *limit = strchr(text, end);
    return found && (!limit || found < limit);
}

/* What was left out because it goes without saying. */
static void fill_usual(struct moment *moment, bool has_flags)
{
    const struct moment_usual usual = moment_usual(&moment->chain.rules);
    if (!has_flags) {
        moment->is_lit = usual.is_lit;
        moment->phase = STAGE_RUNNING;
    }
    if (!units_known(moment->level)) {
        moment->level = usual.level;
    }
    if (!units_known(moment->planned_level)) {
        moment->planned_level = moment->is_lit ? usual.planned_level : 0;
    }
    if (moment->limiter == LIMITER_COUNT) {
        moment->limiter = usual.limiter;
    }
    if (moment->chain.plan == CHAIN_PLAN_COUNT) {
        moment->chain.plan = usual.plan;
    }
}

int moment_read(const char *text, int64_t minute_s, struct moment *ret, struct err *err)
{
    struct word second;
    const char *at = text;
    clear(ret);
    if (*at != '@' || !take_word(&at, &second) || !(second.value >= 0 && second.value < 60)) {
        return no_moment(err);
    }
    ret->wall_s = minute_s + (int64_t)second.value;
    int result = take_words(&at, ret, -1, err);
    if (result == 0 && ret->chain.rules.said == 0) {
        return no_moment(err);
    }
    fill_usual(ret, is_before(text, " J", ';'));
    while (result == 0 && *at == ';') {
        at++;
        if (*at == '+') {
            ret->left_out = (int)take_number(&at, SPACE_FIXTURES_MAX);
            break;
        }
        result = take_fixture(&at, ret, err);
    }
    return result;
}
