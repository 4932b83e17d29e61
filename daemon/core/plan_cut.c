/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_cut.h"

#define GRID_S 1800

static int64_t next_grid(int64_t wall_s)
{
    const int64_t into = wall_s % GRID_S;
    return wall_s - into + (into < 0 ? 0 : GRID_S);
}

static void cut_piece(const struct lightday_piece *piece, const struct stage *stage,
                      const struct tariff *tariff, struct plan_slots *ret)
{
    const double on = (double)piece->window_on_s;
    const double length = (double)piece->window_off_s - on;
    for (int64_t at = piece->from_s; at < piece->to_s;) {
        int64_t end = tariff_next_change(tariff, at, piece->to_s);
        if (next_grid(at) < end) {
            end = next_grid(at);
        }
        if (end > piece->to_s || ret->count == PLAN_SLOTS_MAX - 1) {
            end = piece->to_s;
        }
        const double lit_s = ramp_integral(&stage->ramp, length, (double)at - on, (double)end - on);
        if (ret->count == PLAN_SLOTS_MAX) {
            struct plan_slot *last = &ret->slot[PLAN_SLOTS_MAX - 1];
            last->dt_s += (double)(end - at);
            last->lit_s += lit_s;
        } else {
            ret->slot[ret->count++] = (struct plan_slot){
                .dt_s = (double)(end - at),
                .lit_s = lit_s,
                .price_per_kwh = tariff_price(tariff, at),
                .cap = 1,
                .from_s = at,
            };
        }
        at = end;
    }
}

void plan_cut(const struct lightday_rules *day, const struct stage *stage,
              const struct tariff *tariff, int64_t wall_s, struct plan_slots *ret)
{
    struct lightday_piece pieces[2];
    const int count = lightday_pieces(day, &stage->window, wall_s, pieces);
    ret->count = 0;
    for (int i = 0; i < count; i++) {
        cut_piece(&pieces[i], stage, tariff, ret);
    }
}
