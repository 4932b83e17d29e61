/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The page for a browser: what the daemon knows, over HTTP, for reading only.
 *
 * Two threads of its own, never the tick's: one opens and shuts the listener and wakes the live
 * streams, one (libmicrohttpd's) answers. Both look at the snapshot and at the journal through a
 * reading connection. The page is never a reason not to run: what keeps it from listening is
 * logged, once, and tried again every 30 s. Limits: PAGE_CONNECTIONS_MAX connections, 4 of one
 * address unless the listener is the computer's own inner one or behind a proxy, 32 KiB of memory
 * each; GET and HEAD only; 10 s for a request, 60 s for an answer.
 *
 * The paths are in page_paths.h, what they answer in page_answer.h.
 */
#ifndef LAMPWARDEN_PAGE_H
#define LAMPWARDEN_PAGE_H

#include "snapshot.h"

struct err;
struct page;

enum { PAGE_CONNECTIONS_MAX = 16 };

struct page_setup {
    struct config_page config;
    struct snapshot *snapshot; /* stays the caller's, until page_close returns */
    const char *journal_path;  /* copied; "": none */
    const char *version;       /* lives as long as the page */
};

/* Fails for want of memory or a thread alone. The listener follows at once, from its own thread. */
int page_open(const struct page_setup *setup, struct page **ret, struct err *err);

/* After a reload: the listener follows within a second, where anything has changed or a password's
 * file is to be read again. Does not wait. */
void page_change(struct page *page, const struct config_page *config);

/* Ends the streams and the listener; a thread that hangs in a dead disk is left behind after 2 s.
 * Not on the tick's path. NULL is fine. */
void page_close(struct page *page);

/* "": this program can show the page; else what it was built without. */
const char *page_missing(void);

#endif
