/* SPDX-License-Identifier: Apache-2.0 */
#include "listing.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

void listing_add(struct listing *listing, const char *format, ...)
{
    char entry[LISTING_MAX];
    va_list args;
    va_start(args, format);
    int length = vsnprintf(entry, sizeof entry, format, args);
    va_end(args);
    if (length < 0) {
        return;
    }
    size_t room = sizeof listing->text - listing->used;
    int whole =
        snprintf(listing->text + listing->used, room, "%s%s", listing->used ? ", " : "", entry);
    if (whole > 0) {
        listing->used += (size_t)whole < room ? (size_t)whole : room - 1;
    }
}

const char *listing_text(const struct listing *listing)
{
    return listing->used ? listing->text : "nothing";
}
