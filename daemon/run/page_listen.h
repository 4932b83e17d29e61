/* SPDX-License-Identifier: Apache-2.0 */
/* The listening socket of the page. */
#ifndef LAMPWARDEN_PAGE_LISTEN_H
#define LAMPWARDEN_PAGE_LISTEN_H

struct err;

/* address: IPv4 or IPv6. Returns the socket; -EADDRINUSE, -EADDRNOTAVAIL, -EACCES, -EINVAL … with a
 * sentence. */
int page_listen(const char *address, int port, struct err *err);

/* What a client's socket gets: an end for peers that have vanished, and for a stream a small
 * buffer, so that one that does not read is noticed soon. */
void page_listen_tune(int fd);
void page_listen_tune_stream(int fd);

/* No more bytes either way: its owner's next look at it ends the connection. */
void page_listen_shut(int fd);

#endif
