/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Who is let in to the page: by which name this computer may be called, and the password.
 *
 * A page of a stranger can make a browser ask this computer under the stranger's own name (DNS
 * rebinding) and read the answer; the Host header tells on it (RFC 9110, 7.2; 15.5.20: 421). The
 * password is HTTP Basic (RFC 7617).
 */
#ifndef LAMPWARDEN_PAGE_GUARD_H
#define LAMPWARDEN_PAGE_GUARD_H

#include "config.h"

#include <stdbool.h>

struct err;

enum page_reach {
    PAGE_REACH_NONE,     /* no IP address */
    PAGE_REACH_LOOPBACK, /* this computer alone */
    PAGE_REACH_ONE,      /* one of its addresses */
    PAGE_REACH_ALL,      /* all of them */
};
enum page_reach page_reach(const char *address);

/* NULL, a foreign name, or no name at all: false. Ports do not matter: a tunnel has its own. */
bool page_host_is_ours(const struct config_page *config, const char *host);

#define PAGE_SECRET_MAX 384

struct page_secret {
    char token[PAGE_SECRET_MAX]; /* name:password in base64; "": everybody may look */
};

/* From a file of one line, name:password. -EACCES: others may read it; -EINVAL: not of that form.
 * Path "": everybody may look. */
int page_secret_read(const char *path, struct page_secret *ret, struct err *err);

/* The Authorization header, NULL without one. Takes as long for a wrong one as for the right one.
 */
bool page_secret_fits(const struct page_secret *secret, const char *authorization);

/* Wrong passwords within a minute: above PAGE_TRIES_MAX none is looked at until the minute is over,
 * so that guessing is slow. Who knows the right one waits with them; the light does not. */
enum { PAGE_TRIES_MAX = 20 };

struct page_tries {
    int64_t since_ns; /* real time */
    int count;
};

bool page_tries_are_left(struct page_tries *tries, int64_t real_ns);
/* One was wrong. True: it was the last that will be looked at. */
bool page_tries_note(struct page_tries *tries);

/* RFC 4648, 4. ret has room for 4 · ⌈size / 3⌉ + 1. */
void page_base64(const unsigned char *bytes, size_t size, char *ret);

#endif
