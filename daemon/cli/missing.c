/* SPDX-License-Identifier: Apache-2.0 */
#include "missing.h"

#include "field.h"

#include <stdio.h>

#define LEAST_MOL 0.005 /* less is 0.00 */

/* What the lamps alone could not make up any more; the sun may still bring it. */
void missing_print(const json_t *space, double forecast_mol)
{
    const char *key;
    json_t *value;
    const char *separator = "; out of reach:";
    if (forecast_mol >= field_number(space, "target_mol") - LEAST_MOL) {
        return;
    }
    json_object_foreach(json_object_get(space, "missing_mol"), key, value)
    {
        if (json_number_value(value) >= LEAST_MOL) {
            (void)printf("%s %.2f mol by %s", separator, json_number_value(value), key);
            separator = ",";
        }
    }
}
