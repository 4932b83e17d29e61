/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_pdu.h"

#include <errno.h>

enum { EXCEPTION_FLAG = 0x80, COIL_ON = 0xFF00 };

static uint8_t high_byte(size_t word)
{
    return (uint8_t)(word >> 8 & 0xFF);
}

static uint8_t low_byte(size_t word)
{
    return (uint8_t)(word & 0xFF);
}

static uint16_t word_at(const uint8_t *bytes)
{
    return (uint16_t)(bytes[0] << 8 | bytes[1]);
}

static bool is_write(const struct modbus_request *request)
{
    return request->function >= MODBUS_PDU_WRITE_COIL;
}

/* The word behind the address: how many, or the value of a single write. */
static uint16_t second_word(const struct modbus_request *request)
{
    if (request->function == MODBUS_PDU_WRITE_COIL) {
        return request->value ? COIL_ON : 0;
    }
    return request->function == MODBUS_PDU_WRITE_REGISTER ? request->value : request->count;
}

size_t modbus_pdu_encode(const struct modbus_request *request, uint8_t *ret)
{
    uint16_t second = second_word(request);
    ret[0] = request->unit;
    ret[1] = request->function;
    ret[2] = high_byte(request->address);
    ret[3] = low_byte(request->address);
    ret[4] = high_byte(second);
    ret[5] = low_byte(second);
    if (request->function != MODBUS_PDU_WRITE_REGISTERS) {
        return 6;
    }
    ret[6] = 2; /* bytes that follow: one register */
    ret[7] = high_byte(request->value);
    ret[8] = low_byte(request->value);
    return 9;
}

size_t modbus_pdu_reply_size(const struct modbus_request *request)
{
    if (is_write(request)) {
        return 6;
    }
    size_t count = request->count;
    return 3 + (request->function == MODBUS_PDU_READ_COILS ? (count + 7) / 8 : count * 2);
}

enum modbus_pdu_verdict modbus_pdu_check(const struct modbus_request *request,
                                         const struct modbus_reply *reply)
{
    const uint8_t *body = reply->body;
    if (reply->size < 3) {
        return MODBUS_PDU_WRONG_LENGTH;
    }
    if (body[0] != request->unit) {
        return MODBUS_PDU_WRONG_UNIT;
    }
    if (body[1] == (request->function | EXCEPTION_FLAG)) {
        return reply->size == 3 ? MODBUS_PDU_EXCEPTION : MODBUS_PDU_WRONG_LENGTH;
    }
    if (body[1] != request->function) {
        return MODBUS_PDU_WRONG_FUNCTION;
    }
    size_t expected = modbus_pdu_reply_size(request);
    if (reply->size != expected || (!is_write(request) && body[2] != expected - 3)) {
        return MODBUS_PDU_WRONG_LENGTH;
    }
    if (is_write(request) &&
        (word_at(body + 2) != request->address || word_at(body + 4) != second_word(request))) {
        return MODBUS_PDU_WRONG_ECHO;
    }
    return MODBUS_PDU_OK;
}

const char *modbus_pdu_verdict_name(enum modbus_pdu_verdict verdict)
{
    switch (verdict) {
    case MODBUS_PDU_OK:
        return "well formed";
    case MODBUS_PDU_EXCEPTION:
        return "refused";
    case MODBUS_PDU_WRONG_UNIT:
        return "another unit answered";
    case MODBUS_PDU_WRONG_FUNCTION:
        return "the answer carries another function";
    case MODBUS_PDU_WRONG_LENGTH:
        return "the answer has another length than was asked for";
    case MODBUS_PDU_WRONG_ECHO:
        return "the answer confirms another address or value";
    }
    return "";
}

uint8_t modbus_pdu_exception(const struct modbus_reply *reply)
{
    return reply->body[2];
}

uint16_t modbus_pdu_word(const struct modbus_reply *reply, int index)
{
    return word_at(reply->body + 3 + (size_t)index * 2);
}

bool modbus_pdu_bit(const struct modbus_reply *reply, int index)
{
    return reply->body[3 + index / 8] >> (index % 8) & 1;
}

/* Modbus Application Protocol V1.1b3, section 7. -ENXIO and its like are avoided: they would say
 * that the connection is gone, while a unit that refuses is very much there. */
static const struct {
    uint8_t code;
    int error;
    const char *name;
} exceptions[] = {
    {0x01, -EOPNOTSUPP, "illegal function"},
    {0x02, -EADDRNOTAVAIL, "illegal data address"},
    {0x03, -EINVAL, "illegal data value"},
    {0x04, -EREMOTEIO, "device failure"},
    {0x05, -EAGAIN, "acknowledge, still working"},
    {0x06, -EAGAIN, "device busy"},
    {0x08, -EREMOTEIO, "memory parity error"},
    {0x0A, -ENETUNREACH, "gateway path unavailable"},
    {0x0B, -EHOSTUNREACH, "gateway target does not respond"},
};

const char *modbus_pdu_exception_name(uint8_t code)
{
    for (size_t i = 0; i < sizeof exceptions / sizeof *exceptions; i++) {
        if (exceptions[i].code == code) {
            return exceptions[i].name;
        }
    }
    return "a code that the protocol does not define";
}

int modbus_pdu_exception_errno(uint8_t code)
{
    for (size_t i = 0; i < sizeof exceptions / sizeof *exceptions; i++) {
        if (exceptions[i].code == code) {
            return exceptions[i].error;
        }
    }
    return -EPROTO;
}

void modbus_pdu_header(uint16_t transaction, size_t size, uint8_t *ret)
{
    ret[0] = high_byte(transaction);
    ret[1] = low_byte(transaction);
    ret[2] = 0; /* protocol 0: Modbus */
    ret[3] = 0;
    ret[4] = high_byte(size);
    ret[5] = low_byte(size);
}

bool modbus_pdu_header_fits(uint16_t transaction, const uint8_t *frame, size_t size)
{
    return size > MODBUS_PDU_HEADER && word_at(frame) == transaction && word_at(frame + 2) == 0 &&
           word_at(frame + 4) == size - MODBUS_PDU_HEADER;
}
