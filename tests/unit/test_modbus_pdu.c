/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_pdu.h"

#include "prng.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <string.h>

#include <cmocka.h>

/* Requests and answers of the Modbus Application Protocol V1.1b3, section 6, each with unit 11h
 * before it. */
static const struct {
    const char *what;
    struct modbus_request request;
    uint8_t sent[9];
    size_t sent_size;
    uint8_t answer[16];
    size_t answer_size;
} examples[] = {
    {"6.3: read holding registers 108 to 110",
     {0x11, 3, 107, 3, 0},
     {0x11, 0x03, 0x00, 0x6B, 0x00, 0x03},
     6,
     {0x11, 0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64},
     9},
    {"6.4: read input register 9",
     {0x11, 4, 8, 1, 0},
     {0x11, 0x04, 0x00, 0x08, 0x00, 0x01},
     6,
     {0x11, 0x04, 0x02, 0x00, 0x0A},
     5},
    {"6.1, from memory: read coils 20 to 38",
     {0x11, 1, 19, 19, 0},
     {0x11, 0x01, 0x00, 0x13, 0x00, 0x13},
     6,
     {0x11, 0x01, 0x03, 0xCD, 0x6B, 0x05},
     6},
    {"6.5: write coil 173 on",
     {0x11, 5, 172, 1, 1},
     {0x11, 0x05, 0x00, 0xAC, 0xFF, 0x00},
     6,
     {0x11, 0x05, 0x00, 0xAC, 0xFF, 0x00},
     6},
    {"6.6: write register 2 = 3",
     {0x11, 6, 1, 1, 3},
     {0x11, 0x06, 0x00, 0x01, 0x00, 0x03},
     6,
     {0x11, 0x06, 0x00, 0x01, 0x00, 0x03},
     6},
    /* the standard's example writes two registers from register 2; one is the form used here */
    {"6.12: write multiple registers",
     {0x11, 16, 1, 1, 10},
     {0x11, 0x10, 0x00, 0x01, 0x00, 0x01, 0x02, 0x00, 0x0A},
     9,
     {0x11, 0x10, 0x00, 0x01, 0x00, 0x01},
     6},
};

static struct modbus_reply reply_of(const uint8_t *bytes, size_t size)
{
    struct modbus_reply reply = {.size = size};
    memcpy(reply.body, bytes, size);
    return reply;
}

static void examples_of_the_standard(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof examples / sizeof *examples; i++) {
        print_message("%s\n", examples[i].what);
        uint8_t bytes[MODBUS_PDU_REQUEST_MAX];
        assert_int_equal(modbus_pdu_encode(&examples[i].request, bytes), examples[i].sent_size);
        assert_memory_equal(bytes, examples[i].sent, examples[i].sent_size);
        assert_int_equal(modbus_pdu_reply_size(&examples[i].request), examples[i].answer_size);
        struct modbus_reply reply = reply_of(examples[i].answer, examples[i].answer_size);
        assert_int_equal(modbus_pdu_check(&examples[i].request, &reply), MODBUS_PDU_OK);
    }
    /* 6.3: "the contents of register 108 are … 555, 109 and 110 are 0 and 100" */
    struct modbus_reply registers = reply_of(examples[0].answer, examples[0].answer_size);
    assert_int_equal(modbus_pdu_word(&registers, 0), 555);
    assert_int_equal(modbus_pdu_word(&registers, 1), 0);
    assert_int_equal(modbus_pdu_word(&registers, 2), 100);
    /* 6.1: CD is coils 27 to 20: 1100 1101; 05 is coils 38 to 36: 101 */
    struct modbus_reply coils = reply_of(examples[2].answer, examples[2].answer_size);
    static const char expected[] = "1011001111010110101";
    for (int i = 0; i < 19; i++) {
        assert_int_equal(modbus_pdu_bit(&coils, i), expected[i] == '1');
    }
}

static void a_coil_off_is_zero(void **state)
{
    (void)state;
    struct modbus_request off = {1, MODBUS_PDU_WRITE_COIL, 5, 1, 0};
    uint8_t bytes[MODBUS_PDU_REQUEST_MAX];
    assert_int_equal(modbus_pdu_encode(&off, bytes), 6);
    static const uint8_t expected[] = {1, 5, 0, 5, 0, 0};
    assert_memory_equal(bytes, expected, sizeof expected);
}

