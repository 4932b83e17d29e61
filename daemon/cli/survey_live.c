/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden survey --live`: what has to be known before anybody walks. */
#include "survey_live_parts.h"

#include "err.h"
#include "interrupt.h"
#include "parse.h"
#include "units.h"
#include "verb.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define LEVEL_LEAST    0.01
#define STEP_S         5.0  /* from one point to the next */
#define DAYLIGHT_SHARE 0.02 /* of the reading: more is worth a word */

static const char cautions[] =
    "Do not look into the lamp, wear eye protection under bright or narrow-band light, mind hot "
    "heatsinks. Hold the sensor level at the height of the leaves and cast no shadow on it; the "
    "lamp should have warmed up for half an hour (common practice, no source).";

/* Nobody wants to walk for an hour and be asked for it then. */
static int ask_height(struct live *live)
{
    char text[32] = "";
    struct live_begun *begun = &live->begun;
    if (live->words->height) {
        return live_read_height(live->words->height, begun->height_note, sizeof begun->height_note);
    }
    if (!live->is_screen) {
        return verb_usage(LIVE_NAME, "--live needs --height LENGTH: how high the fixture hangs "
                                     "over the canopy");
    }
    (void)fputs("How high does the fixture hang over the canopy (60cm)? ", stdout);
    (void)fflush(stdout);
    if (!fgets(text, sizeof text, stdin)) {
        return VERB_USAGE;
    }
    text[strcspn(text, "\r\n")] = '\0';
    return live_read_height(text, begun->height_note, sizeof begun->height_note);
}

/* "lettuce_60cm.csv", unless somebody said another. */
static int name_file(struct live *live)
{
    struct live_file *file = &live->file;
    const char *output = live->words->output;
    const char *note = live->begun.height_note;
    const int length =
        output ? snprintf(file->path, sizeof file->path, "%s", output)
               : snprintf(file->path, sizeof file->path, "%s_%s%.2s.csv", live->daemon.space,
                          strchr(note, ' ') + 1, strchr(note, '_') + 1);
    return length < (int)sizeof file->path
               ? VERB_OK
               : verb_fail(LIVE_NAME, VERB_FAILED, "the name of the file is too long");
}

static int differs(const struct live *live, const char *what, const char *there, const char *here)
{
    return verb_fail(LIVE_NAME, VERB_FAILED,
                     "%s holds a survey of another %s: %s there, %s here; name another file by "
                     "--output, or --force begins it anew",
                     live->file.path, what, there, here);
}

/* What was begun there is what shall go on. */
static int compare(const struct live *live, const struct live_begun *there,
                   const struct walk_grid *grid)
{
    char theirs[WALK_ROW_MAX];
    char ours[WALK_ROW_MAX];
    if (!walk_is_same_grid(&live->walk.grid, grid)) {
        walk_grid_words(&live->walk.grid, theirs, sizeof theirs);
        walk_grid_words(grid, ours, sizeof ours);
        return differs(live, "grid", theirs, ours);
    }
    if (strcmp(there->space, live->daemon.space) != 0) {
        return differs(live, "space", there->space, live->daemon.space);
    }
    if (strcmp(there->sensor, live->daemon.sensor) != 0) {
        return differs(live, "sensor", there->sensor, live->daemon.sensor);
    }
    if (strcmp(there->height_note, live->begun.height_note) != 0) {
        return differs(live, "height", there->height_note, live->begun.height_note);
    }
    if (live->words->fixture && strcmp(there->fixture, live->words->fixture) != 0) {
        return differs(live, "fixture", there->fixture, live->words->fixture);
    }
    return VERB_OK;
}

static int begin_anew(struct live *live, const struct walk_grid *grid)
{
    struct err err;
    struct live_file *file = &live->file;
    file->is_there = live->words->overwrites && lstat(file->path, &file->as_left) == 0;
    if (walk_begin(grid, live->words->is_one_way, &live->walk, &err) < 0) {
        return verb_usage(LIVE_NAME, "--grid: %s", err.text);
    }
    return VERB_OK;
}

/* The walk: from the file if there is one, else from its first point. */
static int open_walk(struct live *live)
{
    struct err err;
    struct walk_grid grid = {0};
    struct live_begun there = {.level = UNITS_NONE};
    int code = live_read_grid(live->words, &grid);
    if (code == VERB_OK && live_file_check(&live->file, &err) < 0) {
        code = verb_fail(LIVE_NAME, VERB_FAILED, "%s", err.text);
    }
    if (code != VERB_OK) {
        return code;
    }
    const int rc = live->words->overwrites ? -ENOENT
                                           : live_file_read(&live->file, live->words->is_one_way,
                                                            &live->walk, &there, &err);
    if (rc == -ENOENT) {
        return begin_anew(live, &grid);
    }
    if (rc < 0) {
        return verb_fail(LIVE_NAME, VERB_FAILED, "%s; --force writes over it", err.text);
    }
    code = compare(live, &there, &grid);
    live->begun = there;
    live->level = walk_number_of(&live->walk, WALK_MEASURED) > 0 ? there.level : (double)UNITS_NONE;
    return code;
}

static int check_light(const struct live *live)
{
    const struct live_sight *sight = &live->daemon.sight;
    const double level = sight->stand.level;
    if (level >= LEVEL_LEAST) {
        return VERB_OK;
    }
    return verb_fail(
        LIVE_NAME, VERB_FAILED,
        "%s gives no light to measure (%s); to light it%s: lampwarden hold %s 75%% --for 1h%s",
        live->daemon.space, sight->state[0] ? sight->state : sight->unusable,
        sight->is_night ? " all the same" : "", live->daemon.space,
        sight->is_night ? " --break-night (light in a protected night can keep short-day plants "
                          "from flowering)"
                        : "");
}

/* Whoever measures should know what may spoil the map, or the plants' day. */
static void warn(const struct live *live, double length_s)
{
    const struct live_sight *sight = &live->daemon.sight;
    const char *space = live->daemon.space;
    char left[32];
    if (!sight->is_held) {
        live_say(live,
                 "! Nobody holds the lamps: the plan may move them, and then points wait. Better "
                 "first, in another shell: lampwarden hold %s %.0f%% --for %.0fmin",
                 space, 100 * fmin(fmax(sight->aim, LEVEL_LEAST), 1),
                 10 * ceil(length_s / 600 + 1));
    } else if (sight->hold_left_s < length_s) {
        parse_format_duration(sight->hold_left_s, left, sizeof left);
        live_say(
            live,
            "! The lamps are held for another %s; this may take longer, hold them again in time.",
            left);
    }
    if (sight->is_night) {
        live_say(live, "! It is night: this light counts as a night break, and can keep short-day "
                       "plants from flowering.");
    }
    if (sight->daylight_umol > DAYLIGHT_SHARE * sight->stand.umol) {
        live_say(live,
                 "! About %.0f µmol m⁻² s⁻¹ are daylight, which is no part of the lamps' map: "
                 "survey when it is dark outside.",
                 sight->daylight_umol);
    }
    if (live->daemon.is_its_own) {
        live_say(live, "While %s is carried, the daemon counts its light for the plants' day.%s",
                 live->daemon.sensor,
                 sight->is_blind
                     ? " Keep it out of the dark: without a meter, less than a third of the "
                       "promised light for some seconds counts as an LED driver that has tripped."
                     : "");
    }
}

static void tell_beforehand(const struct live *live)
{
    char words[WALK_ROW_MAX];
    char length[32];
    char height[LIVE_WORDS_MAX];
    const struct walk *walk = &live->walk;
    const int open = walk_number_of(walk, WALK_OPEN);
    const double length_s = open * (STEP_S + live->rules.least_s + live->rules.samples);
    walk_grid_words(&walk->grid, words, sizeof words);
    parse_format_duration(length_s, length, sizeof length);
    live_height_words(live->begun.height_note, height, sizeof height);
    live_say(live, "%s under %s, %s, by %s: %s, from the left front corner%s. About %s.",
             live->daemon.space, live->begun.fixture, height, live->daemon.sensor, words,
             walk->is_one_way ? ", every row from the left" : " to and fro", length);
    live_say(live, "%s", cautions);
    warn(live, length_s);
    if (live->file.is_there && !live->words->overwrites && walk_is_over(walk)) {
        live_say(live, "%s has all of its %d points.", live->file.path, walk->count);
    } else if (live->file.is_there && !live->words->overwrites) {
        live_say(live, "%s has %d of %d points; it goes on with point %d.", live->file.path,
                 walk->count - open, walk->count, walk->at + 1);
    } else {
        live_say(live,
                 "Every point is stored in %s at once; the same command goes on after a "
                 "break.",
                 live->file.path);
    }
}

/* VERB_OK: go on. */
static int ask_to_begin(struct live *live)
{
    if (!live->is_screen || live->words->says_yes) {
        return VERB_OK;
    }
    (void)fputs("Enter to begin, q to leave: ", stdout);
    (void)fflush(stdout);
    return live_key(&live->keys, -1) == LIVE_ENTER ? VERB_OK : VERB_FAILED;
}

/* It becomes a line of the file. */
static bool is_one_line(const char *name)
{
    const size_t length = strlen(name);
    return length > 0 && length < LIVE_WORD_MAX && !strpbrk(name, "\r\n");
}

static int prepare(struct live *live)
{
    struct err err;
    const struct survey_live_words *words = live->words;
    if (!words->grid || !words->spacing) {
        return verb_usage(LIVE_NAME, "--live needs --grid COLUMNSxROWS and --spacing LENGTH, as "
                                     "--grid 9x5 --spacing 15cm");
    }
    if (words->fixture && !is_one_line(words->fixture)) {
        return verb_usage(LIVE_NAME, "--fixture: a name of 1 … %d bytes on one line",
                          LIVE_WORD_MAX - 1);
    }
    int code = live_read_rules(live);
    if (code == VERB_OK && live_open(&live->daemon, words->sensor, &err) < 0) {
        code = verb_fail(LIVE_NAME, VERB_FAILED, "%s", err.text);
    }
    if (code == VERB_OK) {
        code = ask_height(live);
    }
    if (code == VERB_OK) {
        (void)snprintf(live->begun.fixture, sizeof live->begun.fixture, "%s",
                       words->fixture ? words->fixture : live->daemon.fixtures);
        (void)snprintf(live->begun.space, sizeof live->begun.space, "%s", live->daemon.space);
        (void)snprintf(live->begun.sensor, sizeof live->begun.sensor, "%s", live->daemon.sensor);
        code = name_file(live);
    }
    if (code == VERB_OK) {
        code = open_walk(live);
    }
    return code == VERB_OK && !walk_is_over(&live->walk) ? check_light(live) : code;
}

int survey_live(const struct survey_live_words *words, char ret_path[SURVEY_LIVE_PATH_MAX],
                bool *ret_is_whole)
{
    struct live live = {
        .words = words,
        .daemon = {.socket_path = words->socket_path, .space = words->space},
        .level = UNITS_NONE,
        .is_screen = !words->wants_json && isatty(STDIN_FILENO) && isatty(STDOUT_FILENO),
    };
    *ret_is_whole = false;
    int code = prepare(&live);
    if (code == VERB_OK) {
        interrupt_catch();
        tell_beforehand(&live);
        if (ask_to_begin(&live) == VERB_OK) {
            code = live_walk(&live, ret_is_whole);
        }
    }
    (void)snprintf(ret_path, SURVEY_LIVE_PATH_MAX, "%s", live.file.path);
    live_file_close(&live.file);
    walk_free(&live.walk);
    return code;
}
