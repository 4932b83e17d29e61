/* SPDX-License-Identifier: Apache-2.0 */
/* What programs read: strangers' texts stay JSON, and what is lost is known. */
#include "json_out.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

static void values_that_json_lacks_become_null(void **state)
{
    (void)state;
    json_t *object = json_object();
    json_out_set(object, "nan", json_out_real((double)NAN));
    json_out_set(object, "endless", json_out_real((double)INFINITY));
    json_out_set(object, "empty", json_out_text(""));
    json_out_set(object, "none", json_out_text(NULL));
    json_out_set(object, "latin", json_out_text("L\xE4mp"));
    assert_true(json_is_null(json_object_get(object, "nan")));
    assert_true(json_is_null(json_object_get(object, "endless")));
    assert_true(json_is_null(json_object_get(object, "empty")));
    assert_true(json_is_null(json_object_get(object, "none")));
    assert_string_equal(json_string_value(json_object_get(object, "latin")), "L?mp");
    json_decref(object);
    assert_false(json_out_has_lost());
}

/* Behind the one above: it stays so. */
static void a_lost_key_is_noticed(void **state)
{
    (void)state;
    json_t *object = json_object();
    json_out_set(object, "lost", json_string("\xFF"));
    assert_true(json_out_has_lost());
    json_decref(object);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(values_that_json_lacks_become_null),
        cmocka_unit_test(a_lost_key_is_noticed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
