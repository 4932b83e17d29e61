/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Records on their way to the journal: a bounded store of slots with one list per kind.
 *
 * The slots are reserved at the start but touched only when used; the newest freed is used next, so
 * that memory follows the backlog. When all are taken, room is made in this order: the oldest
 * minute; for an event or a day the oldest event of the lowest class (never one above the new
 * event's own). Day summaries are never dropped for others. Every record given up is counted. No
 * locks: the caller holds one. Records in flight belong to the writer until they are settled.
 */
#ifndef LAMPWARDEN_JOURNAL_QUEUE_H
#define LAMPWARDEN_JOURNAL_QUEUE_H

#include "journal.h"

enum journal_kind { JOURNAL_MINUTE, JOURNAL_EVENT, JOURNAL_DAY, JOURNAL_KIND_COUNT };

struct journal_record {
    struct journal_record *next;
    enum journal_kind kind;
    union {
        struct journal_minute minute;
        struct journal_event event;
        struct journal_day day;
    };
};

struct journal_list {
    struct journal_record *first, *last; /* oldest first */
    size_t count;
};

struct journal_queue {
    struct journal_record *slots;
    size_t slot_count, slots_touched;
    struct journal_record *free;
    struct journal_list waiting[JOURNAL_KIND_COUNT];
    struct journal_list in_flight[JOURNAL_KIND_COUNT];
    uint64_t dropped;
};

int journal_queue_init(struct journal_queue *queue, size_t slot_count); /* -ENOMEM */
void journal_queue_finish(struct journal_queue *queue);

/* Copy the record in. False: it was not taken (and counted). */
bool journal_queue_put_minute(struct journal_queue *queue, const struct journal_minute *minute);
bool journal_queue_put_event(struct journal_queue *queue, const struct journal_event *event);
/* A running day replaces the one of the same space and light day that still waits. */
bool journal_queue_put_day(struct journal_queue *queue, const struct journal_day *day);

size_t journal_queue_waiting(const struct journal_queue *queue);
size_t journal_queue_count(const struct journal_queue *queue); /* waiting and in flight */
bool journal_queue_is_full(const struct journal_queue *queue);

/* Moves all that waits into flight; nothing may be in flight before. */
void journal_queue_take(struct journal_queue *queue);

/* Written: frees what is in flight. Otherwise it waits again, in front. */
void journal_queue_settle(struct journal_queue *queue, bool is_written);

/* Gives up all that waits, counted. */
void journal_queue_drop_all(struct journal_queue *queue);

#endif
