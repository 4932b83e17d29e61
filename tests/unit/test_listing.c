/* SPDX-License-Identifier: Apache-2.0 */
#include "listing.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void joins_entries(void **state)
{
    (void)state;
    struct listing listing = {.used = 0};
    assert_string_equal(listing_text(&listing), "nothing");
    listing_add(&listing, "gpiochip%d", 0);
    assert_string_equal(listing_text(&listing), "gpiochip0");
    listing_add(&listing, "%s", "gpiochip1");
    assert_string_equal(listing_text(&listing), "gpiochip0, gpiochip1");
}

static void is_cut_at_its_end(void **state)
{
    (void)state;
    struct listing listing = {.used = 0};
    for (int i = 0; i < 1000; i++) {
        listing_add(&listing, "entry %d", i);
    }
    assert_int_equal(strlen(listing_text(&listing)), LISTING_MAX - 1);
    char longer[2 * LISTING_MAX];
    memset(longer, 'x', sizeof longer - 1);
    longer[sizeof longer - 1] = '\0';
    listing = (struct listing){.used = 0};
    listing_add(&listing, "%s", longer);
    listing_add(&listing, "%s", longer);
    assert_int_equal(strlen(listing_text(&listing)), LISTING_MAX - 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(joins_entries),
        cmocka_unit_test(is_cut_at_its_end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
