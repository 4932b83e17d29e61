/* SPDX-License-Identifier: Apache-2.0 */
/* Codes and shapes after the JSON-RPC 2.0 specification (jsonrpc.org, 2010, updated 2013), section
 * 4 and 5.1, and its examples in section 7; batches are refused here on purpose. */
#include "control_proto.h"

#include "err.h"
#include "prng.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static enum control_code parse(const char *line)
{
    struct control_call call;
    struct err err = {""};
    enum control_code code = control_parse(line, strlen(line), &call, &err);
    assert_true(code == CONTROL_OK || err.text[0] != '\0');
    control_call_finish(&call);
    return code;
}

static void good_and_bad_requests(void **state)
{
    (void)state;
    static const struct {
        const char *line;
        enum control_code code;
    } cases[] = {
        {"{\"jsonrpc\":\"2.0\",\"method\":\"status\",\"id\":1}", CONTROL_OK},
        {"{\"jsonrpc\": \"2.0\", \"method\": \"foobar\", \"id\": \"1\"}", CONTROL_OK},
        {"{\"jsonrpc\":\"2.0\",\"method\":\"status\"}", CONTROL_OK}, /* a notification */
        {"{\"jsonrpc\":\"2.0\",\"method\":\"hold\",\"params\":{\"a\":1},\"id\":null}", CONTROL_OK},
        {"{\"jsonrpc\": \"2.0\", \"method\": \"foobar, \"params\": \"bar\", \"baz]",
         CONTROL_PARSE_ERROR},
        {"", CONTROL_PARSE_ERROR},
        {"{} {}", CONTROL_PARSE_ERROR},
        {"{\"jsonrpc\": \"2.0\", \"method\": 1, \"params\": \"bar\"}", CONTROL_INVALID_REQUEST},
        {"[]", CONTROL_INVALID_REQUEST},
        {"[1]", CONTROL_INVALID_REQUEST},
        {"[{\"jsonrpc\":\"2.0\",\"method\":\"status\",\"id\":1}]", CONTROL_INVALID_REQUEST},
        {"{}", CONTROL_INVALID_REQUEST},
        {"{\"jsonrpc\":\"1.0\",\"method\":\"status\",\"id\":1}", CONTROL_INVALID_REQUEST},
        {"{\"jsonrpc\":2.0,\"method\":\"status\",\"id\":1}", CONTROL_INVALID_REQUEST},
        {"{\"jsonrpc\":\"2.0\",\"method\":\"status\",\"id\":[1]}", CONTROL_INVALID_REQUEST},
        {"{\"jsonrpc\":\"2.0\",\"method\":\"status\",\"params\":[1],\"id\":1}",
         CONTROL_INVALID_PARAMS},
        {"{\"jsonrpc\":\"2.0\",\"id\":1,\"id\":2,\"method\":\"x\"}", CONTROL_PARSE_ERROR},
        {"{\"jsonrpc\":\"2.0\",\"method\":\"\xff\",\"id\":1}", CONTROL_PARSE_ERROR},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        enum control_code code = parse(cases[i].line);
        if (code != cases[i].code) {
            print_error("%s: %d\n", cases[i].line, (int)code);
        }
        assert_int_equal(code, cases[i].code);
    }
}

static void limits(void **state)
{
    (void)state;
    char line[CONTROL_LINE_MAX + 2];
    struct control_call call;
    memset(line, '[', sizeof line);
    assert_int_equal(control_parse(line, 4000, &call, NULL), CONTROL_PARSE_ERROR);
    control_call_finish(&call);
    memset(line, ' ', sizeof line);
    memcpy(line, "{}", 2);
    assert_int_equal(control_parse(line, CONTROL_LINE_MAX, &call, NULL), CONTROL_INVALID_REQUEST);
    control_call_finish(&call);
    assert_int_equal(control_parse(line, CONTROL_LINE_MAX + 1, &call, NULL), CONTROL_PARSE_ERROR);
    control_call_finish(&call);
    assert_int_equal(parse("{\"jsonrpc\":\"2.0\",\"method\":\"[[[[[[[[[[[[[[[[[[[[[[\\\"[\"}"),
                     CONTROL_OK); /* brackets in a text are no nesting */
}

