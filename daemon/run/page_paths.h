/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What can be asked of the page: the table of its paths and their parameters.
 *
 *   /                             the page, with a summary that needs no JavaScript
 *   /NAME.css /NAME.js            its own files; dygraph.css, dygraph.js: the charts' library
 *   /status.json                  as `lampwarden status --json`
 *   /plan.json?space=S            as `lampwarden plan --json`
 *   /day.json?space=S&day=D       as `lampwarden day --json`; without day: the running one
 *   /minutes.json?space=S&day=D   see page_journal.h
 *   /days.json?space=S&count=N    as `lampwarden days --json`, of finished days
 *   /why.json?space=S&time=T      as `lampwarden why T --json`; without time: the newest minute
 *   /nights.json?space=S&count=N  as `lampwarden nights --json`
 *   /events.json?space=S&day=D    as `lampwarden events --json`, in a list; without space: of
 *                                 all; without day: of seven days
 *   /live                         text/event-stream, see page_live.h
 *   /metrics                      for Prometheus, see metrics.h
 *
 * A path and its parameters come from strangers: whole and in the right form, or refused with a
 * sentence that names the parameter and what it may be.
 */
#ifndef LAMPWARDEN_PAGE_PATHS_H
#define LAMPWARDEN_PAGE_PATHS_H

#include "config.h"

#include <stdbool.h>
#include <stdint.h>

struct err;

enum page_what {
    PAGE_INDEX,
    PAGE_FILE,
    PAGE_STATUS,
    PAGE_PLAN,
    PAGE_DAY,
    PAGE_MINUTES,
    PAGE_DAYS,
    PAGE_EVENTS,
    PAGE_NIGHTS,
    PAGE_WHY,
    PAGE_LIVE,
    PAGE_METRICS,
};

struct page_path {
    const char *path;
    enum page_what what;
    const char *params; /* the known ones, between spaces */
    bool needs_space;
};

extern const struct page_path page_paths[]; /* ended by a row without a path */

enum {
    PAGE_COUNT_USUAL = 30,
    PAGE_COUNT_MAX = 400,
    PAGE_TARGET_MAX = 512,
    PAGE_NAME_MAX = 32,
    PAGE_TIME_MAX = 40
};

struct page_request {
    const struct page_path *path; /* NULL: not known */
    char file[PAGE_NAME_MAX];     /* PAGE_FILE: "page.css" */
    char space[CONFIG_NAME_MAX];  /* "": not given */
    bool has_day;
    int64_t day; /* days since 1970-01-01 */
    int count;
    char time[PAGE_TIME_MAX]; /* as why_time.h reads it; "": not given */
};

/* The target of a request line as it came, "/day.json?space=a&day=2026-11-02". 0, -ENOENT (no such
 * path) or -EINVAL, each with a sentence. *ret holds what was understood, in any case. */
int page_parse(const char *target, struct page_request *ret, struct err *err);

#endif
