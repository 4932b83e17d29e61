/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Which height to hang a fixture at, from light maps of it at several heights.
 *
 * Lower hanging gives more light and less evenly. The height to choose is the one that needs least
 * power for the day's light within the PPFD ceiling and the wished evenness. Heights between two
 * measured ones with the same points are interpolated, point by point, ln PPFD over ln height, and
 * say so; beyond the measured ones nothing is said: close to a fixture the inverse square is wrong
 * (common practice, no source).
 *
 * Power is the fixture's own, by its dimming curve, where that is known; its lowest steady light
 * and its drive ceiling bound the level then. Without a curve power is in proportion to light.
 */
#ifndef LAMPWARDEN_HEIGHT_H
#define LAMPWARDEN_HEIGHT_H

#include "dimcurve.h"
#include "mapstats.h"

#define HEIGHT_MAPS_MAX   32
#define HEIGHT_OFFERS_MAX 256

/* The mean's fall: mean = at_one_m · (height / 1 m)^−exponent, least squares of logarithms. */
struct height_fall {
    int count; /* heights it comes from; below 2 the rest is NaN */
    double at_one_m_umol;
    double exponent, exponent_se; /* the latter NaN with two heights */
};

/* maps[count], any order; means at full light (map.level taken out). */
void height_fall_of(const struct lightmap *const *maps, int count, struct height_fall *ret);

/* How the fixture dims. */
struct height_lamp {
    struct dimcurve curve;
    bool has_watts;       /* of the curve; else power is in proportion to light */
    double drive_ceiling; /* > 0 … 1 */
};

struct height_wish {
    double target_mol;              /* DLI, > 0 */
    double lit_h;                   /* hours of full light a day, > 0 … 24 */
    double ceiling_umol;            /* highest PPFD anywhere; INFINITY: none */
    double min_over_mean;           /* least evenness; 0: any */
    double highest_level;           /* that the fixture may run at, usual 1 */
    const struct height_lamp *lamp; /* the caller's; NULL: dims to any level */
};

/* The levels that wish and lamp allow: 0 < lowest (0 without a lamp), highest ≤ 1. */
double height_lowest_level(const struct height_wish *wish);
double height_highest_level(const struct height_wish *wish);

enum height_verdict {
    HEIGHT_FITS,
    HEIGHT_TOO_WEAK,   /* needs more than the highest level */
    HEIGHT_TOO_BRIGHT, /* somewhere above the ceiling */
    HEIGHT_TOO_UNEVEN,
};

struct height_offer {
    double height_cm;
    bool is_interpolated;
    struct mapstats stats; /* at full light; photons_per_j and utilisation as measured */
    double level;          /* that the day's light needs, the lowest level at least */
    double mol;            /* of a day then: the target, more at the lowest level */
    double watts;          /* then; NaN: not known, or more than full light by a curve */
    double brightest_umol; /* then */
    enum height_verdict verdict;
};

struct height_choice {
    int count;
    struct height_offer offers[HEIGHT_OFFERS_MAX]; /* highest first */
    int chosen;                                    /* −1: none fits */
};

/* maps[count], 1 … HEIGHT_MAPS_MAX. step_cm: distance of interpolated heights, 0: none.
 * -EINVAL: two maps of one height; -ENOMEM. */
int height_choose(const struct lightmap *const *maps, int count, const struct height_wish *wish,
                  double step_cm, struct height_choice *ret, struct err *err);

#endif
