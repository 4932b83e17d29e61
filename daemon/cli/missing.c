/* SPDX-License-Identifier: Apache-2.0 */
#include "missing.h"

#include "field.h"
#include "words.h"

#include <stdio.h>

#define LEAST_MOL 0.005 /* less is 0.00 */

/* What the lamps alone could not make up any more; the sun may still bring it. */
void missing_print(FILE *out, const json_t *space, double forecast_mol)
{
    const json_t *missing = json_object_get(space, "missing_mol");
    const char *separator = "; out of reach:";
    if (forecast_mol >= field_number(space, "target_mol") - LEAST_MOL) {
        return;
    }
    for (int i = 0; i < LIMITER_COUNT; i++) {
        const double mol = field_number(missing, limiter_name((enum limiter)i));
        if (mol >= LEAST_MOL) {
            (void)fprintf(out, "%s %.2f mol by %s", separator, mol, words_missing((enum limiter)i));
            separator = ",";
        }
    }
}
