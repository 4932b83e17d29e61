/* SPDX-License-Identifier: Apache-2.0 */
/* Comments of the documented example. */
#ifndef LAMPWARDEN_CONFIG_DOCUMENT_H
#define LAMPWARDEN_CONFIG_DOCUMENT_H

#include "schema.h"

#include <stdio.h>

#define DOCUMENT_LINE_MAX 512
#define DOCUMENT_RULE     "-----------------------------------------------------------------"

/* Wrapped behind "# " at the depth; following lines begin with `hang`. */
void document_comment(FILE *out, int depth, const char *hang, const char *text);

/* "0 … 24, h; default 16.0" */
void document_facts(const struct key *key, char *buffer, unsigned size);

void document_head(FILE *out);

/* Tables that `known` has too are only named. */
void document_driver(FILE *out, const struct driver *driver, const struct driver *known);

#endif
