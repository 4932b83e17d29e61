/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_value.h"

#include "near.h"
#include "prng.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

/* The bytes of IEEE 754 single precision (π 40490FDB, 500.0 43FA0000, 250.75 437AC000, 1234.5
 * 449A5000, 123456.0 47F12000; calculated from the standard's format), cut into registers that are
 * big-endian each (Modbus Messaging on TCP/IP Implementation Guide V1.0b, 4.2). */
static void floats_in_four_orders(void **state)
{
    (void)state;
    static const struct {
        enum modbus_order order;
        uint16_t words[2];
        double value, tolerance;
    } cases[] = {
        {MODBUS_ABCD, {0x4049, 0x0FDB}, 3.1415927, 1e-6},
        {MODBUS_CDAB, {0x0FDB, 0x4049}, 3.1415927, 1e-6},
        {MODBUS_BADC, {0x4940, 0xDB0F}, 3.1415927, 1e-6},
        {MODBUS_DCBA, {0xDB0F, 0x4940}, 3.1415927, 1e-6},
        {MODBUS_ABCD, {0x43FA, 0x0000}, 500.0, 0},
        {MODBUS_ABCD, {0x437A, 0xC000}, 250.75, 0},
        {MODBUS_ABCD, {0x449A, 0x5000}, 1234.5, 0},
        {MODBUS_ABCD, {0x47F1, 0x2000}, 123456.0, 0},
        /* A wrong order gives plausible nonsense: −2.00412 passes every usual range. */
        {MODBUS_CDAB, {0x437A, 0xC000}, -2.00412, 1e-5},
        {MODBUS_CDAB, {0x43FA, 0x0000}, 2.4385e-41, 1e-44},
        {MODBUS_CDAB, {0x449A, 0x5000}, 8.6079e9, 1e5},
        {MODBUS_CDAB, {0x47F1, 0x2000}, 1.0866e-19, 1e-22},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct modbus_format format = {.type = MODBUS_F32, .order = cases[i].order, .scale = 1};
        assert_near(modbus_value_decode(&format, cases[i].words), cases[i].value,
                    cases[i].tolerance);
    }
}

static void integers(void **state)
{
    (void)state;
    static const struct {
        enum modbus_type type;
        enum modbus_order order;
        uint16_t words[2];
        double raw;
    } cases[] = {
        {MODBUS_U16, MODBUS_ABCD, {0x1234, 0}, 0x1234},
        {MODBUS_U16, MODBUS_CDAB, {0x1234, 0}, 0x1234},
        {MODBUS_U16, MODBUS_BADC, {0x1234, 0}, 0x3412},
        {MODBUS_U16, MODBUS_DCBA, {0x1234, 0}, 0x3412},
        {MODBUS_U16, MODBUS_ABCD, {0xFFFE, 0}, 65534},
        {MODBUS_S16, MODBUS_ABCD, {0xFFFE, 0}, -2},
        {MODBUS_S16, MODBUS_BADC, {0xFEFF, 0}, -2},
        {MODBUS_U32, MODBUS_ABCD, {0x0001, 0x0002}, 65538},
        {MODBUS_U32, MODBUS_CDAB, {0x0002, 0x0001}, 65538},
        {MODBUS_U32, MODBUS_BADC, {0x0100, 0x0200}, 65538},
        {MODBUS_U32, MODBUS_DCBA, {0x0200, 0x0100}, 65538},
        {MODBUS_U32, MODBUS_ABCD, {0xFFFF, 0xFFFE}, 4294967294.0},
        {MODBUS_S32, MODBUS_ABCD, {0xFFFF, 0xFFFE}, -2},
        {MODBUS_S32, MODBUS_CDAB, {0xFFFE, 0xFFFF}, -2},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct modbus_format format = {
            .type = cases[i].type, .order = cases[i].order, .scale = 0.5, .offset = 3};
        assert_near(modbus_value_decode(&format, cases[i].words), cases[i].raw * 0.5 + 3, 1e-9);
    }
    assert_int_equal(modbus_value_words(MODBUS_U16), 1);
    assert_int_equal(modbus_value_words(MODBUS_S16), 1);
    assert_int_equal(modbus_value_words(MODBUS_U32), 2);
    assert_int_equal(modbus_value_words(MODBUS_S32), 2);
    assert_int_equal(modbus_value_words(MODBUS_F32), 2);
}

