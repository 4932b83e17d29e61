/* SPDX-License-Identifier: Apache-2.0 */
#include "bad_modbus_parts.h"

#include "clock.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

static void queue(struct bad_modbus *bad, int64_t due_ns, const uint8_t *bytes, size_t size)
{
    if (bad->pending_count < PENDING_MAX && size <= FRAME_MAX) {
        struct pending *pending = &bad->pending[bad->pending_count++];
        pending->due_ns = due_ns;
        pending->size = size;
        memcpy(pending->bytes, bytes, size);
    }
}

static struct bad_rule *find_rule(struct bad_modbus *bad, const uint8_t *body)
{
    int address = body[2] << 8 | body[3];
    int count = body[1] <= 4 ? body[4] << 8 | body[5] : 1;
    for (int i = 0; i < bad->rule_count; i++) {
        struct bad_rule *rule = &bad->rules[i];
        bool fits =
            (rule->unit < 0 || rule->unit == body[0]) &&
            (rule->function < 0 || rule->function == body[1]) &&
            (rule->address < 0 || (rule->address >= address && rule->address < address + count));
        if (fits && rule->times != 0) {
            rule->times -= rule->times > 0;
            return rule;
        }
    }
    return NULL;
}

static void reset_connection(struct bad_modbus *bad)
{
    struct linger linger = {.l_onoff = 1};
    (void)setsockopt(bad->line, SOL_SOCKET, SO_LINGER, &linger, sizeof linger);
    (void)close(bad->line);
    bad->line = -1;
}

static void send_by_rule(struct bad_modbus *bad, const struct bad_rule *rule, const uint8_t *bytes,
                         size_t size)
{
    static const uint8_t zeros[64];
    int64_t now = clock_boot_ns();
    int64_t wait = rule ? rule->value * CLOCK_NS_PER_MS : 0;
    if (rule && rule->kind == BAD_LATE) {
        queue(bad, now + wait, bytes, size);
    } else if (rule && rule->kind == BAD_DRIP) {
        for (size_t i = 0; i < size; i++) {
            queue(bad, now + (int64_t)(i + 1) * wait, bytes + i, 1);
        }
    } else if (rule && rule->kind == BAD_HALF) {
        queue(bad, now, bytes, size / 2);
    } else {
        if (rule && rule->kind == BAD_NOISE) {
            queue(bad, now, zeros, (size_t)rule->value);
        }
        queue(bad, now, bytes, size);
        if (rule && rule->kind == BAD_TWICE) {
            queue(bad, now, bytes, size);
        }
    }
}

/* request: the whole frame; body: from the unit on. */
static void handle(struct bad_modbus *bad, const uint8_t *request, const uint8_t *body)
{
    bad->requests++;
    const struct bad_rule *rule = find_rule(bad, body);
    if (rule && rule->kind == BAD_RESET) {
        reset_connection(bad);
        return;
    }
    uint8_t reply[FRAME_MAX], framed[FRAME_MAX];
    size_t size = bad_modbus_answer(bad, body, rule, reply);
    if (rule && rule->kind == BAD_SILENT) {
        return;
    }
    size = bad_modbus_frame(bad, request, reply, size, rule, framed);
    send_by_rule(bad, rule, framed, size);
}

static size_t body_size(const uint8_t *body, size_t size)
{
    if (size >= 7 && body[1] == 16) {
        return 7 + (size_t)body[6];
    }
    return 6;
}

static void take_frames(struct bad_modbus *bad)
{
    size_t before = bad->is_tcp ? 6 : 0, after = bad->is_tcp ? 0 : 2;
    while (bad->incoming_size >= before + 6 + after) {
        const uint8_t *body = bad->incoming + before;
        size_t size = before + body_size(body, bad->incoming_size - before) + after;
        if (bad->incoming_size < size) {
            return;
        }
        size_t covered = size - after;
        uint16_t crc = after ? bad_modbus_crc16(body, covered) : 0;
        bool is_whole = !after || (bad->incoming[covered] == (crc & 0xFF) &&
                                   bad->incoming[covered + 1] == crc >> 8);
        if (is_whole) {
            handle(bad, bad->incoming, body);
        }
        bad->incoming_size -= size;
        memmove(bad->incoming, bad->incoming + size, bad->incoming_size);
    }
}

