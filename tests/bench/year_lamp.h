/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The lamp of the simulated years and the cheapest day that is possible in hindsight. Written apart
 * from the daemon's core on purpose: what it says is a check of the core, not a copy.
 *
 *   P(u) = P_R (p0 [u > 0] + p1 u + p2 u²),   P_R = full_umol / efficacy          W m⁻²
 *   u = 0 or min_level … cap
 */
#ifndef LAMPWARDEN_YEAR_LAMP_H
#define LAMPWARDEN_YEAR_LAMP_H

struct year_lamp {
    double full_umol;             /* PPFD at the canopy at level 1 */
    double efficacy_umol_j;       /* canopy photons per joule of the wall at level 1 */
    double fixed, linear, square; /* p0, p1, p2: shares of the full power, their sum is 1 */
    double min_level;
};

/* W per m² of canopy. */
double year_lamp_w(const struct year_lamp *lamp, double level);

/* Money for one minute at a level; price per kWh. */
double year_lamp_minute_cost(const struct year_lamp *lamp, double level, double price_kwh);

/* The level with the least cost − value · light, value in money per mol; 0 where cap < min_level;
 * forced on at least at `low` where that is > 0. Any sign of price and value. */
double year_lamp_level(const struct year_lamp *lamp, double value_mol, double price_kwh, double low,
                       double cap);

struct year_bound {
    double cost;  /* no day that gives just `need_mol` can cost less */
    double most;  /* mol, all that the caps allow */
    double value; /* money per mol at the bound */
    int is_feasible;
};

/* The Lagrangian lower bound over `minutes` minutes: price per kWh, low and cap levels of each
 * (low may be NULL). It ignores slew and minimum times, so it is a true bound. need_mol ≤ 0 costs
 * what the floor costs; a need out of reach costs what giving everything costs. */
struct year_bound year_lamp_bound(const struct year_lamp *lamp, int minutes, const double *price,
                                  const double *low, const double *cap, double need_mol);

#endif
