/* SPDX-License-Identifier: Apache-2.0 */
/* Private to survey_live*.c. */
#ifndef LAMPWARDEN_SURVEY_LIVE_PARTS_H
#define LAMPWARDEN_SURVEY_LIVE_PARTS_H

#include "stand.h"
#include "survey_live.h"
#include "walk.h"

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>
#include <sys/stat.h>

#define LIVE_NAME       "survey"
#define LIVE_WORD_MAX   96
#define LIVE_WORDS_MAX  160
#define LIVE_REASON_MAX 512

struct err;
struct live;

/* What the daemon says of the space and of the sensor that is carried about. */
struct live_sight {
    bool is_answered;               /* else the rest is old */
    struct stand_sight stand;       /* its reading is NaN unless it is good */
    char quality[16];               /* of the reading: "good" …; "": not known */
    char unusable[LIVE_REASON_MAX]; /* why the reading is not good; "": it is */
    double drive;                   /* of the fixtures that are lit; NaN: not one and the same */
    double watts;                   /* of them; NaN: not known */
    bool is_metered;                /* by their own meters, else by their dimming curves */
    bool is_blind;                  /* one of them has no meter */
    bool is_night, is_held;         /* … by hand */
    double aim;                     /* level that the space asks for, and may be on its way to */
    double held_level, hold_left_s;
    double daylight_umol, sensor_factor;
    char limiter[LIVE_WORDS_MAX], state[LIVE_WORDS_MAX * 2], time[LIVE_WORD_MAX];
};

struct live_daemon {
    const char *socket_path, *space;
    char sensor[LIVE_WORD_MAX];
    char fixtures[LIVE_WORD_MAX]; /* "a + b" */
    bool is_its_own;              /* the sensor is one that the daemon reads the space's light by */
    struct live_sight sight;
};

/* Finds the space and its sensor (wanted: its name, NULL when there is only one). As of client.h;
 * -ENOENT with the names there are. */
int live_open(struct live_daemon *daemon, const char *wanted, struct err *err);

/* Looks anew; a daemon that is not there is a reading that cannot be used. */
void live_look(struct live_daemon *daemon);

/* The file, which holds every accepted point at any moment. */
struct live_file {
    char path[SURVEY_LIVE_PATH_MAX];
    char *head; /* lines above the columns; NULL: not made yet */
    bool is_there;
    struct stat as_left; /* what we wrote last */
};

/* What a file says of the survey that was begun; -ENOENT: there is none yet. */
struct live_begun {
    char space[LIVE_WORD_MAX], sensor[LIVE_WORD_MAX], fixture[LIVE_WORD_MAX];
    char height_note[LIVE_WORDS_MAX]; /* "height_cm: 60" */
    double level;                     /* NaN: not said */
};
int live_file_read(struct live_file *file, bool is_one_way, struct walk *walk,
                   struct live_begun *ret, struct err *err);

/* A file can be made there: what can be known beforehand. */
int live_file_check(const struct live_file *file, struct err *err);

/* Above the columns of a new file: live->begun, and what the daemon says of lamps and sensor. */
int live_file_head(struct live *live, struct err *err);

/* All of it, onto the disk, before it returns. -EBUSY: somebody else has changed it. */
int live_file_store(struct live_file *file, const struct walk *walk, struct err *err);

void live_file_close(struct live_file *file);

/* What somebody types. */
enum live_key {
    LIVE_NOTHING, /* in that time */
    LIVE_ENTER,
    LIVE_BACK,
    LIVE_REPEAT,
    LIVE_SKIP,
    LIVE_QUIT,
    LIVE_GO,
    LIVE_STRANGE,     /* anything else */
    LIVE_GONE,        /* nobody is there any more */
    LIVE_INTERRUPTED, /* by a signal */
};

struct live_keys {
    char text[256];
    size_t used;
    bool is_gone;
    int number; /* of LIVE_GO */
};

/* A whole line, or as much of one as there is when input ends. Below 0: waits for ever. */
enum live_key live_key(struct live_keys *keys, int patience_ms);

struct live {
    const struct survey_live_words *words;
    struct live_daemon daemon;
    struct live_file file;
    struct live_begun begun; /* of the file, or as it will be */
    struct walk walk;
    struct live_keys keys;
    struct settle_rules rules;
    double level;      /* of the lamps during the survey; NaN: no reading yet */
    double watts;      /* of the fixtures meanwhile, as somebody said; NaN: nobody did */
    double patience_s; /* that one point may wait; INFINITY: for ever */
    bool is_screen;    /* a person at a terminal */
    char news[2 * LIVE_REASON_MAX]; /* on the screen until the next point */
};

/* What was said on the command line; VERB_OK, or VERB_USAGE after saying what is wrong. */
int live_read_grid(const struct survey_live_words *words, struct walk_grid *grid);
int live_read_rules(struct live *live);
/* "60cm" → "height_cm: 60" */
int live_read_height(const char *text, char *ret_note, size_t size);

/* The points one after the other; VERB_OK when all are done or somebody quits (*ret_is_whole). */
int live_walk(struct live *live, bool *ret_is_whole);

/* "60 cm above the canopy", of a height_note. */
void live_height_words(const char *note, char *buffer, size_t size);

/* What is shown. On a screen: the map and where to go; else a line, or with --json an object. */
void live_show_point(const struct live *live);
void live_show_reading(struct live *live, const struct stand *stand);
void live_show_left_out(struct live *live, int index);
void live_show_waiting(const struct live *live, const char *why);
void live_show_progress(const struct live *live, const struct stand *stand);
void live_show_end(const struct live *live);
/* For people: wrapped, on the screen or beside the lines. */
void live_say(const struct live *live, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
void live_map(const struct live *live);

#endif
