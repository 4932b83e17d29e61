/* SPDX-License-Identifier: Apache-2.0 */
/* What the parts of the misbehaving device share; for bad_modbus*.c alone. */
#ifndef LAMPWARDEN_BAD_MODBUS_PARTS_H
#define LAMPWARDEN_BAD_MODBUS_PARTS_H

#include "bad_modbus.h"

#include <pthread.h>

enum {
    ADDRESSES = 256,
    RULES_MAX = 16,
    PENDING_MAX = 2048,
    FRAME_MAX = 300,
    RECORD_MAX = 65536,
    UNITS = 256,
};

struct pending {
    int64_t due_ns;
    size_t size;
    uint8_t bytes[FRAME_MAX];
};

struct bad_modbus {
    bool is_tcp, has_echo;
    pthread_t thread;
    pthread_mutex_t mutex;
    pthread_cond_t has_vanished;
    int wake;     /* eventfd */
    int listener; /* TCP */
    int line;     /* pty master or TCP connection; −1 */
    int keep;     /* our own descriptor of the pty slave: without it the master reports a hang-up */
    char device[64];
    int port;
    bool stopping, vanish_asked, vanished, frozen;
    int collisions;
    struct bad_rule rules[RULES_MAX];
    int rule_count;
    uint16_t holding[UNITS][ADDRESSES], input[UNITS][ADDRESSES];
    bool coils[UNITS][ADDRESSES];
    struct pending *pending;
    int pending_count;
    uint8_t incoming[FRAME_MAX];
    size_t incoming_size;
    int64_t incoming_ns, sent_ns, least_gap_ns;
    uint8_t record[RECORD_MAX];
    size_t recorded;
    int requests, connections;
};

/* The body of the answer to a body, honest or wrong in its content; returns its size. */
size_t bad_modbus_answer(struct bad_modbus *bad, const uint8_t *body, const struct bad_rule *rule,
                         uint8_t *reply);

/* Puts around it what the line wants, or the wrong thing; `request` is the whole frame asked. */
size_t bad_modbus_frame(const struct bad_modbus *bad, const uint8_t *request, const uint8_t *body,
                        size_t size, const struct bad_rule *rule, uint8_t *ret);

#endif
