/* SPDX-License-Identifier: Apache-2.0 */
/* Why the lamps will do what they are expected to do, in a grower's words. */
#ifndef LAMPWARDEN_OUTLOOK_WORDS_H
#define LAMPWARDEN_OUTLOOK_WORDS_H

#include "outlook.h"

/* "cheap hour", "target met", "waits for a cheaper hour" …; lives for ever. */
const char *outlook_words(const struct outlook_row *row);

#endif
