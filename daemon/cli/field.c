/* SPDX-License-Identifier: Apache-2.0 */
#include "field.h"

#include <math.h>
#include <string.h>

double field_number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    return json_is_number(value) ? json_number_value(value) : (double)NAN;
}

const char *field_text(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text ? text : "";
}

bool field_true(const json_t *object, const char *key)
{
    return json_is_true(json_object_get(object, key));
}

json_t *field_find(const json_t *array, const char *key, const char *wanted)
{
    size_t i;
    json_t *each;
    json_array_foreach(array, i, each)
    {
        const char *text = json_string_value(json_object_get(each, key));
        if (text && strcmp(text, wanted) == 0) {
            return each;
        }
    }
    return NULL;
}
