/* SPDX-License-Identifier: Apache-2.0 */
/* Private to survey*.c: what a survey found, and the two ways to print it. */
#ifndef LAMPWARDEN_SURVEY_PARTS_H
#define LAMPWARDEN_SURVEY_PARTS_H

#include "height.h"
#include "spot.h"

#include <stdbool.h>

#define SURVEY_SPOTS 3

struct survey {
    int count;
    struct lightmap maps[HEIGHT_MAPS_MAX];
    const struct lightmap *sorted[HEIGHT_MAPS_MAX]; /* highest first */
    struct mapstats stats[HEIGHT_MAPS_MAX];         /* as measured, in that order */
    struct height_fall fall;
    struct height_wish wish;
    bool wish_is_usual; /* nobody said what the plants shall have */
    struct height_choice choice;
    int spot_count;
    struct spot spots[SURVEY_SPOTS];
};

/* "60 cm needs 41 % of full light …": why this height, or why none. */
void survey_why(const struct survey *survey, char *buffer, unsigned size);

void survey_text(const struct survey *survey);
void survey_json(const struct survey *survey);

#endif
