/* SPDX-License-Identifier: Apache-2.0 */
#include "resume.h"

#include "err.h"
#include "fileio.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Change it when the meaning of a field changes; sizes are compared beside it. */
enum { RESUME_VERSION = 1 };
static const uint32_t resume_magic = 0x4c57524d; /* "LWRM" */

struct pack_head {
    uint32_t magic, version;
    uint32_t record_size, fixture_size; /* of this build's structs */
    uint64_t sequence;
    uint32_t size; /* of what follows the head */
    uint32_t crc;  /* of what follows the head and of the sequence */
};

/* A record is packed as its fixed part, the fixtures in use, and nothing else. */
#define FIXED_SIZE (offsetof(struct resume_record, state) + offsetof(struct space_state, fixtures))

_Static_assert(RESUME_PACKED_MAX >= sizeof(struct pack_head) + sizeof(struct resume_record),
               "a packed record fits its buffer");

static uint32_t checksum(const struct pack_head *head, const unsigned char *body)
{
    return fileio_crc32(body, head->size) ^ (uint32_t)head->sequence ^
           (uint32_t)(head->sequence >> 32);
}

size_t resume_pack(const struct resume_record *record, uint64_t sequence, void *buffer)
{
    size_t tail = (size_t)record->fixture_count * sizeof(struct fixture_state);
    unsigned char *body = (unsigned char *)buffer + sizeof(struct pack_head);
    struct pack_head head = {
        .magic = resume_magic,
        .version = RESUME_VERSION,
        .record_size = sizeof *record,
        .fixture_size = sizeof(struct fixture_state),
        .sequence = sequence,
        .size = (uint32_t)(FIXED_SIZE + tail),
    };
    memcpy(body, record, FIXED_SIZE);
    memcpy(body + FIXED_SIZE, record->state.fixtures, tail);
    head.crc = checksum(&head, body);
    memcpy(buffer, &head, sizeof head); /* last: a torn write leaves a head that does not fit */
    return sizeof head + head.size;
}

static bool ends_within(const char *text, size_t size)
{
    return memchr(text, '\0', size) != NULL;
}

static bool is_sane(const struct resume_record *record)
{
    if (!(record->fixture_count >= 0 && record->fixture_count <= SPACE_FIXTURES_MAX)) {
        return false;
    }
    for (int i = 0; i < record->fixture_count; i++) {
        if (!ends_within(record->fixtures[i], sizeof record->fixtures[i])) {
            return false;
        }
    }
    return ends_within(record->space, sizeof record->space) &&
           ends_within(record->boot_id, sizeof record->boot_id);
}

int resume_unpack(const void *data, size_t size, struct resume_record *ret, uint64_t *ret_sequence,
                  struct err *err)
{
    struct pack_head head;
    const unsigned char *body = (const unsigned char *)data + sizeof head;
    if (size < sizeof head) {
        return err_fail(err, EILSEQ, "a saved state of %zu bytes is cut short", size);
    }
    memcpy(&head, data, sizeof head);
    if (head.magic != resume_magic) {
        return err_fail(err, EILSEQ, "no saved state");
    }
    if (head.version != RESUME_VERSION || head.record_size != sizeof *ret ||
        head.fixture_size != sizeof(struct fixture_state)) {
        return err_fail(err, EPROTO, "a saved state of another version of this program");
    }
    if (head.size < FIXED_SIZE || head.size > sizeof *ret || head.size > size - sizeof head ||
        checksum(&head, body) != head.crc) {
        return err_fail(err, EILSEQ, "a damaged saved state");
    }
    struct resume_record record = {.fixture_count = 0};
    memcpy(&record, body, FIXED_SIZE);
    if (!is_sane(&record) ||
        head.size != FIXED_SIZE + (size_t)record.fixture_count * sizeof(struct fixture_state)) {
        return err_fail(err, EILSEQ, "a damaged saved state");
    }
    memcpy(record.state.fixtures, body + FIXED_SIZE, head.size - FIXED_SIZE);
    *ret = record;
    if (ret_sequence) {
        *ret_sequence = head.sequence;
    }
    return 0;
}

bool resume_may_be(const void *data, const char *space)
{
    const char *name = (const char *)data + sizeof(struct pack_head);
    return strncmp(name + offsetof(struct resume_record, space), space, CONFIG_NAME_MAX) == 0;
}

/* History and heat filters start afresh in space_resume: their times need not move. */
static void move_boot_times(struct resume_record *record, int64_t shift_ns)
{
    record->boot_ns += shift_ns;
    record->hand.until_ns += shift_ns;
    record->state.boot_ns += shift_ns;
    if (record->state.daylight_ns != 0) { /* 0: none yet */
        record->state.daylight_ns += shift_ns;
    }
}

static const char unknown_boot[] = "unknown";

/* Two boots without a name may be any two. */
static bool is_same_boot(const char *a, const char *b)
{
    return strcmp(a, b) == 0 && strcmp(a, unknown_boot) != 0;
}

int resume_rebase(struct resume_record *record, const struct resume_moment *moment, struct err *err)
{
    if (is_same_boot(record->boot_id, moment->boot_id)) {
        if (record->boot_ns > moment->boot_ns) {
            return err_fail(err, ESTALE, "a saved state from the future of this boot");
        }
        return 0;
    }
    int64_t gap_s = 0;
    int64_t saved_s = record->clock_trusted ? record->wall_s : record->state.wall_s;
    if (moment->clock_trusted && saved_s != 0) {
        gap_s = moment->wall_s - saved_s;
        if (gap_s < 0) {
            return err_fail(err, ESTALE, "a saved state from %lld s in the future",
                            (long long)-gap_s);
        }
    }
    move_boot_times(record, moment->boot_ns - gap_s * UNITS_NS_PER_S - record->boot_ns);
    (void)snprintf(record->boot_id, sizeof record->boot_id, "%s", moment->boot_id);
    record->has_sync = false; /* that was another boot's clock */
    return 0;
}

const struct resume_record *resume_newer(const struct resume_record *a,
                                         const struct resume_record *b)
{
    if (!a || !b) {
        return a ? a : b;
    }
    return b->boot_ns > a->boot_ns ? b : a;
}

void resume_adopt(const struct resume_record *record, const struct config *config, int space,
                  struct space_state *state)
{
    const struct config_space *its = &config->spaces[space];
    struct space_state adopted = record->state;
    for (int place = 0; place < SPACE_FIXTURES_MAX; place++) {
        adopted.fixtures[place] = state->fixtures[place];
    }
    for (int place = 0; place < its->rules.fixture_count; place++) {
        const char *name = config->fixtures[its->fixtures[place]].name;
        for (int i = 0; i < record->fixture_count; i++) {
            if (strcmp(record->fixtures[i], name) == 0) {
                adopted.fixtures[place] = record->state.fixtures[i];
            }
        }
    }
    *state = adopted;
}

void resume_boot_id(char ret[RESUME_BOOT_ID + 1])
{
    FILE *file = fopen("/proc/sys/kernel/random/boot_id", "re");
    if (!file || fscanf(file, "%36s", ret) != 1) {
        (void)snprintf(ret, RESUME_BOOT_ID + 1, "%s", unknown_boot);
    }
    if (file) {
        (void)fclose(file);
    }
}