/* Light sensors that send tenths in one register: negative around zero, unsigned above 3276.7, and
 * the same raw values are other makers' "no reading" (common practice, no source; numbers
 * calculated). */
static void tenths_and_sentinels(void **state)
{
    (void)state;
    static const struct {
        uint16_t raw;
        enum modbus_type type;
        enum modbus_sentinels sentinels;
        bool small_negatives;
        double value; /* NaN: no reading */
    } cases[] = {
        {0xFFFD, MODBUS_U16, MODBUS_SENTINELS_LIMITS, true, -0.3},
        {0xFF9C, MODBUS_U16, MODBUS_SENTINELS_LIMITS, true, -10.0},
        {0xFF9B, MODBUS_U16, MODBUS_SENTINELS_LIMITS, true, 6543.5},
        {0xFFFF, MODBUS_U16, MODBUS_SENTINELS_LIMITS, true, -0.1},
        {0xFFFF, MODBUS_U16, MODBUS_SENTINELS_ALL, true, (double)NAN},
        {0xFFFD, MODBUS_U16, MODBUS_SENTINELS_LIMITS, false, 6553.3},
        {0x8000, MODBUS_U16, MODBUS_SENTINELS_NONE, true, 3276.8},
        {0x8000, MODBUS_U16, MODBUS_SENTINELS_LIMITS, true, (double)NAN},
        {0x7FFF, MODBUS_U16, MODBUS_SENTINELS_NONE, true, 3276.7},
        {0x7FFF, MODBUS_U16, MODBUS_SENTINELS_LIMITS, true, (double)NAN},
        {0x7FFE, MODBUS_U16, MODBUS_SENTINELS_ALL, true, 3276.6},
        {0xFFFF, MODBUS_S16, MODBUS_SENTINELS_LIMITS, false, -0.1},
        {0xFFFF, MODBUS_S16, MODBUS_SENTINELS_ALL, false, (double)NAN},
        {0x8000, MODBUS_S16, MODBUS_SENTINELS_LIMITS, false, (double)NAN},
        {0xD8F1, MODBUS_S16, MODBUS_SENTINELS_LIMITS, false, (double)NAN}, /* −9999 */
        {0xD8F1, MODBUS_S16, MODBUS_SENTINELS_NONE, false, -999.9},
        {0xD8F1, MODBUS_U16, MODBUS_SENTINELS_LIMITS, false, 5553.7},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct modbus_format format = {.type = cases[i].type,
                                       .sentinels = cases[i].sentinels,
                                       .small_negatives = cases[i].small_negatives,
                                       .scale = 0.1};
        double value = modbus_value_decode(&format, &cases[i].raw);
        if (isnan(cases[i].value)) {
            assert_true(isnan(value));
        } else {
            assert_near(value, cases[i].value, 1e-9);
        }
    }
}

static void wide_sentinels(void **state)
{
    (void)state;
    static const struct {
        enum modbus_type type;
        uint16_t words[2];
        enum modbus_sentinels sentinels;
        bool is_reading;
    } cases[] = {
        {MODBUS_U32, {0x7FFF, 0xFFFF}, MODBUS_SENTINELS_LIMITS, false},
        {MODBUS_S32, {0x8000, 0x0000}, MODBUS_SENTINELS_LIMITS, false},
        {MODBUS_U32, {0xFFFF, 0xFFFF}, MODBUS_SENTINELS_LIMITS, true},
        {MODBUS_U32, {0xFFFF, 0xFFFF}, MODBUS_SENTINELS_ALL, false},
        {MODBUS_S32, {0xFFFF, 0xD8F1}, MODBUS_SENTINELS_LIMITS, false},
        {MODBUS_F32, {0xC61C, 0x3C00}, MODBUS_SENTINELS_LIMITS, false}, /* −9999.0 */
        {MODBUS_F32, {0xC61C, 0x3C00}, MODBUS_SENTINELS_NONE, true},
        {MODBUS_F32, {0x7FC0, 0x0000}, MODBUS_SENTINELS_NONE, false}, /* not a number */
        {MODBUS_F32, {0x8000, 0x0000}, MODBUS_SENTINELS_ALL, true},   /* −0.0 */
        {MODBUS_F32, {0x0000, 0x8000}, MODBUS_SENTINELS_ALL, true},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct modbus_format format = {
            .type = cases[i].type, .sentinels = cases[i].sentinels, .scale = 1};
        assert_int_equal(!isnan(modbus_value_decode(&format, cases[i].words)), cases[i].is_reading);
    }
}

