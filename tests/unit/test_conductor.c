/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Copper of the two tables. Table values: NFPA 70 (NEC) 2020, chapter 9, table 8, and IEC 60228;
 * factors of temperature of IEC 60228, its table of Kt; the NEC's coefficient from memory.
 */
#include "conductor.h"

#include "err.h"
#include "near.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

static double ohm_per_m(enum conductor_make make, double size, double temperature_c)
{
    double ret = -1;
    const struct conductor conductor = {make, size};
    assert_int_equal(conductor_ohm_per_m(&conductor, temperature_c, &ret, NULL), 0);
    return ret;
}

static void tables_at_their_own_temperature(void **state)
{
    (void)state;
    assert_near(ohm_per_m(CONDUCTOR_AWG_STRANDED, 14, 75) * 304.8, 3.14, 1e-12);
    assert_near(ohm_per_m(CONDUCTOR_AWG_SOLID, 18, 75) * 304.8, 7.77, 1e-12);
    assert_near(ohm_per_m(CONDUCTOR_AWG_STRANDED, 8, 75) * 304.8, 0.778, 1e-12);
    assert_near(ohm_per_m(CONDUCTOR_MM2_FLEXIBLE, 1.5, 20) * 1000, 13.3, 1e-12);
    assert_near(ohm_per_m(CONDUCTOR_MM2_RIGID, 2.5, 20) * 1000, 7.41, 1e-12);
    assert_near(ohm_per_m(CONDUCTOR_MM2_FLEXIBLE, 10, 20) * 1000, 1.91, 1e-12);
}

/* Kt of IEC 60228, to its three digits; and the NEC's 20 °C is 82.2 of 100 of its 75 °C. */
static void moved_by_temperature(void **state)
{
    (void)state;
    static const struct {
        double temperature_c, kt;
    } factors[] = {{25, 0.980}, {40, 0.926}, {60, 0.862}, {75, 0.820}};
    for (size_t i = 0; i < sizeof factors / sizeof factors[0]; i++) {
        const double there = ohm_per_m(CONDUCTOR_MM2_RIGID, 4, factors[i].temperature_c);
        assert_near(4.61e-3 / there, factors[i].kt, 0.0005);
    }
    const double cold = ohm_per_m(CONDUCTOR_AWG_SOLID, 12, 20);
    assert_near(cold / ohm_per_m(CONDUCTOR_AWG_SOLID, 12, 75), 0.822, 0.0005);
}

/* From the resistivity of annealed copper, 0.017241 Ω mm²/m at 20 °C (IEC 60028), and the sections
 * of 14 and 18 AWG, 2.0809 and 0.8231 mm² (ASTM B258, from memory): the tables agree within 2 %. */
static void copper_is_copper(void **state)
{
    (void)state;
    assert_near(ohm_per_m(CONDUCTOR_AWG_SOLID, 14, 20), 0.017241 / 2.0809, 0.02 * 0.0083);
    assert_near(ohm_per_m(CONDUCTOR_AWG_SOLID, 18, 20), 0.017241 / 0.8231, 0.02 * 0.0209);
}

static void what_the_tables_do_not_have(void **state)
{
    (void)state;
    struct err err;
    double ohm = 7;
    const struct conductor odd = {CONDUCTOR_AWG_STRANDED, 15};
    assert_int_equal(conductor_ohm_per_m(&odd, 20, &ohm, &err), -ENOENT);
    assert_string_equal(err.text,
                        "15 AWG is no size of NEC chapter 9 table 8 (18, 16, 14, 12, 10, 8)");
    const struct conductor thick = {CONDUCTOR_MM2_RIGID, 16};
    assert_int_equal(conductor_ohm_per_m(&thick, 20, &ohm, &err), -ENOENT);
    assert_non_null(strstr(err.text, "0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10"));
    const struct conductor good = {CONDUCTOR_MM2_RIGID, 1};
    assert_int_equal(conductor_ohm_per_m(&good, 121, &ohm, &err), -ERANGE);
    assert_string_equal(err.text, "conductor temperature 121 is out of range (-40 … 120, °C)");
    assert_near(ohm, 7, 0);
}

static void thicker_resists_less(void **state)
{
    (void)state;
    for (int make = CONDUCTOR_AWG_SOLID; make <= CONDUCTOR_MM2_FLEXIBLE; make++) {
        double sizes[CONDUCTOR_SIZES_MAX];
        const int count = conductor_sizes((enum conductor_make)make, sizes);
        assert_true(count >= 6);
        for (int i = 1; i < count; i++) {
            assert_true(ohm_per_m((enum conductor_make)make, sizes[i], 30) <
                        ohm_per_m((enum conductor_make)make, sizes[i - 1], 30));
        }
    }
}

static void names(void **state)
{
    (void)state;
    char name[32];
    conductor_name(&(struct conductor){CONDUCTOR_MM2_FLEXIBLE, 0.75}, name, sizeof name);
    assert_string_equal(name, "0.75 mm² flexible");
    conductor_name(&(struct conductor){CONDUCTOR_AWG_SOLID, 14}, name, sizeof name);
    assert_string_equal(name, "14 AWG solid");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(tables_at_their_own_temperature),
        cmocka_unit_test(moved_by_temperature),
        cmocka_unit_test(copper_is_copper),
        cmocka_unit_test(what_the_tables_do_not_have),
        cmocka_unit_test(thicker_resists_less),
        cmocka_unit_test(names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
