/* SPDX-License-Identifier: Apache-2.0 */
#include "moment_letters.h"

#include <stddef.h>

/* Letters are stored: they never change their meaning. */
static const char rule_letters[LIMITER_COUNT] = {
    [LIMITER_NOT_RUNNING] = 'x',  [LIMITER_NIGHT] = 'n',         [LIMITER_CLOCK_UNTRUSTED] = 'c',
    [LIMITER_OUTPUT_FAULT] = 'o', [LIMITER_HEAT_TRIP] = 't',     [LIMITER_DRIVER_TRIP] = 'v',
    [LIMITER_REST] = 'r',         [LIMITER_HEAT] = 'h',          [LIMITER_DRIVE_CEILING] = 'd',
    [LIMITER_POWER_LIMIT] = 'w',  [LIMITER_LIGHT_CEILING] = 'l', [LIMITER_SENSOR_LOST] = 's',
    [LIMITER_BY_HAND] = 'b',      [LIMITER_DAWN] = 'u',          [LIMITER_DUSK] = 'k',
    [LIMITER_FULL_LIGHT] = 'f',   [LIMITER_TARGET_MET] = 'm',    [LIMITER_PLAN] = 'p',
};

const struct moment_field moment_space_fields[MOMENT_SPACE_FIELDS] = {
    {'Z', offsetof(struct moment, floor_level), 100, 2, true},
    {'V', offsetof(struct moment, chain.light_price), 1, 6, false},
    {'F', offsetof(struct moment, forecast_mol), 1, 2, false},
    {'D', offsetof(struct moment, daylight_umol), 1, 1, true},
    {'U', offsetof(struct moment, until_s), 1.0 / 60, 0, false},
    {'H', offsetof(struct moment, hand_left_s), 1, 0, false},
    {'C', offsetof(struct moment, ceiling_umol), 1, 1, false},
    {'B', offsetof(struct moment, budget_w), 1, 1, false},
};

const struct moment_field moment_fixture_fields[MOMENT_FIXTURE_FIELDS] = {
    {'L', offsetof(struct moment_fixture, level), 100, 2, false},
    {'I', offsetof(struct moment_fixture, least), 100, 2, false},
    {'Y', offsetof(struct moment_fixture, heat_from_c), 1, 1, false},
    {'R', offsetof(struct moment_fixture, rearm_c), 1, 1, false},
    {'M', offsetof(struct moment_fixture, drive_cap), 1, 4, false},
    {'S', offsetof(struct moment_fixture, rest_left_s), 1, 0, false},
};

struct moment_usual moment_usual(const struct chain_rules *rules)
{
    static const enum limiter plans[] = {LIMITER_PLAN, LIMITER_FULL_LIGHT, LIMITER_TARGET_MET};
    struct moment_usual usual = {
        .is_lit = !chain_has_said(rules, LIMITER_NIGHT),
        .plan = chain_has_said(rules, LIMITER_PLAN) || chain_has_said(rules, LIMITER_FULL_LIGHT)
                    ? CHAIN_PLAN_ONE_LEVEL
                    : CHAIN_PLAN_NONE,
    };
    usual.level = chain_least(rules, &usual.limiter);
    for (size_t i = 0; i < sizeof plans / sizeof *plans; i++) {
        if (chain_has_said(rules, plans[i])) {
            usual.planned_level = rules->allowed[plans[i]];
        }
    }
    return usual;
}

char moment_letter(enum limiter limiter)
{
    return (unsigned)limiter < LIMITER_COUNT ? rule_letters[limiter] : 'x';
}

enum limiter moment_limiter(char letter)
{
    for (unsigned i = 0; i < LIMITER_COUNT; i++) {
        if (rule_letters[i] == letter) {
            return (enum limiter)i;
        }
    }
    return LIMITER_COUNT;
}
