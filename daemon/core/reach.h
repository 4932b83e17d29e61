/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a light day can come to at the most, and what binds it: the hours that are left of the
 * window, the lamps or the ceiling, what is taken from them, and the sun.
 */
#ifndef LAMPWARDEN_REACH_H
#define LAMPWARDEN_REACH_H

#include <stdbool.h>

#define REACH_MET 0.98 /* share of its target that a day has to come to */

struct reach {
    double target_mol;   /* 0: nothing is known */
    double reach_mol;    /* of the whole day, delivered light and the brightest sky included */
    bool is_short;       /* reach_mol is below REACH_MET of the target, whatever comes */
    double left_h;       /* of the window */
    bool is_whole;       /* … of which nothing has passed yet */
    double light_umol;   /* the most that lamps and ceiling allow */
    bool by_ceiling;     /* the ceiling is lower than the lamps */
    double heat_share;   /* of the lamps' light that heat takes: today so far, and usually */
    double power_share;  /* … that the power limit of all spaces takes */
    double fault_share;  /* … that trips, dead outputs and drive ceilings take */
    double daylight_mol; /* still to come from the brightest sky; NaN: no daylight here */
};

#endif
