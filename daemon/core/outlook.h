/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The rest of a light day as it is expected: the decision itself (decide.h), walked ahead on a copy
 * of the state. Nothing here has rules of its own, so what is shown is what will be done, as long
 * as things are as expected: the sky as clear as the plan expects it in the mean, sensors, outputs
 * and heat as they are now (a fixture that tripped has cooled once it is dark), watts by the
 * curves, a level by hand until its time is over.
 *
 * Where no light is left in this light day, the next one is shown. Pure, no allocation; some
 * thousand decisions, so it is for those who ask, not for the tick.
 */
#ifndef LAMPWARDEN_OUTLOOK_H
#define LAMPWARDEN_OUTLOOK_H

#include "decide.h"

#define OUTLOOK_ROWS_MAX 64
#define OUTLOOK_STEP_S   60
#define OUTLOOK_SKIES    5 /* equally likely ones */

/* Why the plan wants what it wants, where the limiter is the plan. */
enum outlook_why {
    OUTLOOK_BY_LIMITER, /* the limiter says it all */
    OUTLOOK_EVEN,       /* one level: energy has one price in the window, and there is no sun */
    OUTLOOK_BLIND,      /* one level: there may be sun, but nobody sees it */
    OUTLOOK_SUPPLY,     /* the supply that spaces share is short: less than it would be, or moved */
    OUTLOOK_FLOOR,      /* the stage's least PPFD, whatever light costs */
    OUTLOOK_CHEAP,      /* lit, near the lowest price of the light day */
    OUTLOOK_USUAL,      /* lit, at a price between */
    OUTLOOK_DEAR,       /* lit all the same, near the highest one */
    OUTLOOK_LOWEST,  /* the lowest level, which keeps the plants' day: cheaper hours do the rest */
    OUTLOOK_WAITS,   /* off: a cheaper hour is to come */
    OUTLOOK_SUN_DUE, /* off: daylight is likely to make it cheaper than the lamp */
    OUTLOOK_SUN_ENOUGH, /* off: daylight suffices under every sky that is reckoned with */
    OUTLOOK_FILLS,      /* lit: daylight alone will not do */
    OUTLOOK_NEEDED,     /* lit whatever it costs: a dark sky could leave the day short */
    OUTLOOK_WHY_COUNT
};

const char *outlook_why_name(enum outlook_why why); /* "cheap-hour"; never changes its spelling */

/* A stretch within one clock hour of the site's fixed offset. A row also ends where the lamps'
 * hours begin or end, the target is met, or a hand lets go. */
struct outlook_row {
    int64_t from_s, to_s; /* wall clock */
    double level;         /* mean, 0 … 1 */
    double lamp_mol, daylight_mol;
    double price_per_kwh; /* mean; NaN: not known */
    double energy_kwh, cost;
    enum limiter limiter; /* who rules longest in it, and of the plan, why */
    enum outlook_why why;
};

struct outlook {
    int64_t light_day;        /* which is shown */
    bool is_tomorrow;         /* not the one that is running */
    struct stage_today stage; /* of that day */
    double delivered_mol;     /* of that day so far */
    int row_count;            /* 0: no light in either day, or the time is not known */
    struct outlook_row rows[OUTLOOK_ROWS_MAX];
    /* sums of the rows */
    double lamp_mol, daylight_mol, energy_kwh, cost;
    double clearness; /* expected, of the clear sky; NaN: no sun is reckoned with */
    /* What the rows cost under the skies that may come: the mean of OUTLOOK_SKIES equally likely
     * ones, and their darkest and brightest. NaN: no sun. */
    double skies_cost, dark_cost, bright_cost;
    /* Where energy changes its price in these hours and no sun is seen: the same decision with an
     * eye to no price, one level for what is left of the day. NaN elsewhere. */
    double even_cost, even_mol;
};

/* state, now and verdict: of one and the same tick. */
void outlook_make(const struct space_rules *rules, const struct space_state *state,
                  const struct now *now, const struct verdict *verdict, struct outlook *ret);

/* The mol that the running light day is expected to come to, as outlook_make says it; the verdict's
 * forecast where no light is left in it. */
double outlook_expected_mol(const struct space_rules *rules, const struct space_state *state,
                            const struct now *now, const struct verdict *verdict);

#endif
