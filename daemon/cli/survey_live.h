/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A survey by hand: a person, or a rig that presses Enter, carries the space's light sensor from
 * point to point of a grid, and the running daemon says what it reads.
 */
#ifndef LAMPWARDEN_SURVEY_LIVE_H
#define LAMPWARDEN_SURVEY_LIVE_H

#include <stdbool.h>

#define SURVEY_LIVE_PATH_MAX 512

/* As they were said; NULL: not. */
struct survey_live_words {
    const char *space, *grid, *spacing, *margin, *height, *output, *sensor, *fixture;
    const char *watts, *settle, *samples, *patience, *socket_path;
    bool is_one_way, overwrites, says_yes, wants_json;
};

/* Minutes. An enum verb_exit; *ret_is_whole: every point is done, and the map in ret_path can be
 * reported. */
int survey_live(const struct survey_live_words *words, char ret_path[SURVEY_LIVE_PATH_MAX],
                bool *ret_is_whole);

#endif
