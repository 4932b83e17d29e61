/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The control protocol: JSON-RPC 2.0 (jsonrpc.org, specification of 2013), one object a line, no
 * batches. Used by the daemon and by the operator's command.
 */
#ifndef LAMPWARDEN_CONTROL_PROTO_H
#define LAMPWARDEN_CONTROL_PROTO_H

#include <jansson.h>
#include <stdbool.h>
#include <stddef.h>

struct err;

enum control_limits {
    CONTROL_LINE_MAX = 8192, /* bytes of a request */
    CONTROL_DEPTH_MAX = 16,  /* of its nesting */
    CONTROL_CLIENTS_MAX = 8,
    CONTROL_REPLY_MAX = 4 * 1024 * 1024, /* bytes of an answer */
};

enum control_code {
    CONTROL_OK = 0,
    CONTROL_PARSE_ERROR = -32700,
    CONTROL_INVALID_REQUEST = -32600,
    CONTROL_UNKNOWN_METHOD = -32601,
    CONTROL_INVALID_PARAMS = -32602,
    CONTROL_REFUSED = -32001, /* understood and not done; the sentence says why */
    CONTROL_FAILED = -32002,
    CONTROL_BUSY = -32003, /* not yet: the same question is answered a moment later */
};

struct control_call {
    json_t *root;
    json_t *id; /* part of root; NULL: a notification, which gets no answer */
    const char *method;
    json_t *params; /* part of root, an object; NULL: none */
};

/* On success the caller frees with control_call_finish. On failure *ret holds the id if there was
 * one. */
enum control_code control_parse(const char *line, size_t size, struct control_call *ret,
                                struct err *err);
void control_call_finish(struct control_call *call);

enum { CONTROL_TEXT_MAX = 512 };

/* A sentence as JSON takes it, in UTF-8 (RFC 8259, 8.1): one that was cut within a character ends
 * with
 * '?' and is not lost. At most CONTROL_TEXT_MAX bytes of such a one. NULL for NULL. */
json_t *control_text(const char *text);

/* A number as JSON takes it, which knows no NaN and no end: null for one that is not finite. */
json_t *control_real(double value);

/* One line without its newline, malloc'ed; NULL: no memory. control_result takes over `result`. id
 * may be NULL. */
char *control_result(const json_t *id, json_t *result);
char *control_error(const json_t *id, enum control_code code, const char *sentence);

/* The client's side: a request line with its newline; takes over params (NULL: none). */
char *control_request(const char *method, json_t *params);
/* Takes an answer apart: 0 and *ret_result (the caller's), or -EREMOTEIO with the daemon's
 * sentence, or -EPROTO. */
int control_answer(const char *line, size_t size, json_t **ret_result, struct err *err);

#endif
