/* SPDX-License-Identifier: Apache-2.0 */
/* The answer of a verb for programs. */
#ifndef LAMPWARDEN_JSON_OUT_H
#define LAMPWARDEN_JSON_OUT_H

#include <jansson.h>
#include <stdbool.h>

json_t *json_out_real(double value);     /* null: not known, or no end to it */
json_t *json_out_text(const char *text); /* null: NULL, or empty; no UTF-8 becomes '?' */

/* Takes over the value; NULL, as jansson gives for a text that is no UTF-8, leaves the key out. */
void json_out_set(json_t *object, const char *key, json_t *value);

/* One line on stdout, numbers to nine digits. Takes over the answer. */
void json_out_print(json_t *answer);

/* Something of the answers so far is missing: there was no memory, or a text was no UTF-8. No
 * program should take such an answer for a whole one: main ends with VERB_FAILED. */
bool json_out_has_lost(void);

#endif
