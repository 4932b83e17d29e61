/* SPDX-License-Identifier: Apache-2.0 */
#include "modbus_line.h"

#define NS_PER_S  INT64_C(1000000000)
#define NS_PER_MS INT64_C(1000000)

/* Slaves with slow firmware or transmitters; common practice, no source. */
#define WARY_GAP_LEAST_NS (10 * NS_PER_MS)
/* A silent unit makes its neighbours take our next request for its answer unless they see a pause.
 */
#define PAUSE_AFTER_TROUBLE_NS (500 * NS_PER_MS)
/* So that one answer cannot use up the time of a whole read. */
#define ANSWER_ON_WIRE_MAX_NS (500 * NS_PER_MS)

enum {
    FAST_BAUD = 19200,
    RTU_CRC = 2,
    READ_OVERHEAD = 5, /* unit, function, byte count, CRC */
    BACKOFF_MAX_S = 60,
};

int64_t modbus_line_char_ns(int baud, int bits)
{
    return NS_PER_S * bits / baud;
}

int64_t modbus_line_t15_ns(int baud, int bits)
{
    return baud > FAST_BAUD ? 750000 : NS_PER_S * bits * 3 / (2 * (int64_t)baud);
}

int64_t modbus_line_t35_ns(int baud, int bits)
{
    return baud > FAST_BAUD ? 1750000 : NS_PER_S * bits * 7 / (2 * (int64_t)baud);
}