static void answers_fit_their_questions(void **state)
{
    (void)state;
    struct err err = {""};
    json_t *result = NULL;
    json_t *id = json_integer(7);
    char *text = control_result(id, json_pack("{s:f}", "level", 0.4));
    assert_string_equal(text, "{\"jsonrpc\":\"2.0\",\"id\":7,\"result\":{\"level\":0.4}}");
    assert_int_equal(control_answer(text, strlen(text), &result, &err), 0);
    json_decref(result);
    free(text);
    text = control_error(NULL, CONTROL_REFUSED, "it is night");
    assert_string_equal(text, "{\"jsonrpc\":\"2.0\",\"id\":null,\"error\":{\"code\":-32001,"
                              "\"message\":\"it is night\"}}");
    assert_int_equal(control_answer(text, strlen(text), &result, &err), -EREMOTEIO);
    assert_string_equal(err.text, "it is night");
    free(text);
    json_decref(id);
    text = control_error(NULL, CONTROL_FAILED, "\xff\xfe"); /* not UTF-8: still an answer */
    assert_non_null(text);
    free(text);
    assert_int_equal(control_answer("[]", 2, &result, &err), -EPROTO);
    assert_int_equal(control_answer("", 0, &result, &err), -EPROTO);
    text = control_request("hold", json_pack("{s:s}", "space", "basil"));
    assert_string_equal(text, "{\"jsonrpc\":\"2.0\",\"id\":1,\"method\":\"hold\","
                              "\"params\":{\"space\":\"basil\"}}\n");
    assert_int_equal(parse(text), CONTROL_OK);
    free(text);
}

/* Sentences are cut to their places in bytes; what is left of a character spoils none of them. */
static void cut_sentences_are_told(void **state)
{
    (void)state;
    static const struct {
        const char *text, *told;
    } cases[] = {
        {"", ""},
        {"bus \xc3\xbc: 1 \xe2\x80\xa6 5", "bus \xc3\xbc: 1 \xe2\x80\xa6 5"},
        {"bus \xc3", "bus ?"},
        {"there is no bus '\xc3\xbc\xc3'; there are: one",
         "there is no bus '\xc3\xbc?'; there are: one"},
        {"1 \xe2\x80", "1 ??"},
        {"\xed\xa0\x80 \xf0\x9f\x8c\xb1", "??? \xf0\x9f\x8c\xb1"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        json_t *text = control_text(cases[i].text);
        assert_string_equal(json_string_value(text), cases[i].told);
        json_decref(text);
    }
    char longest[2000];
    memset(longest, '\xff', sizeof longest);
    longest[sizeof longest - 1] = '\0';
    json_t *text = control_text(longest);
    assert_in_range(json_string_length(text), 256, CONTROL_TEXT_MAX);
    json_decref(text);
    assert_null(control_text(NULL));
}

static void numbers(void **state)
{
    (void)state;
    static const double cases[] = {
        -0.25, 0, 1e-300, (double)NAN, (double)INFINITY, -(double)INFINITY};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        json_t *value = control_real(cases[i]);
        assert_true(i < 3 ? json_is_real(value) : json_is_null(value));
        assert_true(i >= 3 || json_real_value(value) == cases[i]);
        json_decref(value);
    }
}

/* A good request with a few bytes changed never does more than fail. */
static void mutations(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    static const char good[] = "{\"jsonrpc\":\"2.0\",\"method\":\"hold\",\"params\":{\"space\":"
                               "\"basil\",\"level\":0.4,\"minutes\":30},\"id\":\"a\"}";
    for (int round = 0; round < 20000; round++) {
        char line[sizeof good];
        struct control_call call;
        memcpy(line, good, sizeof good);
        for (int64_t i = prng_int(&prng, 1, 4); i > 0; i--) {
            line[prng_int(&prng, 0, sizeof good - 2)] = (char)prng_next(&prng);
        }
        (void)control_parse(line, sizeof good - 1, &call, NULL);
        control_call_finish(&call);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_and_bad_requests),
        cmocka_unit_test(limits),
        cmocka_unit_test(answers_fit_their_questions),
        cmocka_unit_test(cut_sentences_are_told),
        cmocka_unit_test(numbers),
        cmocka_unit_test(mutations),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
