/* SPDX-License-Identifier: Apache-2.0 */
/* Private to survey*.c: what a survey found, and the two ways to print it. */
#ifndef LAMPWARDEN_SURVEY_PARTS_H
#define LAMPWARDEN_SURVEY_PARTS_H

#include "height.h"
#include "sidebyside.h"
#include "spot.h"

#include <stdbool.h>

#define SURVEY_SPOTS    3
#define SURVEY_FIXTURES 8

/* One fixture and its maps. */
struct survey {
    const char *fixture; /* "": nobody said */
    int count;
    const struct lightmap *sorted[HEIGHT_MAPS_MAX]; /* highest first */
    struct mapstats stats[HEIGHT_MAPS_MAX];         /* as measured, in that order */
    struct height_fall fall;
    struct height_wish wish;
    bool wish_is_usual;    /* nobody said what the plants shall have */
    const char *lamp_name; /* whose curve rules the power; NULL: nobody's */
    struct height_lamp lamp;
    struct height_choice choice;
    int spot_count;
    struct spot spots[SURVEY_SPOTS];
};

struct surveys {
    int map_count;
    struct lightmap maps[HEIGHT_MAPS_MAX];
    int fixture_count;
    struct survey fixtures[SURVEY_FIXTURES];
    struct sidebyside_terms terms;
    struct sidebyside_row rows[SURVEY_FIXTURES]; /* with two fixtures or more */
    int cheapest;                                /* −1: not known */
};

/* Puts a map, the caller's, into its place among the sorted. */
void survey_add_map(struct survey *survey, const struct lightmap *map);

/* A drive is a level once the curve is known: that of a map whose file says none. VERB_OK, or
 * VERB_FAILED after saying that the lamp of that name is dark there. */
int survey_find_level(const char *verb, const struct dimcurve *curve, const char *lamp_name,
                      struct lightmap *map);

/* Where curves are looked for; all NULL: nowhere. */
struct survey_source {
    const char *record, *config, *fixture;
};

/* Lamps of all fixtures, and levels of maps that only say their drive. An enum verb_exit; what is
 * wrong was said. */
int survey_lamp_read(const struct survey_source *source, struct surveys *surveys);

/* Watts at a level by the curve; NaN: not known. */
double survey_lamp_watts(const struct survey *survey, double level);

/* "60 cm needs 41 % of full light …": why this height, or why none. */
void survey_why(const struct survey *survey, char *buffer, unsigned size);

/* "fits", "too weak" … */
const char *survey_verdict(enum height_verdict verdict);

void survey_text(const struct surveys *surveys);
void survey_json(const struct surveys *surveys);

/* Maps of all heights on one scale and the figures by height, as gnuplot.h says. */
int survey_plot(const struct survey *survey, const char *output, struct err *err);

#endif
