/* SPDX-License-Identifier: Apache-2.0 */
/* Parts of status.h, shared by its files alone. */
#ifndef LAMPWARDEN_STATUS_PARTS_H
#define LAMPWARDEN_STATUS_PARTS_H

#include "status.h"

json_t *status_number(double value); /* null when not finite */

/* Sentences about what is wrong: with one space, and with the daemon and its devices. */
json_t *status_space_faults(const struct picture *picture, int space);
json_t *status_faults(const struct picture *picture);

#endif