static int64_t larger(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

void modbus_line_serial(struct modbus_timing *ret, int baud, int bits, int timeout_ms,
                        int worst_reply_ms)
{
    /* a receiver reports a character as early as the middle of its stop bit */
    int64_t gap = modbus_line_t35_ns(baud, bits) + NS_PER_S / baud;
    *ret = (struct modbus_timing){
        .is_serial = true,
        .char_ns = modbus_line_char_ns(baud, bits),
        .gap_ns = gap,
        .wary_gap_ns = larger(2 * gap, WARY_GAP_LEAST_NS),
        .timeout_ns = timeout_ms * NS_PER_MS,
        .silence_ns = larger(worst_reply_ms * NS_PER_MS, PAUSE_AFTER_TROUBLE_NS),
    };
}

void modbus_line_tcp(struct modbus_timing *ret, int timeout_ms, int worst_reply_ms)
{
    *ret = (struct modbus_timing){
        .timeout_ns = timeout_ms * NS_PER_MS,
        .silence_ns = worst_reply_ms * NS_PER_MS,
    };
}

int64_t modbus_line_patience_ns(const struct modbus_timing *timing,
                                const struct modbus_request *request)
{
    size_t bytes = MODBUS_PDU_REQUEST_MAX + modbus_pdu_reply_size(request) + 2 * (size_t)RTU_CRC;
    int64_t own_ns = timing->paces[request->unit].timeout_ns;
    return (own_ns > 0 ? own_ns : timing->timeout_ns) + (int64_t)bytes * timing->char_ns;
}

int modbus_line_registers_max(const struct modbus_timing *timing)
{
    if (timing->char_ns == 0) {
        return MODBUS_PDU_REGISTERS_MAX;
    }
    int64_t fit = (ANSWER_ON_WIRE_MAX_NS / timing->char_ns - READ_OVERHEAD) / 2;
    return fit < MODBUS_PDU_REGISTERS_MAX ? (int)larger(fit, 2) : MODBUS_PDU_REGISTERS_MAX;
}

void modbus_line_opened(struct modbus_line *line, int64_t now_ns)
{
    line->quiet_since_ns = now_ns;
    line->last_unit = 0;
    bool is_tainted = line->timing.is_serial && line->trouble_ns != 0 &&
                      now_ns - line->trouble_ns < line->timing.silence_ns;
    line->state = is_tainted ? MODBUS_QUARANTINE : MODBUS_UP;
}

void modbus_line_closed(struct modbus_line *line)
{
    line->state = MODBUS_CLOSED;
}

void modbus_line_answered(struct modbus_line *line, uint8_t unit, int64_t now_ns)
{
    line->quiet_since_ns = now_ns;
    line->last_unit = unit;
    line->misses = 0;
}

void modbus_line_trouble(struct modbus_line *line, uint8_t unit, int64_t now_ns)
{
    line->quiet_since_ns = now_ns;
    line->trouble_ns = now_ns;
    line->last_unit = unit;
    line->is_wary[unit] = true;
    line->misses++;
    line->state = line->timing.is_serial ? MODBUS_QUARANTINE : MODBUS_CLOSED;
}

void modbus_line_heard(struct modbus_line *line, int64_t now_ns)
{
    line->quiet_since_ns = now_ns;
    if (line->state == MODBUS_QUARANTINE) {
        line->trouble_ns = now_ns;
    }
}

void modbus_line_urgent(struct modbus_line *line)
{
    if (line->state == MODBUS_QUARANTINE) {
        line->state = MODBUS_UP;
    }
    if (!line->timing.is_serial) {
        line->trouble_ns = 0;
    }
}

enum modbus_state modbus_line_step(struct modbus_line *line, int64_t now_ns)
{
    if (line->state == MODBUS_QUARANTINE &&
        now_ns - line->quiet_since_ns >= line->timing.silence_ns) {
        line->state = MODBUS_UP;
    }
    return line->state;
}

int64_t modbus_line_earliest_ns(const struct modbus_line *line, uint8_t unit)
{
    const struct modbus_timing *timing = &line->timing;
    bool is_wary = line->is_wary[unit] || line->is_wary[line->last_unit];
    int64_t gap = is_wary ? timing->wary_gap_ns : timing->gap_ns;
    gap = larger(gap, timing->paces[unit].gap_ns);
    gap = larger(gap, timing->paces[line->last_unit].gap_ns);
    int64_t earliest = line->quiet_since_ns + gap;
    if (line->trouble_ns != 0 && !timing->is_serial) {
        earliest = larger(earliest, line->trouble_ns + timing->silence_ns);
    }
    return earliest;
}

int64_t modbus_line_done_ns(const struct modbus_line *line, const struct modbus_request *request,
                            int64_t now_ns)
{
    return larger(now_ns, modbus_line_earliest_ns(line, request->unit)) +
           modbus_line_patience_ns(&line->timing, request);
}

void modbus_health_failed(struct modbus_health *health, const struct modbus_request *request,
                          int64_t now_ns)
{
    int64_t wait_s = health->failures < 6 ? INT64_C(1) << health->failures : BACKOFF_MAX_S;
    health->failures++;
    health->retry_ns = now_ns + wait_s * NS_PER_S;
    health->has_suspect = true;
    health->suspect = *request;
}

void modbus_health_answered(struct modbus_health *health)
{
    *health = (struct modbus_health){0};
}

void modbus_health_reopened(struct modbus_health *health)
{
    health->retry_ns = 0;
}

bool modbus_health_is_due(const struct modbus_health *health, int64_t now_ns)
{
    return now_ns >= health->retry_ns;
}

struct modbus_request modbus_health_probe(const struct modbus_health *health,
                                          const struct modbus_request *usual)
{
    struct modbus_request probe = *usual;
    bool is_mistakable = health->has_suspect && health->suspect.function == usual->function &&
                         modbus_pdu_reply_size(&health->suspect) == modbus_pdu_reply_size(usual);
    if (!is_mistakable || health->failures % 2 == 0) {
        return probe;
    }
    if (probe.count > 1 && probe.function != MODBUS_PDU_READ_COILS) {
        probe.count--;
        return probe;
    }
    uint16_t more = probe.function == MODBUS_PDU_READ_COILS ? 8 : 1;
    if (probe.address > UINT16_MAX - more) {
        probe.address = (uint16_t)(probe.address - more);
    }
    probe.count = (uint16_t)(probe.count + more);
    return probe;
}
