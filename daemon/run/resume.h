/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The running state of every space, so that neither kill -9 nor a power cut starts the day afresh.
 *
 * Two places: a memory-mapped file in the runtime folder, written every tick without a system call,
 * two slots a space with a sequence and a CRC-32 (survives the process); and the journal, every
 * minute (survives a reboot). Both hold the same packed record. Damaged, foreign and future records
 * are not used.
 *
 * Boot times inside a record belong to the boot in which it was written. After a reboot they are
 * moved so that the time since the record, by a trusted wall clock, is the gap that decide sees;
 * with an untrusted clock the length of the gap is unknown and taken as none.
 */
#ifndef LAMPWARDEN_RESUME_H
#define LAMPWARDEN_RESUME_H

#include "config.h"
#include "decide.h"

#include <stddef.h>

#define RESUME_BOOT_ID 36 /* characters of a boot id */

/* What goes with the state of a space. */
struct resume_record {
    char space[CONFIG_NAME_MAX];
    char boot_id[RESUME_BOOT_ID + 1];
    int64_t boot_ns, wall_s;  /* when it was written */
    bool clock_trusted;       /* wall_s may be believed */
    bool has_sync;            /* the clock was synchronised in that boot … */
    int64_t synced_offset_ns; /* … with this difference of wall and boot time */
    struct hand hand;         /* a hand command goes on until its end */
    int fixture_count;
    char fixtures[SPACE_FIXTURES_MAX][CONFIG_NAME_MAX];
    struct space_state state;
};

/* The moment of the restart. */
struct resume_moment {
    const char *boot_id;
    int64_t boot_ns, wall_s;
    bool clock_trusted;
};

/* Takes of a space's state what is packed, and leaves the rest of *record as it is. Its
 * fixture_count is set before. */
void resume_note(struct resume_record *record, const struct space_state *state);

/* Largest packed record. Only the fixtures in use are packed, and nothing that space_resume
 * forgets. */
#define RESUME_PACKED_MAX (sizeof(struct resume_record) + 64)
size_t resume_pack(const struct resume_record *record, uint64_t sequence, void *buffer);
/* -EILSEQ: damaged, or it cannot be true (resume_check.h); -EPROTO: of another version of the
 * program. ret_sequence may be NULL. */
int resume_unpack(const void *data, size_t size, struct resume_record *ret, uint64_t *ret_sequence,
                  struct err *err);
/* A quick look whether data[RESUME_PACKED_MAX] could hold a record of that space. */
bool resume_may_be(const void *data, const char *space);

/* 0 when the record may be used at this moment, after moving its boot times; -ESTALE when it is
 * from the future. */
int resume_rebase(struct resume_record *record, const struct resume_moment *moment,
                  struct err *err);

/* The newer of two records for the same moment (either may be NULL). */
const struct resume_record *resume_newer(const struct resume_record *a,
                                         const struct resume_record *b);

/* Gives the record's state to a space: fixtures go by their names, new ones start afresh. *state
 * must be initialised; space_resume is the caller's next step. */
void resume_adopt(const struct resume_record *record, const struct config *config, int space,
                  struct space_state *state);

/* --- the file in the runtime folder ---------------------------------------------------------- */

struct resume;

/* Maps a new file PATH.new with room for `count` spaces; resume_commit renames it over PATH, so
 * that the old one stands until the new one is filled. */
int resume_create(const char *path, int count, struct resume **ret, struct err *err);
void resume_store(struct resume *resume, int index, const struct resume_record *record);
int resume_commit(struct resume *resume, struct err *err);
bool resume_is_committed(const struct resume *resume);
void resume_close(struct resume *resume); /* leaves the file; NULL is fine */

/* The newest whole record of a space in a file. -ENOENT: no file or no such space in it; -EILSEQ,
 * -EPROTO as above when only such records are there. */
int resume_read(const char *path, const char *space, struct resume_record *ret, struct err *err);

/* Reads /proc/sys/kernel/random/boot_id, or leaves "unknown" where there is none: a boot that is
 * unlike every other, itself included. */
void resume_boot_id(char ret[RESUME_BOOT_ID + 1]);

#endif