static void take_bytes(struct bad_modbus *bad)
{
    int64_t now = clock_boot_ns();
    if (now - bad->incoming_ns > 50 * CLOCK_NS_PER_MS) {
        bad->incoming_size = 0; /* the rest of a damaged frame */
    }
    uint8_t *place = bad->incoming + bad->incoming_size;
    ssize_t got = read(bad->line, place, sizeof bad->incoming - bad->incoming_size);
    if (got <= 0) {
        if (bad->is_tcp) {
            (void)close(bad->line);
            bad->line = -1;
        }
        return;
    }
    if (bad->incoming_size == 0 && bad->sent_ns > 0 && now - bad->sent_ns < bad->least_gap_ns) {
        bad->least_gap_ns = now - bad->sent_ns;
    }
    if (bad->has_echo) {
        uint8_t echo[FRAME_MAX];
        memcpy(echo, place, (size_t)got);
        if (bad->collisions > 0) {
            bad->collisions--;
            echo[0] ^= 0x10;
        }
        queue(bad, 0, echo, (size_t)got);
    }
    size_t room = sizeof bad->record - bad->recorded;
    size_t kept = (size_t)got < room ? (size_t)got : room;
    memcpy(bad->record + bad->recorded, place, kept);
    bad->recorded += kept;
    bad->incoming_size += (size_t)got;
    bad->incoming_ns = now;
    take_frames(bad);
}

static void take_connection(struct bad_modbus *bad)
{
    int connection = accept4(bad->listener, NULL, NULL, SOCK_CLOEXEC);
    if (connection < 0) {
        return;
    }
    if (bad->line >= 0) {
        (void)close(bad->line);
    }
    bad->line = connection;
    bad->incoming_size = 0;
    bad->connections++;
}

/* Sends what is due; returns how long until the next, in ms, −1: nothing waits. */
static int send_due(struct bad_modbus *bad)
{
    int64_t now = clock_boot_ns();
    int64_t next = INT64_MAX;
    int kept = 0;
    for (int i = 0; i < bad->pending_count; i++) {
        struct pending *pending = &bad->pending[i];
        if (pending->due_ns > now) {
            next = pending->due_ns < next ? pending->due_ns : next;
            if (kept != i) {
                bad->pending[kept] = *pending;
            }
            kept++;
        } else if (bad->line >= 0) {
            ssize_t sent = bad->is_tcp
                               ? send(bad->line, pending->bytes, pending->size, MSG_NOSIGNAL)
                               : write(bad->line, pending->bytes, pending->size);
            (void)sent; /* nobody listens any more: the tests notice */
            bad->sent_ns = clock_boot_ns();
        }
    }
    bad->pending_count = kept;
    return next == INT64_MAX ? -1 : (int)((next - now) / CLOCK_NS_PER_MS) + 1;
}

static void vanish(struct bad_modbus *bad)
{
    int *descriptors[] = {&bad->line, &bad->keep, &bad->listener};
    for (size_t i = 0; i < sizeof descriptors / sizeof *descriptors; i++) {
        if (*descriptors[i] >= 0) {
            (void)close(*descriptors[i]);
            *descriptors[i] = -1;
        }
    }
}

static void *serve(void *argument)
{
    struct bad_modbus *bad = argument;
    (void)pthread_mutex_lock(&bad->mutex);
    while (!bad->stopping) {
        if (bad->vanish_asked && !bad->vanished) {
            vanish(bad);
            bad->vanished = true;
            (void)pthread_cond_broadcast(&bad->has_vanished);
        }
        int wait = send_due(bad);
        struct pollfd polls[] = {{.fd = bad->wake, .events = POLLIN},
                                 {.fd = bad->frozen ? -1 : bad->listener, .events = POLLIN},
                                 {.fd = bad->frozen ? -1 : bad->line, .events = POLLIN}};
        (void)pthread_mutex_unlock(&bad->mutex);
        (void)poll(polls, 3, wait);
        (void)pthread_mutex_lock(&bad->mutex);
        if (polls[0].revents) {
            eventfd_t count;
            (void)eventfd_read(bad->wake, &count);
        }
        if (polls[2].revents && bad->line >= 0 && !bad->frozen) {
            take_bytes(bad);
        }
        if (polls[1].revents && bad->listener >= 0 && !bad->frozen) {
            take_connection(bad);
        }
    }
    (void)pthread_mutex_unlock(&bad->mutex);
    return NULL;
}

