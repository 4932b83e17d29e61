/* SPDX-License-Identifier: Apache-2.0 */
/* The parts of `lampwarden sense`, for its own files alone. */
#ifndef LAMPWARDEN_SENSE_PARTS_H
#define LAMPWARDEN_SENSE_PARTS_H

#include "err.h"

#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#define SENSE_NAME      "sense"
#define SENSE_WORDS_MAX 96

struct sense_request {
    const char *socket_path;
    const char *config_path; /* NULL: ask the daemon */
    const char *scan_bus;    /* NULL: list the sensors */
    int from, to;
    bool wants_json;
    char **names; /* of the sensors that are wanted; all when name_count is 0 */
    int name_count;
};

/* sense.c: tells what is asked for of the sensors of sense.h; VERB_FAILED when all are lost. */
int sense_tell(const struct sense_request *request, const json_t *sensors);
/* The daemon could not be asked; code: of client_ask. Returns VERB_FAILED. */
int sense_unasked(int code, const struct err *err);

/* sense_table.c: at most 100 columns. */
void sense_table_print(const json_t *sensors, FILE *out);

/* sense_alone.c: without a daemon. */
int sense_alone_list(const struct sense_request *request);
int sense_alone_scan(const struct sense_request *request);

/* sense_scan.c: through the daemon; and what both kinds of scan print. */
int sense_scan(const struct sense_request *request);
struct sense_progress {
    const struct sense_request *request;
    int next;      /* the address that is asked next */
    json_t *found; /* so far: {address, garbled, words} */
    bool is_shown; /* a line of progress stands on the terminal */
};
void sense_scan_begin(struct sense_progress *progress, const struct sense_request *request);
void sense_scan_found(struct sense_progress *progress, json_t *found); /* takes it over */
void sense_scan_at(struct sense_progress *progress, int next, const char *waits_for);
/* reason: why it ended early, or NULL. Returns an enum verb_exit. */
int sense_scan_finish(struct sense_progress *progress, const char *reason);

#endif
