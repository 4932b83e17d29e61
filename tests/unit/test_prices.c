/* SPDX-License-Identifier: Apache-2.0 */
#include "prices.h"

#include "err.h"
#include "onefile.h"
#include "prng.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct err err;

static int load(const char *text, struct prices *ret)
{
    onefile_put(text);
    return prices_load(onefile_path(), ret, &err);
}

static void rows_and_their_end(void **state)
{
    (void)state;
    struct prices prices;
    /* 2026-03-29T01:00Z is 1774746000 (date -u); the offsets jump, the moments do not */
    assert_int_equal(load("# of an invented market\r\ntime,price_per_kwh\r\n"
                          "2026-03-29T01:00+01:00,0.05\r\n\r\n2026-03-29T03:00+02:00,-0.012\n"
                          "2026-03-29 01:15Z,20\n2026-03-29T01:30:00Z,-5",
                          &prices),
                     0);
    assert_int_equal(prices.count, 4);
    assert_true(prices.rows[0].from_s == 1774742400 && prices.rows[0].price_per_kwh == 0.05);
    assert_true(prices.rows[1].from_s == 1774746000 && prices.rows[1].price_per_kwh == -0.012);
    assert_true(prices.rows[3].from_s == 1774747800 && prices.rows[3].price_per_kwh == -5);
    assert_true(prices.end_s == 1774747800 + 900);
    prices_free(&prices);
    prices_free(&prices); /* harmless */
}

static void holes(void **state)
{
    (void)state;
    struct prices prices;
    /* a day is missing: the hour before it is an hour */
    assert_int_equal(load("time,price_per_kwh\n1970-01-01T00:00Z,1\n1970-01-01T01:00Z,2\n"
                          "1970-01-02T02:00Z,3\n1970-01-02T03:00Z,4\n",
                          &prices),
                     0);
    assert_int_equal(prices.count, 5);
    assert_true(prices.rows[2].from_s == 7200 && isnan(prices.rows[2].price_per_kwh));
    assert_true(prices.rows[3].from_s == 26 * 3600 && prices.end_s == 28 * 3600);
    prices_free(&prices);
    /* one row a day, one of 25 h among them: no hole; a row without a price: one */
    assert_int_equal(load("time,price_per_kwh\n2026-10-24T00:00+02:00,1\n2026-10-25T00:00+02:00,2\n"
                          "2026-10-26T00:00+01:00,3\n2026-10-27T00:00+01:00,\n",
                          &prices),
                     0);
    assert_int_equal(prices.count, 4);
    assert_true(prices.rows[2].price_per_kwh == 3 && isnan(prices.rows[3].price_per_kwh));
    prices_free(&prices);
}

static void refused_files(void **state)
{
    (void)state;
    static const struct {
        const char *text, *want; /* behind the path */
    } cases[] = {
        {"", ": two rows of prices at least: the last one holds as long as the step before it"},
        {"time,price_per_kwh\n2026-01-01T00:00Z,1\n",
         ": two rows of prices at least: the last one holds as long as the step before it"},
        {"time;price\n", ":1: the header is 'time;price', not 'time,price_per_kwh'"},
        {"time,price_per_kwh\n2026-01-01T00:00Z\n",
         ":2: '2026-01-01T00:00Z' is not 'time,price_per_kwh'"},
        {"time,price_per_kwh\n\n2026-01-01T00:00Z,1\n2026-01-01T00:00Z,1\n",
         ":4: time '2026-01-01T00:00Z' is not later than the row before"},
        {"time,price_per_kwh\n2026-01-01T00:00Z,1e6\n",
         ":2: 1e6 is out of range (-10000 … 100000)"},
        {"time,price_per_kwh\n2026-01-01T00:00Z,-10000.5\n",
         ":2: -10000.5 is out of range (-10000 … 100000)"},
        {"time,price_per_kwh\n2026-01-01T00:00Z,0\xff\n", ":2: \"0"},
        {"time,price_per_kwh\n2026-01-01T00:00Z,nan\n",
         ":2: \"nan\" is not a number (-10000 … 100000)"},
        {"time,price_per_kwh\n2026-01-01T00:00Z,0,12\n",
         ":2: \"0,12\" is not a number (-10000 … 100000)"},
        {"time,price_per_kwh\n2026-01-01T00:00,0.12\n", ":2: \"2026-01-01T00:00\""},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct prices prices = {.count = 77};
        print_message("%s\n", cases[i].want);
        assert_int_not_equal(load(cases[i].text, &prices), 0);
        assert_int_equal(prices.count, 77);
        if (strncmp(err.text, onefile_path(), strlen(onefile_path())) != 0 ||
            strncmp(err.text + strlen(onefile_path()), cases[i].want, strlen(cases[i].want)) != 0) {
            print_error("%s\n", err.text);
            fail();
        }
    }
    struct prices prices;
    assert_int_equal(prices_load("/nonexistent/p.csv", &prices, &err), -ENOENT);
    assert_non_null(strstr(err.text, "/nonexistent/p.csv"));
}

/* Whatever was damaged: refused, or a series that rises to its end. */
static void damaged_files(void **state)
{
    (void)state;
    struct prng prng = prng_start("damaged_files");
    for (int round = 0; round < 500; round++) {
        char text[1024] = "time,price_per_kwh\n";
        size_t used = strlen(text);
        for (int i = 0; i < 24; i++) {
            used += (size_t)snprintf(text + used, sizeof text - used,
                                     "2026-01-%02dT%02d:00Z,0.%02d\n", 1 + i / 6, i % 24, i);
        }
        for (int i = 0; i < round % 4; i++) {
            text[prng_int(&prng, 0, (int64_t)used - 1)] = (char)prng_int(&prng, 1, 255);
        }
        struct prices prices;
        if (load(text, &prices) != 0) {
            continue;
        }
        for (size_t i = 0; i < prices.count; i++) {
            int64_t next_s = i + 1 < prices.count ? prices.rows[i + 1].from_s : prices.end_s;
            assert_true(prices.rows[i].from_s < next_s);
        }
        prices_free(&prices);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_and_their_end),
        cmocka_unit_test(holes),
        cmocka_unit_test(refused_files),
        cmocka_unit_test(damaged_files),
    };
    return cmocka_run_group_tests(tests, onefile_begin, onefile_end);
}
