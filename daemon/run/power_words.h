/* SPDX-License-Identifier: Apache-2.0 */
/* The supply that all lamps share, in sentences. */
#ifndef LAMPWARDEN_POWER_WORDS_H
#define LAMPWARDEN_POWER_WORDS_H

#include "config.h"
#include "powerplan.h"

#include <stddef.h>

#define POWER_WORDS_MAX 256

/* "412 of 600 W"; where it binds also which of the limits does, and what that means. "" where
 * nothing is shared. */
void power_words_now(const struct powerplan_view *view, const char *currency, char *buffer,
                     size_t size);

/* What the configuration's limit means for its lamps; "" without one. */
void power_words_limit(const struct config *config, char *buffer, size_t size);

#endif
