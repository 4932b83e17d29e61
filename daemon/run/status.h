/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The present state as JSON, made from one snapshot. Every field carries its unit in its name; what
 * is not known is null. The operator's command prints it as text.
 */
#ifndef LAMPWARDEN_STATUS_H
#define LAMPWARDEN_STATUS_H

#include "snapshot.h"

#include <jansson.h>

/* space: its index, or −1 for all. NULL: no memory. The caller's to json_decref. */
json_t *status_json(const struct picture *picture, int space);

/* For the service manager: "2 spaces, 143 W, clock synchronised; 1 fault". */
void status_line(const struct picture *picture, char *buffer, size_t size);

/* "night", "dawn", "day", "dusk", "waiting" (before the first stage), "over" (after the last). */
const char *status_phase(const struct space_rules *rules, const struct verdict *verdict);

#endif
