/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The live streams of the page (server-sent events): who listens, and what each is sent next.
 *
 * There is one text, the newest; a client that is slow misses the ones between. Its stream is
 *   retry: 5000                       at first
 *   event: status, data: {…}          at once and whenever a newer text is there
 *   : still here                      after 15 s without anything else
 * and ends after ten minutes; a browser comes back by itself. Nothing here reads a clock, locks or
 * sends: the caller asks for bytes when its socket takes some.
 */
#ifndef LAMPWARDEN_PAGE_LIVE_H
#define LAMPWARDEN_PAGE_LIVE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/types.h>

enum { PAGE_LIVE_CLIENTS = 4, PAGE_LIVE_END = -1 };

struct page_live_text; /* counts who holds it */

struct page_live_client {
    bool is_open, is_waiting;
    void *peer; /* the caller's */
    struct page_live_text *sending;
    size_t sent;
    uint64_t number; /* of the text that was sent, or is */
    int64_t begun_ns, spoke_ns;
};

struct page_live {
    struct page_live_text *newest;
    uint64_t number;
    bool is_closing;
    struct page_live_client clients[PAGE_LIVE_CLIENTS];
};

/* A new text for all, copied. False: no memory, the old one stays. */
bool page_live_show(struct page_live *live, const char *text);
void page_live_finish(struct page_live *live); /* when no client is left */

/* The client's index; −1: all places are taken, or the end has come. */
int page_live_join(struct page_live *live, void *peer, int64_t now_ns);
void page_live_leave(struct page_live *live, int index);
bool page_live_is_empty(const struct page_live *live);

/* Bytes for the client; 0: none now, and it counts as waiting; PAGE_LIVE_END. */
ssize_t page_live_read(struct page_live *live, int index, char *buffer, size_t size,
                       int64_t now_ns);

/* A waiting client for whom there is something, which no longer counts as waiting then; −1: none.
 */
int page_live_wake(struct page_live *live, int64_t now_ns);

#endif
