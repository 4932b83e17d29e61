/* SPDX-License-Identifier: Apache-2.0 */
#include "json_out.h"

#include <math.h>
#include <stdio.h>

json_t *json_out_real(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

json_t *json_out_text(const char *text)
{
    return text && text[0] ? json_string(text) : json_null();
}

void json_out_set(json_t *object, const char *key, json_t *value)
{
    (void)json_object_set_new(object, key, value); /* fails only without memory */
}

void json_out_print(json_t *answer)
{
    (void)json_dumpf(answer, stdout, JSON_COMPACT | JSON_REAL_PRECISION(9));
    (void)putchar('\n');
    json_decref(answer);
}
