/* SPDX-License-Identifier: Apache-2.0 */
/* Fields of the daemon's answers, which may be absent or null. What is given back belongs to the
 * answer. */
#ifndef LAMPWARDEN_FIELD_H
#define LAMPWARDEN_FIELD_H

#include <jansson.h>
#include <stdbool.h>

double field_number(const json_t *object, const char *key);    /* NaN: not there */
const char *field_text(const json_t *object, const char *key); /* "": not there */
bool field_true(const json_t *object, const char *key);        /* there, and true */

/* The first object of an array whose field `key` is that text; NULL: none. */
json_t *field_find(const json_t *array, const char *key, const char *wanted);

#endif
