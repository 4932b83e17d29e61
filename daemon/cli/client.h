/* SPDX-License-Identifier: Apache-2.0 */
/* One question to the running daemon over its control socket, and its answer. */
#ifndef LAMPWARDEN_CLIENT_H
#define LAMPWARDEN_CLIENT_H

#include "control_proto.h"

#include <jansson.h>
#include <stdbool.h>

struct err;

#define CLIENT_DEFAULT_SOCKET "/run/lampwarden/control"

/* The params of a method that may name a space; NULL: all of them. A name that is no UTF-8 stays
 * one that there is not, instead of none. */
static inline json_t *client_space(const char *space)
{
    return space ? json_pack("{s:o}", "space", control_text(space)) : NULL;
}

/* Takes over params (NULL: none). 0 and *ret_result (the caller's to json_decref). -ECONNREFUSED,
 * -ENOENT: no daemon there; -EACCES: not allowed; -EREMOTEIO: the daemon refused, in its own words;
 * -ETIMEDOUT after 10 s. */
int client_ask(const char *socket_path, const char *method, json_t *params, json_t **ret_result,
               struct err *err);

/* The same for a verb whose answer is a sentence: prints it, or with wants_json the object. Returns
 * an enum verb_exit. */
int client_tell(const char *verb, const char *socket_path, json_t *params, bool wants_json);

#endif
