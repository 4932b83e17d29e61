/* SPDX-License-Identifier: Apache-2.0 */
#include "bad_modbus_parts.h"

#include <string.h>

uint16_t bad_modbus_crc16(const uint8_t *bytes, size_t size)
{
    uint16_t crc = 0xFFFF;
    for (size_t i = 0; i < size; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) {
            crc = (uint16_t)(crc & 1 ? crc >> 1 ^ 0xA001 : crc >> 1);
        }
    }
    return crc;
}

static size_t exception(uint8_t *reply, int code)
{
    reply[1] |= 0x80;
    reply[2] = (uint8_t)code;
    return 3;
}

static size_t answer_read(struct bad_modbus *bad, const uint8_t *body, const struct bad_rule *rule,
                          uint8_t *reply)
{
    int address = body[2] << 8 | body[3], count = body[4] << 8 | body[5];
    if (count == 0 || count > (body[1] == 1 ? 2000 : 125)) {
        return exception(reply, 3);
    }
    if (address + count > ADDRESSES) {
        return exception(reply, 2);
    }
    if (rule && body[1] != 1) {
        count += (rule->kind == BAD_LONG) - (rule->kind == BAD_SHORT);
    }
    size_t size = 3;
    if (body[1] == 1) {
        memset(reply + 3, 0, (size_t)(count + 7) / 8);
        for (int i = 0; i < count; i++) {
            reply[3 + i / 8] |= (uint8_t)(bad->coils[body[0]][address + i] << i % 8);
        }
        size += (size_t)(count + 7) / 8;
    } else {
        const uint16_t *source = body[1] == 3 ? bad->holding[body[0]] : bad->input[body[0]];
        for (int i = 0; i < count; i++) {
            uint16_t word = source[(address + i) % ADDRESSES];
            reply[size++] = (uint8_t)(word >> 8);
            reply[size++] = (uint8_t)word;
        }
    }
    reply[2] = (uint8_t)(size - 3);
    return size;
}

static size_t answer_write(struct bad_modbus *bad, const uint8_t *body, const struct bad_rule *rule,
                           uint8_t *reply)
{
    int address = body[2] << 8 | body[3];
    if (address >= ADDRESSES) {
        return exception(reply, 2);
    }
    memcpy(reply, body, 6);
    if (!rule || rule->kind != BAD_STUCK) {
        if (body[1] == 5) {
            bad->coils[body[0]][address] = body[4] == 0xFF;
        } else {
            const uint8_t *value = body[1] == 6 ? body + 4 : body + 7;
            int word = value[0] << 8 | value[1];
            bool has_steps = rule && rule->kind == BAD_STEPS;
            bad->holding[body[0]][address] =
                (uint16_t)(has_steps ? word - word % rule->value : word);
        }
    }
    if (rule && rule->kind == BAD_ECHO) {
        reply[5] ^= 1;
    }
    return 6;
}

/* The body of the answer, honest or wrong in its content. */
size_t bad_modbus_answer(struct bad_modbus *bad, const uint8_t *body, const struct bad_rule *rule,
                         uint8_t *reply)
{
    reply[0] = body[0];
    reply[1] = body[1];
    size_t size;
    if (rule && rule->kind == BAD_EXCEPTION) {
        size = exception(reply, rule->value);
    } else if (body[1] == 1 || body[1] == 3 || body[1] == 4) {
        size = answer_read(bad, body, rule, reply);
    } else if (body[1] == 5 || body[1] == 6 || body[1] == 16) {
        size = answer_write(bad, body, rule, reply);
    } else {
        size = exception(reply, 1);
    }
    if (rule && rule->kind == BAD_UNIT) {
        reply[0]++;
    }
    if (rule && rule->kind == BAD_FUNCTION) {
        reply[1] = reply[1] == 3 ? 4 : 3;
    }
    return size;
}

size_t bad_modbus_frame(const struct bad_modbus *bad, const uint8_t *request, const uint8_t *body,
                        size_t size, const struct bad_rule *rule, uint8_t *ret)
{
    bool is_broken = rule && rule->kind == BAD_CHECKSUM;
    if (bad->is_tcp) {
        memcpy(ret, request, 4);
        if (rule && rule->kind == BAD_TRANSACTION) {
            ret[1] ^= 0x55;
        }
        ret[4] = 0;
        ret[5] = (uint8_t)(size + is_broken);
        memcpy(ret + 6, body, size);
        return size + 6;
    }
    memcpy(ret, body, size);
    uint16_t crc = (uint16_t)(bad_modbus_crc16(body, size) ^ is_broken);
    ret[size] = (uint8_t)crc;
    ret[size + 1] = (uint8_t)(crc >> 8);
    return size + 2;
}
