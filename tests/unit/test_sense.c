/* SPDX-License-Identifier: Apache-2.0 */
#include "sense.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define S INT64_C(1000000000)

static const char *text(const json_t *object, const char *key)
{
    const char *value = json_string_value(json_object_get(object, key));
    return value ? value : "";
}

static json_t *look_at(const struct picture_sensor *picture, const char *trouble)
{
    static struct config_bus bus = {.name = "shelf"};
    static struct config_sensor sensor = {
        .name = "par", .kind = SENSOR_PPFD, .quality = {.low = -10, .high = 4000}};
    static struct config config = {
        .buses = &bus, .bus_count = 1, .sensors = &sensor, .sensor_count = 1};
    bus.driver = driver_find("bench");
    const struct sense_look look = {&config, 0, picture, trouble, 100 * S};
    json_t *object = sense_sensor_json(&look);
    assert_non_null(object);
    return object;
}

static void a_good_one(void **state)
{
    (void)state;
    const struct picture_sensor picture = {
        .reading = {212.5, 98 * S, READING_GOOD},
        .sample = {.value = 212.5, .taken_ns = 98 * S, .raw = "0x0849"}};
    json_t *object = look_at(&picture, NULL);
    assert_string_equal(text(object, "sensor"), "par");
    assert_string_equal(text(object, "bus"), "shelf");
    assert_string_equal(text(object, "driver"), "bench");
    assert_string_equal(text(object, "kind"), "ppfd");
    assert_string_equal(text(object, "unit"), "µmol m⁻² s⁻¹");
    assert_string_equal(text(object, "raw"), "0x0849");
    assert_string_equal(text(object, "quality"), "good");
    assert_true(json_is_null(json_object_get(object, "reason")));
    assert_true(json_number_value(json_object_get(object, "age_s")) == 2);
    assert_true(json_number_value(json_object_get(object, "value")) == 212.5);
    assert_true(json_number_value(json_object_get(object, "low")) == -10);
    json_decref(object);
}

static void reasons(void **state)
{
    (void)state;
    static const struct {
        enum reading_quality quality;
        enum quality_fault fault;
        int error;
        const char *trouble, *want;
    } cases[] = {
        {READING_LOST, QUALITY_NO_ANSWER, -ETIMEDOUT, NULL, "no answer: Connection timed out"},
        {READING_LOST, QUALITY_NO_ANSWER, -EADDRNOTAVAIL, NULL,
         "the device refuses it: illegal data address; registers count from 0"},
        {READING_LOST, QUALITY_NO_ANSWER, -EOPNOTSUPP, NULL,
         "the device refuses it: illegal function; input or holding registers?"},
        {READING_LOST, QUALITY_NO_ANSWER, -EIO, "cut", "bus shelf is not connected: cut"},
        {READING_LOST, QUALITY_NO_ANSWER, -EIO, "", "bus shelf is not connected: not tried yet"},
        {READING_STALE, QUALITY_NO_ANSWER, 0, NULL,
         "this is the last good value; nothing new was read"},
        {READING_STALE, QUALITY_RANGE, 0, NULL,
         "this is the last good value; 9000 is outside the allowed range"},
        {READING_STALE, QUALITY_OK, 0, NULL, "this is the last good value"},
        {READING_LOST, QUALITY_NOT_A_NUMBER, 0, NULL, "what was read is not a number"},
        {READING_LOST, QUALITY_TINY, 0, NULL, "9e+03 is too small to be true: wrong word order?"},
        {READING_SUSPECT, QUALITY_JUMP, 0, NULL,
         "jumped to 9000: believed when three readings agree"},
        {READING_SUSPECT, QUALITY_FROZEN, 0, NULL, "stands still although the light changed"},
        {READING_LOST, QUALITY_POWER_ON, 0, NULL,
         "9000 is what this chip shows before it has measured"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        const bool is_lost = cases[i].quality == READING_LOST;
        const struct picture_sensor picture = {
            .reading = {is_lost ? (double)NAN : 5, S, cases[i].quality},
            .fault = cases[i].fault,
            .sample = {.value = 9000, .error = cases[i].error}};
        json_t *object = look_at(&picture, cases[i].trouble);
        assert_string_equal(text(object, "reason"), cases[i].want);
        assert_int_equal(json_is_null(json_object_get(object, "age_s")), is_lost);
        assert_int_equal(json_is_null(json_object_get(object, "value")), is_lost);
        assert_int_equal(json_is_null(json_object_get(object, "read_value")), cases[i].error < 0);
        json_decref(object);
    }
}

/* A probe's 127.9 °C: something answered, and its driver knows better than to believe it. */
static void a_refused_one(void **state)
{
    (void)state;
    const struct picture_sensor picture = {
        .reading = {(double)NAN, 0, READING_LOST},
        .fault = QUALITY_NO_ANSWER,
        .sample = {.value = (double)NAN, .error = -EIO, .raw = "127937"}};
    json_t *object = look_at(&picture, NULL);
    assert_string_equal(text(object, "raw"), "127937");
    assert_string_equal(text(object, "reason"),
                        "127937 was read, which is no measurement of such a device");
    json_decref(object);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_good_one),
        cmocka_unit_test(reasons),
        cmocka_unit_test(a_refused_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