static void drives(void **state)
{
    (void)state;
    static const struct {
        struct modbus_span span;
        double drive;
        uint16_t raw;
    } cases[] = {
        {{0, 10000}, 0, 0},
        {{0, 10000}, 1, 10000},
        {{0, 10000}, 0.25, 2500},
        {{4000, 20000}, 0, 4000},
        {{4000, 20000}, 0.5, 12000},
        {{1000, 0}, 0, 1000},
        {{1000, 0}, 1, 0},
        {{1000, 0}, 0.1, 900},
        {{0, 65535}, 1, 65535},
        {{0, 1}, 1, 1},
        {{1, 0}, 1, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_equal(modbus_value_from_drive(&cases[i].span, cases[i].drive), cases[i].raw);
        assert_near(modbus_value_to_drive(&cases[i].span, cases[i].raw), cases[i].drive, 1e-12);
    }
}

/* Whatever the order, the same number comes back from the registers that carry it. */
static void orders_round_trip(void **state)
{
    (void)state;
    struct prng prng = prng_start("test_modbus_value");
    for (int i = 0; i < 20000; i++) {
        uint32_t bits = (uint32_t)prng_int(&prng, 0, UINT32_MAX);
        uint8_t abcd[4] = {(uint8_t)(bits >> 24), (uint8_t)(bits >> 16), (uint8_t)(bits >> 8),
                           (uint8_t)bits};
        static const int places[4][4] = {{0, 1, 2, 3}, {2, 3, 0, 1}, {1, 0, 3, 2}, {3, 2, 1, 0}};
        for (int order = 0; order < 4; order++) {
            const int *place = places[order];
            uint16_t words[2] = {(uint16_t)(abcd[place[0]] << 8 | abcd[place[1]]),
                                 (uint16_t)(abcd[place[2]] << 8 | abcd[place[3]])};
            struct modbus_format format = {
                .type = MODBUS_U32, .order = (enum modbus_order)order, .scale = 1};
            assert_true(modbus_value_decode(&format, words) == bits);
        }
    }
}

static void registers_as_text(void **state)
{
    (void)state;
    static const uint16_t words[] = {0x00EB, 0x41C8, 0xFFFF, 0x0000};
    char text[24];
    modbus_value_print(words, 0, text, sizeof text);
    assert_string_equal(text, "");
    modbus_value_print(words, 1, text, sizeof text);
    assert_string_equal(text, "0x00EB");
    modbus_value_print(words, 2, text, sizeof text);
    assert_string_equal(text, "0x00EB 0x41C8");
    modbus_value_print(words, 4, text, sizeof text); /* the fourth would be cut */
    assert_string_equal(text, "0x00EB 0x41C8 0xFFFF");
    modbus_value_print(words, 1, text, 6);
    assert_string_equal(text, "");
    modbus_value_print(words, 1, text, 7);
    assert_string_equal(text, "0x00EB");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(floats_in_four_orders),
        cmocka_unit_test(integers),
        cmocka_unit_test(tenths_and_sentinels),
        cmocka_unit_test(wide_sentinels),
        cmocka_unit_test(drives),
        cmocka_unit_test(orders_round_trip),
        cmocka_unit_test(registers_as_text),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
