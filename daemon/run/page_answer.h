/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the page answers to a request: a text, from the snapshot, the journal or a file. No HTTP
 * library here, and no clock; may wait for the journal, up to its reader's patience of 1 s a
 * question, so not for the tick's thread.
 */
#ifndef LAMPWARDEN_PAGE_ANSWER_H
#define LAMPWARDEN_PAGE_ANSWER_H

#include "page_files.h"
#include "page_paths.h"
#include "snapshot.h"

#include <stdatomic.h>
#include <stdbool.h>

struct page_sources {
    struct snapshot *snapshot;
    char journal_path[256]; /* "": none */
    const char *version;
    struct page_files files;
    /* Nobody waits for answers any more: the journal is not read on, and the snapshot, which may
     * be gone, not looked at. */
    atomic_bool is_over;
};

struct page_answer {
    int status; /* of HTTP */
    const char *type;
    const char *text; /* size bytes: */
    char *owned;      /* … these, free() them, or NULL: it lives as long as the sources */
    size_t size;
    const char *tag; /* may be kept under this tag; NULL: must not be kept */
};

/* Everything but PAGE_LIVE. code and err are page_parse's. */
void page_answer(const struct page_sources *sources, const struct page_request *request, int code,
                 const struct err *err, struct page_answer *ret);

/* A refusal: {"error": sentence}, or the sentence alone for who did not ask for JSON. */
void page_refuse(const struct page_request *request, int status, const char *sentence,
                 struct page_answer *ret);

/* The status as one line of JSON; malloc'ed. NULL: not yet, or no memory. */
char *page_status_text(const struct page_sources *sources);

#endif
