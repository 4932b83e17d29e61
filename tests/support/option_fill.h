/* SPDX-License-Identifier: Apache-2.0 */
/* Option values for a driver, as the configuration would hand them over, from a short text. */
#ifndef LAMPWARDEN_OPTION_FILL_H
#define LAMPWARDEN_OPTION_FILL_H

#include "driver.h"

enum { OPTION_FILL_MAX = 24 };

struct option_fill {
    struct option_value values[OPTION_FILL_MAX];
    char text[256];
};

/* "register=4 type=f32 scale=0.1"; keys that are absent get the table's fallback. Fails the running
 * test on an unknown key, a value out of the table's range or a missing required key. */
const struct option_value *option_fill(struct option_fill *fill, const struct option *table,
                                       const char *text);

#endif
