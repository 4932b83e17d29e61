/* SPDX-License-Identifier: Apache-2.0 */
#include "clearness.h"

#include "clearness_parts.h"
#include "units.h"

#include <math.h>

#define SEEN_MOST                                                                                  \
    2.6 /* clouds beside the sun lift the light by a third; a low curve doubles it                 \
         */
#define SCENARIO_LEAST 0.02
#define SCENARIO_MOST  1.1  /* at a site whose days were not clearer than the curve says */
#define BEYOND_BEST    1.15 /* of the clearest day that is kept */
#define WHOLE_DAY      0.9  /* share of the clear sky that makes a day */
#define DARK_FROM      0.1  /* shares of the day's clear sky that are past: in between … */
#define DARK_TO        0.9
#define DARK           0.1  /* … a day is dark when less than this share of it came */
#define REST_LEAST     0.01 /* share of the day's clear sky; below it the rest says nothing */

void clearness_open(struct clearness *today, double clear_day_mol)
{
    *today = (struct clearness){.clear_day_mol = isfinite(clear_day_mol) ? clear_day_mol : 0.0};
}

static bool has_sun(const struct clearness *today)
{
    return today->clear_day_mol >= CLEARNESS_SUN_LEAST_MOL;
}

/* A sum of light: no number that a day on earth could not bring. */
static bool is_sum(double mol)
{
    return mol >= 0.0 && mol < 1e6;
}

bool clearness_is_sane(const struct clearness *today)
{
    if (!is_sum(today->daylight_mol) || !is_sum(today->clear_mol) ||
        !is_sum(today->clear_day_mol) || today->row_next < 0 || today->row_next > CLEARNESS_ROWS) {
        return false;
    }
    for (int row = 0; row < CLEARNESS_ROWS; row++) {
        if (!isfinite(today->row_prediction[row]) || !is_sum((double)today->row_daylight[row]) ||
            !is_sum((double)today->row_clear[row])) {
            return false;
        }
    }
    return true;
}

static double seen_so_far(const struct clearness *today, const struct learned *learned)
{
    if (!(today->clear_mol > 0.0)) {
        return learned_mean(learned);
    }
    return units_clamp(today->daylight_mol / today->clear_mol, 0.0, SEEN_MOST);
}

static double predict(const struct clearness *today, const struct learned *learned, int row)
{
    const struct clearness_row *of = &clearness_table[row];
    return of->constant + of->seen * seen_so_far(today, learned) +
           of->yesterday * (double)learned->yesterday + of->mean * learned_mean(learned);
}

/* Row 0 is passed as the day begins. One comparison on most steps. */
static void note_rows(struct clearness *today, const struct learned *learned)
{
    while (today->row_next < CLEARNESS_ROWS &&
           today->clear_mol * CLEARNESS_ROWS >= today->row_next * today->clear_day_mol) {
        int row = today->row_next++;
        today->row_prediction[row] = (float)predict(today, learned, row);
        today->row_daylight[row] = (float)today->daylight_mol;
        today->row_clear[row] = (float)today->clear_mol;
    }
}

void clearness_step(struct clearness *today, const struct learned *learned, double daylight_umol,
                    double clear_umol, double dt_s, bool is_measured)
{
    if (!(dt_s > 0.0) || !isfinite(dt_s) || !(clear_umol >= 0.0) || !isfinite(clear_umol)) {
        return;
    }
    bool is_known = isfinite(daylight_umol);
    if (!is_measured || !is_known) {
        today->is_broken = true;
    }
    if (has_sun(today)) {
        note_rows(today, learned);
    }
    double light_umol =
        is_known ? fmax(daylight_umol, 0.0) : clear_umol * seen_so_far(today, learned);
    today->daylight_mol += units_mol(light_umol, dt_s);
    today->clear_mol += units_mol(clear_umol, dt_s);
}

void clearness_close(const struct clearness *today, struct learned *learned)
{
    if (today->is_broken || !has_sun(today) ||
        today->clear_mol < WHOLE_DAY * today->clear_day_mol) {
        return;
    }
    for (int row = 0; row < today->row_next; row++) {
        double clear_mol = today->clear_mol - (double)today->row_clear[row];
        if (clear_mol < REST_LEAST * today->clear_day_mol) {
            continue;
        }
        double came = (today->daylight_mol - (double)today->row_daylight[row]) / clear_mol;
        learned_push_residual(learned, row, came - (double)today->row_prediction[row]);
    }
    learned_push_day(learned, today->daylight_mol / today->clear_mol);
}

/* A curve that is too low, for a high place or a scale, would cut off what the site really has. */
static double scenario_most(const struct learned *learned)
{
    double most = SCENARIO_MOST;
    for (int i = 0; i < learned->day_count; i++) {
        most = fmax(most, BEYOND_BEST * (double)learned->day[i]);
    }
    return most;
}

void clearness_scenarios(const struct clearness *today, const struct learned *learned,
                         struct scenarios *ret)
{
    *ret = (struct scenarios){.count = 0};
    if (!has_sun(today)) {
        return;
    }
    double past = units_clamp(today->clear_mol / today->clear_day_mol, 0.0, 1.0);
    int nearest = (int)(past * CLEARNESS_ROWS + 0.5);
    int row = nearest < CLEARNESS_ROWS ? nearest : CLEARNESS_ROWS - 1;
    double own[CLEARNESS_SCENARIOS];
    const double *residual =
        learned_residuals(learned, row, own) ? own : clearness_table[row].residual;
    double predicted = predict(today, learned, row);
    double most = scenario_most(learned);
    double sum = 0.0;
    for (int j = 0; j < CLEARNESS_SCENARIOS; j++) {
        ret->clearness[j] = units_clamp(predicted + residual[j], SCENARIO_LEAST, most);
        sum += ret->clearness[j];
    }
    ret->count = CLEARNESS_SCENARIOS;
    ret->mean = sum / CLEARNESS_SCENARIOS;
    const double *usual = clearness_table[row].residual;
    double far_below = predicted + fmin(2 * residual[0] - residual[1], 2 * usual[0] - usual[1]);
    ret->pessimistic = units_clamp(far_below, SCENARIO_LEAST, most);
    ret->is_dark = past >= DARK_FROM && past < DARK_TO && seen_so_far(today, learned) < DARK;
}