static struct bad_modbus *prepare(void)
{
    struct bad_modbus *bad = calloc(1, sizeof *bad);
    if (!bad) {
        return NULL;
    }
    bad->pending = calloc(PENDING_MAX, sizeof *bad->pending);
    bad->wake = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    bad->line = bad->listener = bad->keep = -1;
    bad->least_gap_ns = INT64_MAX;
    for (int unit = 0; unit < UNITS; unit++) {
        for (int address = 0; address < ADDRESSES; address++) {
            bad->holding[unit][address] = (uint16_t)((unit & 0x7F) << 8 | address);
            bad->input[unit][address] = bad->holding[unit][address] | 0x8000;
        }
    }
    (void)pthread_mutex_init(&bad->mutex, NULL);
    (void)pthread_cond_init(&bad->has_vanished, NULL);
    return bad;
}

static struct bad_modbus *launch(struct bad_modbus *bad, bool is_ready)
{
    if (is_ready && bad->pending && pthread_create(&bad->thread, NULL, serve, bad) == 0) {
        return bad;
    }
    vanish(bad);
    (void)close(bad->wake);
    free(bad->pending);
    free(bad);
    return NULL;
}

struct bad_modbus *bad_modbus_start_rtu(bool has_echo)
{
    struct bad_modbus *bad = prepare();
    if (!bad) {
        return NULL;
    }
    bad->has_echo = has_echo;
    bad->line = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    bool is_ready = bad->line >= 0 && grantpt(bad->line) == 0 && unlockpt(bad->line) == 0 &&
                    ptsname_r(bad->line, bad->device, sizeof bad->device) == 0;
    if (is_ready) {
        bad->keep = open(bad->device, O_RDWR | O_NOCTTY | O_CLOEXEC);
        struct termios raw;
        is_ready = bad->keep >= 0 && tcgetattr(bad->keep, &raw) == 0;
        cfmakeraw(&raw);
        is_ready = is_ready && tcsetattr(bad->keep, TCSANOW, &raw) == 0;
    }
    return launch(bad, is_ready);
}

struct bad_modbus *bad_modbus_start_tcp(void)
{
    struct bad_modbus *bad = prepare();
    if (!bad) {
        return NULL;
    }
    bad->is_tcp = true;
    bad->listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof address;
    bool is_ready = bad->listener >= 0 &&
                    bind(bad->listener, (struct sockaddr *)&address, size) == 0 &&
                    listen(bad->listener, 4) == 0 &&
                    getsockname(bad->listener, (struct sockaddr *)&address, &size) == 0;
    bad->port = ntohs(address.sin_port);
    return launch(bad, is_ready);
}

void bad_modbus_stop(struct bad_modbus *bad)
{
    if (!bad) {
        return;
    }
    (void)pthread_mutex_lock(&bad->mutex);
    bad->stopping = true;
    (void)pthread_mutex_unlock(&bad->mutex);
    (void)eventfd_write(bad->wake, 1);
    (void)pthread_join(bad->thread, NULL);
    vanish(bad);
    (void)close(bad->wake);
    (void)pthread_cond_destroy(&bad->has_vanished);
    (void)pthread_mutex_destroy(&bad->mutex);
    free(bad->pending);
    free(bad);
}

const char *bad_modbus_device(const struct bad_modbus *bad)
{
    return bad->device;
}

int bad_modbus_port(const struct bad_modbus *bad)
{
    return bad->port;
}

