/* SPDX-License-Identifier: Apache-2.0 */
#include "json_out.h"

#include "control_proto.h"

#include <stdio.h>

static bool has_lost;

json_t *json_out_real(double value)
{
    return control_real(value);
}

json_t *json_out_text(const char *text)
{
    return text && text[0] ? control_text(text) : json_null();
}

void json_out_set(json_t *object, const char *key, json_t *value)
{
    has_lost = json_object_set_new(object, key, value) != 0 || has_lost;
}

void json_out_print(json_t *answer)
{
    const int rc = json_dumpf(answer, stdout, JSON_COMPACT | JSON_REAL_PRECISION(9));
    has_lost = rc != 0 || has_lost;
    (void)putchar('\n');
    json_decref(answer);
}

bool json_out_has_lost(void)
{
    return has_lost;
}
