/* SPDX-License-Identifier: Apache-2.0 */
#include "resume.h"

#include "err.h"
#include "fileio.h"
#include "resume_check.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Change it when the meaning of a field changes; sizes are compared beside it. */
enum { RESUME_VERSION = 4 };
static const uint32_t resume_magic = 0x4c57524d; /* "LWRM" */

struct pack_head {
    uint32_t magic, version;
    uint32_t record_size, fixture_size; /* of this build's structs */
    uint64_t sequence;
    uint32_t size; /* of what follows the head */
    uint32_t crc;  /* of what follows the head and of the sequence */
};

/* A record is packed as what stands before its fixtures' names, the state up to what
 * space_resume forgets, and each fixture in use: so that the states of some spaces share a page of
 * the journal's database, which writes whole pages. */
#define PREFIX_SIZE offsetof(struct resume_record, fixtures)
#define STATE_SIZE                                                                                 \
    (offsetof(struct space_state, clearness) + offsetof(struct clearness, row_prediction))
#define FIXED_SIZE   (PREFIX_SIZE + STATE_SIZE)
#define FIXTURE_SIZE (CONFIG_NAME_MAX + sizeof(struct fixture_state))

_Static_assert(offsetof(struct space_state, fixtures) -
                       offsetof(struct space_state, history_next) <=
                   sizeof(int64_t),
               "nothing but the history stands between what is packed");
_Static_assert(RESUME_PACKED_MAX >= sizeof(struct pack_head) + sizeof(struct resume_record),
               "a packed record fits its buffer");

static uint32_t checksum(const struct pack_head *head, const unsigned char *body)
{
    return fileio_crc32(body, head->size) ^ (uint32_t)head->sequence ^
           (uint32_t)(head->sequence >> 32);
}

static size_t packed_size(int fixtures)
{
    return FIXED_SIZE + (size_t)fixtures * FIXTURE_SIZE;
}

void resume_note(struct resume_record *record, const struct space_state *state)
{
    memcpy(&record->state, state, STATE_SIZE);
    memcpy(record->state.fixtures, state->fixtures,
           (size_t)record->fixture_count * sizeof state->fixtures[0]);
}

size_t resume_pack(const struct resume_record *record, uint64_t sequence, void *buffer)
{
    unsigned char *body = (unsigned char *)buffer + sizeof(struct pack_head);
    struct pack_head head = {
        .magic = resume_magic,
        .version = RESUME_VERSION,
        .record_size = sizeof *record,
        .fixture_size = sizeof(struct fixture_state),
        .sequence = sequence,
        .size = (uint32_t)packed_size(record->fixture_count),
    };
    memcpy(body, record, PREFIX_SIZE);
    memcpy(body + PREFIX_SIZE, &record->state, STATE_SIZE);
    for (int i = 0; i < record->fixture_count; i++) {
        unsigned char *place = body + packed_size(i);
        memcpy(place, record->fixtures[i], CONFIG_NAME_MAX);
        memcpy(place + CONFIG_NAME_MAX, &record->state.fixtures[i], sizeof(struct fixture_state));
    }
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
    for (int i = 0; i < record->fixture_count; i++) {
        if (!ends_within(record->fixtures[i], sizeof record->fixtures[i])) {
            return false;
        }
    }
    return ends_within(record->space, sizeof record->space) &&
           ends_within(record->boot_id, sizeof record->boot_id);
}

/* False when the body has not the size that it says. */
static bool unpack_body(const unsigned char *body, size_t size, struct resume_record *ret)
{
    memcpy(ret, body, PREFIX_SIZE);
    memcpy(&ret->state, body + PREFIX_SIZE, STATE_SIZE);
    if (!(ret->fixture_count >= 0 && ret->fixture_count <= SPACE_FIXTURES_MAX) ||
        size != packed_size(ret->fixture_count)) {
        return false;
    }
    for (int i = 0; i < ret->fixture_count; i++) {
        const unsigned char *place = body + packed_size(i);
        memcpy(ret->fixtures[i], place, CONFIG_NAME_MAX);
        memcpy(&ret->state.fixtures[i], place + CONFIG_NAME_MAX, sizeof(struct fixture_state));
    }
    return true;
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
    if (!unpack_body(body, head.size, &record) || !is_sane(&record)) {
        return err_fail(err, EILSEQ, "a damaged saved state");
    }
    int code = resume_check(&record, err);
    if (code < 0) {
        return code;
    }
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
