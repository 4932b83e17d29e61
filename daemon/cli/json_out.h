/* SPDX-License-Identifier: Apache-2.0 */
/* The answer of a verb for programs. */
#ifndef LAMPWARDEN_JSON_OUT_H
#define LAMPWARDEN_JSON_OUT_H

#include <jansson.h>

json_t *json_out_real(double value);     /* null: not known, or no end to it */
json_t *json_out_text(const char *text); /* null: NULL, or empty */

/* Takes over the value. */
void json_out_set(json_t *object, const char *key, json_t *value);

/* One line on stdout, numbers to nine digits. Takes over the answer. */
void json_out_print(json_t *answer);

#endif
