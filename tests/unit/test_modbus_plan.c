/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_plan.h"

#include "prng.h"

#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

enum { WISHES_MAX = 200 };

static const struct modbus_plan_limits close_limits = {.gap_registers = 0, .count_max = 125};

static void assert_block(const struct modbus_block *block, int unit, int function, int address,
                         int count, int wishes)
{
    assert_int_equal(block->request.unit, unit);
    assert_int_equal(block->request.function, function);
    assert_int_equal(block->request.address, address);
    assert_int_equal(block->request.count, count);
    assert_int_equal(block->wish_count, wishes);
}

static void neighbours_share_a_request(void **state)
{
    (void)state;
    struct modbus_wish wishes[] = {
        {.unit = 2, .function = 3, .address = 10, .count = 2, .sensor = 0},
        {.unit = 1, .function = 3, .address = 5, .count = 1, .sensor = 1},
        {.unit = 1, .function = 4, .address = 4, .count = 1, .sensor = 2},
        {.unit = 1, .function = 3, .address = 3, .count = 2, .sensor = 3},
        {.unit = 1, .function = 3, .address = 7, .count = 1, .sensor = 4},
        {.unit = 1, .function = 3, .address = 5, .count = 1, .sensor = 5}, /* the same once more */
    };
    struct modbus_block blocks[6];
    assert_int_equal(modbus_plan_build(wishes, 6, &close_limits, blocks), 4);
    assert_block(&blocks[0], 1, 3, 3, 3, 3);
    assert_block(&blocks[1], 1, 3, 7, 1, 1);
    assert_block(&blocks[2], 1, 4, 4, 1, 1);
    assert_block(&blocks[3], 2, 3, 10, 2, 1);

    struct modbus_plan_limits wide = {.gap_registers = 1, .count_max = 125};
    assert_int_equal(modbus_plan_build(wishes, 6, &wide, blocks), 3);
    assert_block(&blocks[0], 1, 3, 3, 5, 4);
    assert_int_equal(modbus_plan_build(wishes, 0, &wide, blocks), 0);
}

/* Modbus Application Protocol V1.1b3, 6.3: 1 to 125 registers; addresses end at 65535. */
static void limits_of_one_request(void **state)
{
    (void)state;
    struct modbus_wish wishes[WISHES_MAX];
    for (int i = 0; i < 126; i++) {
        wishes[i] = (struct modbus_wish){
            .unit = 1, .function = 3, .address = (uint16_t)(65410 + i), .count = 1, .sensor = i};
    }
    struct modbus_block blocks[WISHES_MAX];
    assert_int_equal(modbus_plan_build(wishes, 126, &close_limits, blocks), 2);
    assert_block(&blocks[0], 1, 3, 65410, 125, 125);
    assert_block(&blocks[1], 1, 3, 65535, 1, 1);
}

/* A merged read that a unit refuses is asked for one by one from then on, and nothing else changes.
 */
static void refused_block_is_split(void **state)
{
    (void)state;
    struct modbus_wish wishes[] = {
        {.unit = 1, .function = 3, .address = 1, .count = 1, .sensor = 0},
        {.unit = 1, .function = 3, .address = 2, .count = 1, .sensor = 1},
        {.unit = 2, .function = 3, .address = 1, .count = 1, .sensor = 2},
        {.unit = 2, .function = 3, .address = 2, .count = 1, .sensor = 3},
    };
    struct modbus_block blocks[4];
    assert_int_equal(modbus_plan_build(wishes, 4, &close_limits, blocks), 2);
    assert_true(modbus_plan_split(wishes, &blocks[0]));
    assert_int_equal(modbus_plan_build(wishes, 4, &close_limits, blocks), 3);
    assert_block(&blocks[0], 1, 3, 1, 1, 1);
    assert_block(&blocks[1], 1, 3, 2, 1, 1);
    assert_block(&blocks[2], 2, 3, 1, 2, 2);
    assert_false(modbus_plan_split(wishes, &blocks[0]));
}

/* For any wishes: each is covered by exactly one request that holds it, and no request is too long
 * or reads more unasked-for registers in a row than allowed. */
static void check_plan(const struct modbus_wish *wishes, int count,
                       const struct modbus_plan_limits *limits, const struct modbus_block *blocks,
                       int block_count)
{
    int next = 0;
    for (int i = 0; i < block_count; i++) {
        const struct modbus_request *request = &blocks[i].request;
        assert_int_equal(blocks[i].first, next);
        assert_in_range(request->count, 1, limits->count_max);
        int reached = request->address;
        for (int j = 0; j < blocks[i].wish_count; j++) {
            const struct modbus_wish *wish = &wishes[next++];
            assert_int_equal(wish->unit, request->unit);
            assert_int_equal(wish->function, request->function);
            assert_true(wish->address >= request->address);
            assert_true(wish->address + wish->count <= request->address + request->count);
            assert_true(wish->address - reached <= limits->gap_registers);
            assert_true(blocks[i].wish_count == 1 || !wish->alone);
            int end = wish->address + wish->count;
            reached = end > reached ? end : reached;
        }
        assert_int_equal(reached, request->address + request->count);
    }
    assert_int_equal(next, count);
}

static void any_wishes(void **state)
{
    (void)state;
    struct prng prng = prng_start("test_modbus_plan");
    for (int round = 0; round < 2000; round++) {
        struct modbus_wish wishes[WISHES_MAX];
        struct modbus_block blocks[WISHES_MAX];
        int count = (int)prng_int(&prng, 0, 60);
        for (int i = 0; i < count; i++) {
            wishes[i] = (struct modbus_wish){
                .unit = (uint8_t)prng_int(&prng, 1, 2),
                .function = (uint8_t)prng_int(&prng, 3, 4),
                .address = (uint16_t)prng_int(&prng, 0, 150),
                .count = (uint16_t)prng_int(&prng, 1, 2),
                .sensor = i,
                .alone = prng_int(&prng, 0, 9) == 0,
            };
        }
        struct modbus_plan_limits limits = {.gap_registers = (int)prng_int(&prng, 0, 20),
                                            .count_max = (int)prng_int(&prng, 2, 125)};
        int built = modbus_plan_build(wishes, count, &limits, blocks);
        check_plan(wishes, count, &limits, blocks, built);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(neighbours_share_a_request),
        cmocka_unit_test(limits_of_one_request),
        cmocka_unit_test(refused_block_is_split),
        cmocka_unit_test(any_wishes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