static void answers_that_do_not_belong(void **state)
{
    (void)state;
    static const struct modbus_request read = {0x11, 3, 0x6B, 1, 0};
    static const struct modbus_request write = {0x11, 6, 1, 1, 3};
    static const struct {
        const struct modbus_request *request;
        uint8_t body[8];
        size_t size;
        enum modbus_pdu_verdict verdict;
    } cases[] = {
        {&read, {0x11, 3, 2, 0, 9}, 5, MODBUS_PDU_OK},
        {&read, {0x11, 0x83, 2}, 3, MODBUS_PDU_EXCEPTION},
        {&read, {0x11, 0x83, 2, 0}, 4, MODBUS_PDU_WRONG_LENGTH},
        {&read,
         {0x11, 0x86, 2},
         3,
         MODBUS_PDU_WRONG_FUNCTION}, /* "FC + 0x83" circulates: it is not */
        {&read, {0x11, 0x84, 2}, 3, MODBUS_PDU_WRONG_FUNCTION},
        {&read, {0x12, 3, 2, 0, 9}, 5, MODBUS_PDU_WRONG_UNIT},
        {&read, {0x12, 0x83, 2}, 3, MODBUS_PDU_WRONG_UNIT},
        {&read, {0x11, 4, 2, 0, 9}, 5, MODBUS_PDU_WRONG_FUNCTION},
        {&read, {0x11, 3, 4, 0, 9, 0, 8}, 7, MODBUS_PDU_WRONG_LENGTH},
        {&read, {0x11, 3, 2, 0, 9, 0, 8}, 7, MODBUS_PDU_WRONG_LENGTH},
        {&read, {0x11, 3, 4, 0, 9}, 5, MODBUS_PDU_WRONG_LENGTH},
        {&read, {0x11, 3}, 2, MODBUS_PDU_WRONG_LENGTH},
        {&read, {0}, 0, MODBUS_PDU_WRONG_LENGTH},
        {&write, {0x11, 6, 0, 1, 0, 3}, 6, MODBUS_PDU_OK},
        {&write, {0x11, 6, 0, 2, 0, 3}, 6, MODBUS_PDU_WRONG_ECHO},
        {&write, {0x11, 6, 0, 1, 0, 4}, 6, MODBUS_PDU_WRONG_ECHO},
        {&write, {0x11, 6, 0, 1, 0}, 5, MODBUS_PDU_WRONG_LENGTH},
        {&write, {0x11, 0x86, 4}, 3, MODBUS_PDU_EXCEPTION},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        struct modbus_reply reply = reply_of(cases[i].body, cases[i].size);
        assert_int_equal(modbus_pdu_check(cases[i].request, &reply), cases[i].verdict);
        assert_true(modbus_pdu_verdict_name(cases[i].verdict)[0] != '\0');
    }
}

/* Modbus Application Protocol V1.1b3, section 7: the codes and what they mean. */
static void exception_codes(void **state)
{
    (void)state;
    static const struct {
        uint8_t code;
        bool is_later, is_known;
    } cases[] = {{0x01, false, true},  {0x02, false, true}, {0x03, false, true},
                 {0x04, false, true},  {0x05, true, true},  {0x06, true, true},
                 {0x08, false, true},  {0x0A, false, true}, {0x0B, false, true},
                 {0x00, false, false}, {0x7F, false, false}};
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        int error = modbus_pdu_exception_errno(cases[i].code);
        assert_int_equal(error == -EAGAIN, cases[i].is_later);
        assert_int_equal(error != -EPROTO, cases[i].is_known);
        assert_true(error < 0);
        /* A unit that refuses is there: nothing that makes run drop the connection. */
        assert_false(error == -EIO || error == -ENODEV || error == -ENXIO || error == -EBADF ||
                     error == -ENOTCONN);
        assert_non_null(modbus_pdu_exception_name(cases[i].code));
    }
    assert_string_equal(modbus_pdu_exception_name(2), "illegal data address");
}

/* Modbus Messaging on TCP/IP Implementation Guide V1.0b: read register 5, transaction
 * 1501h, unit FFh. */
static void header_of_tcp(void **state)
{
    (void)state;
    static const uint8_t expected[] = {0x15, 0x01, 0x00, 0x00, 0x00, 0x06,
                                       0xFF, 0x03, 0x00, 0x04, 0x00, 0x01};
    struct modbus_request request = {0xFF, 3, 4, 1, 0};
    uint8_t frame[MODBUS_PDU_HEADER + MODBUS_PDU_REQUEST_MAX];
    size_t size = modbus_pdu_encode(&request, frame + MODBUS_PDU_HEADER);
    modbus_pdu_header(0x1501, size, frame);
    assert_int_equal(size + MODBUS_PDU_HEADER, sizeof expected);
    assert_memory_equal(frame, expected, sizeof expected);
    assert_true(modbus_pdu_header_fits(0x1501, frame, sizeof expected));
    assert_false(modbus_pdu_header_fits(0x1502, frame, sizeof expected));
    assert_false(modbus_pdu_header_fits(0x1501, frame, sizeof expected - 1));
    assert_false(modbus_pdu_header_fits(0x1501, frame, MODBUS_PDU_HEADER));
    frame[3] = 1; /* another protocol */
    assert_false(modbus_pdu_header_fits(0x1501, frame, sizeof expected));
}

/* Random bytes are believed only when they carry the unit, function and length that were asked for.
 */
static void random_answers(void **state)
{
    (void)state;
    struct prng prng = prng_start("test_modbus_pdu");
    for (int i = 0; i < 200000; i++) {
        struct modbus_request request = {(uint8_t)prng_int(&prng, 0, 3), 3, 0,
                                         (uint16_t)prng_int(&prng, 1, 3), 0};
        struct modbus_reply reply = {.size = (size_t)prng_int(&prng, 0, 10)};
        for (size_t byte = 0; byte < reply.size; byte++) {
            reply.body[byte] = (uint8_t)prng_int(&prng, 0, byte < 3 ? 7 : 255);
        }
        if (modbus_pdu_check(&request, &reply) == MODBUS_PDU_OK) {
            assert_int_equal(reply.body[0], request.unit);
            assert_int_equal(reply.body[1], 3);
            assert_int_equal(reply.body[2], 2 * request.count);
            assert_int_equal(reply.size, 3 + 2 * request.count);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(examples_of_the_standard),
        cmocka_unit_test(a_coil_off_is_zero),
        cmocka_unit_test(answers_that_do_not_belong),
        cmocka_unit_test(exception_codes),
        cmocka_unit_test(header_of_tcp),
        cmocka_unit_test(random_answers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
