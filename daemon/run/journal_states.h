/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The newest saved state of every space on its way to the journal: a later one replaces an earlier
 * one, so nothing queues up. Memory is taken with the first state of a space and grows only with
 * its size. No locks: the caller holds one.
 */
#ifndef LAMPWARDEN_JOURNAL_STATES_H
#define LAMPWARDEN_JOURNAL_STATES_H

#include "journal.h"

enum { JOURNAL_STATES_MAX = 513 /* four a space, and one for the daemon itself */ };

struct journal_states {
    struct {
        char space[JOURNAL_NAME_MAX];
        int64_t wall_s;
        size_t size, room;
        void *data;
        uint64_t put_count, written_count; /* equal: nothing to write */
    } slots[JOURNAL_STATES_MAX];
    int count;
};

bool journal_states_put(struct journal_states *states, const struct journal_state *state);

/* How many still have to be written. */
size_t journal_states_waiting(const struct journal_states *states);

/* Copies slot `index` for the writer when it waits: *ret_size 0 when it does not. The buffer is
 * grown as needed; *ret_mark goes to journal_states_settle once the copy is committed. -ENOMEM. */
struct journal_states_copy {
    struct journal_state state; /* data points to `buffer` */
    uint64_t mark;
    void *buffer;
    size_t room;
};
int journal_states_copy(const struct journal_states *states, int index,
                        struct journal_states_copy *copy);
void journal_states_settle(struct journal_states *states, int index, uint64_t mark);

void journal_states_finish(struct journal_states *states);

#endif
