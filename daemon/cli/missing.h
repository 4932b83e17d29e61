/* SPDX-License-Identifier: Apache-2.0 */
/* What a light day lost for good, for people. */
#ifndef LAMPWARDEN_MISSING_H
#define LAMPWARDEN_MISSING_H

#include <jansson.h>
#include <stdio.h>

/* "; out of reach: 1.90 mol by heat foldback, …" of a space in the daemon's answer, or nothing
 * where forecast_mol meets its target all the same. */
void missing_print(FILE *out, const json_t *space, double forecast_mol);

#endif
