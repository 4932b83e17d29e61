/* SPDX-License-Identifier: Apache-2.0 */
/* A share as people write it. */
#ifndef LAMPWARDEN_LEVEL_WORD_H
#define LAMPWARDEN_LEVEL_WORD_H

struct err;

/* "40%" or "0.4" → 0.4. 0, or -EINVAL with the allowed range. */
int level_word(const char *text, double *ret, struct err *err);

#endif
