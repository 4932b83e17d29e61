/* SPDX-License-Identifier: Apache-2.0 */
#include "journal_states.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static int find(const struct journal_states *states, const char *space)
{
    for (int i = 0; i < states->count; i++) {
        if (strncmp(states->slots[i].space, space, JOURNAL_NAME_MAX) == 0) {
            return i;
        }
    }
    return -1;
}

static bool grow(void **buffer, size_t *room, size_t size)
{
    if (size <= *room) {
        return true;
    }
    void *larger = realloc(*buffer, size);
    if (!larger) {
        return false;
    }
    *buffer = larger;
    *room = size;
    return true;
}

bool journal_states_put(struct journal_states *states, const struct journal_state *state)
{
    int index = find(states, state->space);
    bool is_new = index < 0;
    if (is_new && states->count == JOURNAL_STATES_MAX) {
        return false;
    }
    index = is_new ? states->count : index;
    if (state->size == 0 ||
        !grow(&states->slots[index].data, &states->slots[index].room, state->size)) {
        return false;
    }
    if (is_new) {
        memcpy(states->slots[index].space, state->space, JOURNAL_NAME_MAX);
        states->slots[index].space[JOURNAL_NAME_MAX - 1] = '\0';
        states->count++;
    }
    memcpy(states->slots[index].data, state->data, state->size);
    states->slots[index].size = state->size;
    states->slots[index].wall_s = state->wall_s;
    states->slots[index].put_count++;
    return true;
}

size_t journal_states_waiting(const struct journal_states *states)
{
    size_t waiting = 0;
    for (int i = 0; i < states->count; i++) {
        waiting += states->slots[i].put_count != states->slots[i].written_count;
    }
    return waiting;
}

int journal_states_copy(const struct journal_states *states, int index,
                        struct journal_states_copy *copy)
{
    copy->state.size = 0;
    if (states->slots[index].put_count == states->slots[index].written_count) {
        return 0;
    }
    if (!grow(&copy->buffer, &copy->room, states->slots[index].size)) {
        return -ENOMEM;
    }
    memcpy(copy->buffer, states->slots[index].data, states->slots[index].size);
    memcpy(copy->state.space, states->slots[index].space, JOURNAL_NAME_MAX);
    copy->state.wall_s = states->slots[index].wall_s;
    copy->state.size = states->slots[index].size;
    copy->state.data = copy->buffer;
    copy->mark = states->slots[index].put_count;
    return 0;
}

void journal_states_settle(struct journal_states *states, int index, uint64_t mark)
{
    states->slots[index].written_count = mark;
}

void journal_states_finish(struct journal_states *states)
{
    for (int i = 0; i < states->count; i++) {
        free(states->slots[i].data);
    }
    *states = (struct journal_states){0};
}
