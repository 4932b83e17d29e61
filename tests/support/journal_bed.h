/* SPDX-License-Identifier: Apache-2.0 */
/* A temporary folder with a journal in it, records to put and ways to look at what was stored. */
#ifndef LAMPWARDEN_JOURNAL_BED_H
#define LAMPWARDEN_JOURNAL_BED_H

#include "journal.h"

#include <stdint.h>

#define BED_WALL_S INT64_C(1772000040) /* a full minute in February 2026 */
#define BED_DAY    20508               /* the light day of it, at UTC */

struct bed {
    char folder[64];
    char path[96]; /* FOLDER/journal.db */
    struct journal_options options;
    struct journal *journal; /* NULL: closed */
};

/* Usual options: commit_s 3600 (nothing is written unless asked), retry_s 0.05, keep all. */
void bed_make(struct bed *bed);
void bed_open(struct bed *bed);
void bed_close(struct bed *bed); /* the journal; the folder stays */
void bed_remove(struct bed *bed);

struct journal_minute bed_minute(const char *space,
                                 int64_t index); /* `index` minutes after BED_WALL_S */
struct journal_event bed_event(const char *space, enum journal_class class, const char *text);
struct journal_day bed_day(const char *space, int64_t light_day, bool is_closed);

/* Puts and flushes; fails the test when it was not written. */
void bed_put_minutes(struct bed *bed, const char *space, int64_t first, int64_t count);

/* First column of the first row, asked over a connection of its own; −1: it cannot be asked. */
int64_t bed_ask(const struct bed *bed, const char *sql);
void bed_run(const struct bed *bed,
             const char *sql); /* changes the file from outside; must succeed */

/* Waits (at most 20 s) until the journal is in that health; fails the test otherwise. */
struct journal_status bed_await(struct bed *bed, enum journal_health health);

/* How many files of the folder have this in their name. */
int bed_files(const struct bed *bed, const char *part);

#endif
