/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A look for who answers on one bus: every address once, in order, asked by the bus's own thread
 * between its turns. Who wants it asks for news; nobody waits for a device here, and a scan that
 * nobody asks about ends by itself.
 *
 * A scan also ends when an address made the device drop the line: asking on would darken its lamps
 * again and again. Waiting for a line that is down, or busy, it ends after SCAN_PATIENCE_S.
 */
#ifndef LAMPWARDEN_SCAN_H
#define LAMPWARDEN_SCAN_H

#include <pthread.h>
#include <stdbool.h>
#include <stdint.h>

/* Individual addresses of a serial line: Modbus over serial line V1.02, 2.2. */
#define SCAN_FIRST      1
#define SCAN_LAST       247
#define SCAN_WORDS_MAX  96
#define SCAN_UNASKED_S  5.0
#define SCAN_PATIENCE_S 20.0

struct scan_found {
    int address;
    bool is_garbled; /* somebody is there, but what came was no answer: two devices at once? */
    char words[SCAN_WORDS_MAX];
};

struct scan_view {
    uint32_t number; /* counts the scans of this bus; 0: there was none yet */
    bool is_running;
    int from, to, next; /* next: the address that is asked next; to + 1 at the end */
    int found_count;
    char reason[160]; /* ended early: why; running: what it waits for; else "" */
};

struct scan {
    pthread_mutex_t mutex;
    struct scan_view view;
    int64_t asked_ns, moved_ns; /* when somebody asked for news, when an address was done */
    struct scan_found found[SCAN_LAST];
};

void scan_init(struct scan *scan);
void scan_finish(struct scan *scan);

/* --- who wants to know ----------------------------------------------------------------------- */

/* False: one is running. 1 ≤ from ≤ to ≤ 247. */
bool scan_start(struct scan *scan, int from, int to, int64_t now_ns);
void scan_end(struct scan *scan);
bool scan_is_running(struct scan *scan, int64_t now_ns);
/* News of scan `number`, which stays alive by it; of another one only the view. */
void scan_ask(struct scan *scan, uint32_t number, int64_t now_ns, struct scan_view *ret_view);
/* One find of the latest scan; false: there are not so many. */
bool scan_find(struct scan *scan, int index, struct scan_found *ret);

/* --- the bus's thread ------------------------------------------------------------------------ */

/* The address to ask now; −1: none. */
int scan_next(struct scan *scan, int64_t now_ns);
/* What came of asking it: a code of the driver's probe with its words, or its sentence. */
struct scan_outcome {
    int code;
    bool is_line_lost; /* a connection that stood is gone */
    const char *words;
};
void scan_note(struct scan *scan, int address, const struct scan_outcome *outcome, int64_t now_ns);

#endif
