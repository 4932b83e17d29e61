/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The listener of the page and the thread that answers (libmicrohttpd; its only home). Built
 * without that library, page_server_none.c stands in its place.
 */
#ifndef LAMPWARDEN_PAGE_SERVER_H
#define LAMPWARDEN_PAGE_SERVER_H

#include "page_answer.h"

#include <stdint.h>

struct err;
struct page_server;

/* Listens. The sources stay the caller's and must outlive the server. -EADDRINUSE, -EACCES,
 * -ENOTSUP … with a sentence. */
int page_server_start(const struct config_page *config, const struct page_sources *sources,
                      struct page_server **ret, struct err *err);

/* Call about once a second: shuts connections whose time is over, and sends what is new to the live
 * streams. */
void page_server_pulse(struct page_server *server, int64_t real_ns);

/* Ends every connection and the thread; NULL is fine. Waits for an answer that is being made. */
void page_server_stop(struct page_server *server);

#endif
