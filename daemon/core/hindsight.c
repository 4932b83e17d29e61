/* SPDX-License-Identifier: Apache-2.0 */
#include "hindsight.h"

#include "account.h"
#include "plan_bound.h"
#include "plan_day.h"
#include "units.h"

#include <math.h>

#define UNSEEN_MOST_S 3600
#define SOME_COST     0.005 /* less rounds to nothing */
#define CAP_SLACK     1e-6  /* a mean of many, rounded: a cap at the lowest level still allows it */

_Static_assert(DAYLOG_SLOTS + 3 <= PLAN_SLOTS_MAX, "two pieces of a window cut four slots at most");

static void add_slot(const struct hindsight_day *day, const struct lightday_piece *piece,
                     int64_t from_s, int64_t to_s, struct plan_slots *ret)
{
    const struct daylog *log = day->log;
    const int place = (int)((from_s - day->begin_s) / DAYLOG_SLOT_S);
    const double on = (double)piece->window_on_s;
    ret->slot[ret->count++] = (struct plan_slot){
        .dt_s = (double)(to_s - from_s),
        .lit_s = ramp_integral(&day->stage->ramp, (double)piece->window_off_s - on,
                               (double)from_s - on, (double)to_s - on),
        .price_per_kwh = log->seconds[place] > 0
                             ? (double)log->price_per_kwh[place]
                             : tariff_price(plan_day_tariff(day->rules), from_s),
        .cap = fmin((double)log->cap[place] * (1 + CAP_SLACK), 1),
        .floor_umol = day->stage->floor_umol,
        .clear_umol = (double)log->daylight_umol[place],
        .from_s = from_s,
    };
}

void hindsight_slots(const struct hindsight_day *day, struct plan_slots *ret)
{
    struct lightday_piece pieces[2];
    const int count = lightday_pieces(&day->rules->day, &day->stage->window, day->begin_s, pieces);
    ret->count = 0;
    for (int i = 0; i < count; i++) {
        for (int64_t at = pieces[i].from_s; at < pieces[i].to_s;) {
            const int64_t next = at + DAYLOG_SLOT_S - (at - day->begin_s) % DAYLOG_SLOT_S;
            const int64_t end = next < pieces[i].to_s ? next : pieces[i].to_s;
            add_slot(day, &pieces[i], at, end, ret);
            at = end;
        }
    }
}

struct plan_lamp hindsight_lamp(const struct hindsight_day *day)
{
    const double full_umol = space_configured_umol(day->rules) * daylog_light_ratio(day->log);
    struct plan_lamp lamp = plan_day_lamp(day->rules, day->stage, full_umol);
    lamp.full_share = daylog_watts_ratio(day->log);
    return lamp;
}

double hindsight_room(const struct hindsight_day *day, double full_umol, double most)
{
    const struct plan_lamp lamp = plan_day_lamp(day->rules, day->stage, full_umol);
    struct plan_slots slots;
    hindsight_slots(day, &slots);
    for (int i = 0; i < slots.count; i++) {
        slots.slot[i].cap = most;
    }
    const double whole_mol = plan_reach_mol(&lamp, &slots, 0);
    return whole_mol > 0 ? plan_reach_mol(&lamp, &slots, 1) / whole_mol : 1;
}

struct hindsight hindsight(const struct hindsight_day *day, double need_mol, double lamp_mol)
{
    const struct hindsight unknown = {UNITS_NONE, UNITS_NONE};
    if (daylog_seen_s(day->log) < UNITS_S_PER_DAY - UNSEEN_MOST_S) {
        return unknown;
    }
    const struct plan_lamp lamp = hindsight_lamp(day);
    if (!units_known(lamp.full_umol) || !units_known(lamp.full_share)) {
        return unknown;
    }
    struct plan_slots slots;
    hindsight_slots(day, &slots);
    return (struct hindsight){plan_bound(&lamp, &slots, need_mol).cost,
                              plan_even_cost(&lamp, &slots, lamp_mol)};
}

enum hindsight_word hindsight_word(double lamp_cost, double bound_cost, double missing_mol)
{
    if (!units_known(lamp_cost) || !units_known(bound_cost) ||
        fmax(fabs(lamp_cost), fabs(bound_cost)) < SOME_COST) {
        return HINDSIGHT_NOTHING;
    }
    if (missing_mol >= ACCOUNT_SHORT_MOL) {
        return HINDSIGHT_SHORT;
    }
    return bound_cost >= SOME_COST && lamp_cost > 0 ? HINDSIGHT_RATIO : HINDSIGHT_COSTS;
}
