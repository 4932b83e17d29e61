/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Where to put the one light sensor of a space. Its canopy factor is the canopy's mean over its
 * reading: the nearer to 1, the steadier over heights and levels and the less it changes for a slip
 * of the hand, the better the spot.
 */
#ifndef LAMPWARDEN_SPOT_H
#define LAMPWARDEN_SPOT_H

#include "lightmap.h"

#define SPOT_SLIP_CM 5.0

struct spot {
    double x_cm, y_cm;
    double factor;        /* mean over the maps */
    double factor_spread; /* sample standard deviation over the maps; 0 with one */
    double slip;          /* change of the factor for SPOT_SLIP_CM the worst way, as a share */
};

/* The best of the points that all maps[count ≥ 1] have, best first, at most `most`. Returns how
 * many; 0: the maps have no point in common. By √(ln² factor + (spread / factor)² + slip²);
 * of more than 512 points only those whose factor is among the best are looked at for the slip. */
int spot_best(const struct lightmap *const *maps, int count, struct spot *ret, int most);

#endif
