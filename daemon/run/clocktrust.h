/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Whether wall time may be believed. Pure: the caller reads the clocks and the kernel's word.
 *
 * synchronised: the kernel says so. It wins also over a later entry in the journal (then the
 * journal holds entries from a clock that ran ahead, and `is_behind_journal` says so), but not over
 * the build: before the program was built, or 20 years after it, no clock is believed, whoever
 * vouches for it. held over: not synchronised now, but either it was in this boot and has not
 * stepped since, or it is not earlier than anything the journal holds, at most a year later, and
 * the configuration trusts such a clock (a board with a battery clock). untrusted: everything else.
 * The plan then follows each space's policy.
 */
#ifndef LAMPWARDEN_CLOCKTRUST_H
#define LAMPWARDEN_CLOCKTRUST_H

#include "clock.h"
#include "space.h"

struct clocktrust_rules {
    int64_t build_s; /* wall time of the build */
    int64_t
        latest_s; /* the journal's latest entry, or a later trusted time that was kept; 0: none */
    bool trusts_held_over;
};

struct clocktrust {
    enum clock_trust trust;
    const char *reason;       /* half a sentence: why it is (un)trusted */
    bool was_synchronised;    /* in this boot, at synced_offset_ns */
    int64_t synced_offset_ns; /* wall − boot time when last synchronised */
    bool has_offset;
    int64_t first_boot_ns;  /* boot time of the first look */
    int64_t offset_ns;      /* wall − boot time of the last look */
    bool is_behind_journal; /* synchronised, yet more than an hour before the journal's latest entry
                             */
};

struct clocktrust_change {
    bool trust_changed;
    bool stepped;         /* wall against boot time jumped by more than 2 s */
    int64_t from_s, to_s; /* what wall time would have been, and what it is */
};

/* A state before the first look. synced_offset_ns: kept by an earlier run of the same boot;
 * has_sync false: none. */
void clocktrust_init(struct clocktrust *trust, bool has_sync, int64_t synced_offset_ns);

struct clocktrust_change clocktrust_step(const struct clocktrust_rules *rules,
                                         struct clocktrust *trust, int64_t boot_ns, int64_t wall_ns,
                                         enum clock_sync sync);

const char *clocktrust_name(enum clock_trust trust); /* "untrusted", "held-over", "synchronised" */

#endif
