/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The control socket: a Unix stream socket on which one line is one request and one line is its
 * answer.
 *
 * Who may: root, the daemon's own user, members of the configured group; asked of the kernel for
 * each connection. Limits: CONTROL_CLIENTS_MAX clients, CONTROL_LINE_MAX bytes a request, one
 * answer at a time; a client that does not read its answer or leaves a line half sent is dropped
 * after 5 s, an idle one after 60 s. Nothing here blocks. Knows no method: see commands.h.
 */
#ifndef LAMPWARDEN_CONTROL_H
#define LAMPWARDEN_CONTROL_H

#include <stddef.h>
#include <stdint.h>

struct control;
struct err;

struct control_setup {
    const char *path;
    const char *group; /* "": nobody beside root and the daemon's own user */
    /* The answer to a line (without its newline) as malloc'ed text without a newline; NULL: none.
     */
    char *(*answer)(void *context, const char *line, size_t size);
    void *context;
};

/* -EADDRINUSE: another process answers there. A group that does not exist is logged and
 * left out. */
int control_open(const struct control_setup *setup, struct control **ret, struct err *err);
void control_close(struct control *control); /* removes the socket; NULL is fine */

/* Readable when there is work for control_dispatch. Times are real time: clients are real. */
int control_fd(const struct control *control);
void control_dispatch(struct control *control, int64_t real_ns);

/* Drops clients whose time is over: call once a second. */
void control_sweep(struct control *control, int64_t real_ns);

#endif
