/* SPDX-License-Identifier: Apache-2.0 */
/* From an answer to a response of the library, and from a request to what keeps it out. Of
 * page_server.c alone. */
#ifndef LAMPWARDEN_PAGE_SERVER_REPLY_H
#define LAMPWARDEN_PAGE_SERVER_REPLY_H

#include "page_answer.h"
#include "page_guard.h"

struct MHD_Connection;
struct MHD_Response;

struct page_door {
    struct config_page config;
    struct page_secret secret;
    struct page_tries tries;
};

/* 0: the request may be answered; else the status of a refusal with its sentence. */
int page_reply_stranger(struct MHD_Connection *connection, struct page_door *door,
                        const char *method, const char **ret_sentence);

/* What every response carries. */
void page_reply_headers(struct MHD_Response *response, const char *type, bool may_keep);

/* Takes over the answer's text. False: the connection is to be ended. */
bool page_reply(struct MHD_Connection *connection, struct page_answer *answer);
bool page_reply_refusal(struct MHD_Connection *connection, const struct page_request *request,
                        int status, const char *sentence);

#endif
