/* SPDX-License-Identifier: Apache-2.0 */
/* "what there is", for messages: entries with commas between them, cut at the end when they are too
 * many. */
#ifndef LAMPWARDEN_LISTING_H
#define LAMPWARDEN_LISTING_H

#include <stddef.h>

#define LISTING_MAX 360 /* leaves room for the rest of a struct err */

struct listing { /* zero is empty */
    char text[LISTING_MAX];
    size_t used;
};

void listing_add(struct listing *listing, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* The entries, or "nothing". */
const char *listing_text(const struct listing *listing);

#endif