void bad_modbus_rule(struct bad_modbus *bad, struct bad_rule rule)
{
    (void)pthread_mutex_lock(&bad->mutex);
    if (bad->rule_count < RULES_MAX) {
        bad->rules[bad->rule_count++] = rule;
    }
    (void)pthread_mutex_unlock(&bad->mutex);
}

void bad_modbus_forget(struct bad_modbus *bad)
{
    (void)pthread_mutex_lock(&bad->mutex);
    bad->rule_count = 0;
    (void)pthread_mutex_unlock(&bad->mutex);
}

void bad_modbus_set_holding(struct bad_modbus *bad, int unit, int address, uint16_t value)
{
    (void)pthread_mutex_lock(&bad->mutex);
    bad->holding[unit][address] = value;
    (void)pthread_mutex_unlock(&bad->mutex);
}

void bad_modbus_set_input(struct bad_modbus *bad, int unit, int address, uint16_t value)
{
    (void)pthread_mutex_lock(&bad->mutex);
    bad->input[unit][address] = value;
    (void)pthread_mutex_unlock(&bad->mutex);
}

void bad_modbus_set_coil(struct bad_modbus *bad, int unit, int address, bool on)
{
    (void)pthread_mutex_lock(&bad->mutex);
    bad->coils[unit][address] = on;
    (void)pthread_mutex_unlock(&bad->mutex);
}

uint16_t bad_modbus_holding(struct bad_modbus *bad, int unit, int address)
{
    (void)pthread_mutex_lock(&bad->mutex);
    uint16_t value = bad->holding[unit][address];
    (void)pthread_mutex_unlock(&bad->mutex);
    return value;
}

bool bad_modbus_coil(struct bad_modbus *bad, int unit, int address)
{
    (void)pthread_mutex_lock(&bad->mutex);
    bool on = bad->coils[unit][address];
    (void)pthread_mutex_unlock(&bad->mutex);
    return on;
}

/* The thread does it: a descriptor closed under its poll() would live on until that returns. */
void bad_modbus_vanish(struct bad_modbus *bad)
{
    (void)pthread_mutex_lock(&bad->mutex);
    bad->vanish_asked = true;
    (void)eventfd_write(bad->wake, 1);
    while (!bad->vanished) {
        (void)pthread_cond_wait(&bad->has_vanished, &bad->mutex);
    }
    (void)pthread_mutex_unlock(&bad->mutex);
}

void bad_modbus_freeze(struct bad_modbus *bad, bool is_frozen)
{
    (void)pthread_mutex_lock(&bad->mutex);
    bad->frozen = is_frozen;
    (void)pthread_mutex_unlock(&bad->mutex);
    (void)eventfd_write(bad->wake, 1);
}

void bad_modbus_collide(struct bad_modbus *bad, int times)
{
    (void)pthread_mutex_lock(&bad->mutex);
    bad->collisions = times;
    (void)pthread_mutex_unlock(&bad->mutex);
}

size_t bad_modbus_recorded(struct bad_modbus *bad, uint8_t *ret, size_t room)
{
    (void)pthread_mutex_lock(&bad->mutex);
    size_t size = bad->recorded < room ? bad->recorded : room;
    memcpy(ret, bad->record, size);
    bad->recorded = 0;
    (void)pthread_mutex_unlock(&bad->mutex);
    return size;
}

int bad_modbus_requests(struct bad_modbus *bad)
{
    (void)pthread_mutex_lock(&bad->mutex);
    int count = bad->requests;
    (void)pthread_mutex_unlock(&bad->mutex);
    return count;
}

int bad_modbus_connections(struct bad_modbus *bad)
{
    (void)pthread_mutex_lock(&bad->mutex);
    int count = bad->connections;
    (void)pthread_mutex_unlock(&bad->mutex);
    return count;
}

int64_t bad_modbus_least_gap_ns(struct bad_modbus *bad)
{
    (void)pthread_mutex_lock(&bad->mutex);
    int64_t gap = bad->least_gap_ns;
    (void)pthread_mutex_unlock(&bad->mutex);
    return gap;
}
