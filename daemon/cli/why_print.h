/* SPDX-License-Identifier: Apache-2.0 */
/* An explanation (run/why.h) as a page for people. */
#ifndef LAMPWARDEN_WHY_PRINT_H
#define LAMPWARDEN_WHY_PRINT_H

#include <jansson.h>
#include <stdio.h>

void why_print(FILE *out, const json_t *space);

#endif
