/* SPDX-License-Identifier: Apache-2.0 */
#include "journal_queue.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

int journal_queue_init(struct journal_queue *queue, size_t slot_count)
{
    *queue = (struct journal_queue){.slot_count = slot_count};
    queue->slots = calloc(slot_count, sizeof *queue->slots);
    return queue->slots ? 0 : -ENOMEM;
}

void journal_queue_finish(struct journal_queue *queue)
{
    free(queue->slots);
    *queue = (struct journal_queue){0};
}

static void append(struct journal_list *list, struct journal_record *record)
{
    record->next = NULL;
    if (list->last) {
        list->last->next = record;
    } else {
        list->first = record;
    }
    list->last = record;
    list->count++;
}

/* Unlinks the record behind `before` (NULL: the first one). */
static struct journal_record *unlink_after(struct journal_list *list, struct journal_record *before)
{
    struct journal_record *record = before ? before->next : list->first;
    if (before) {
        before->next = record->next;
    } else {
        list->first = record->next;
    }
    if (list->last == record) {
        list->last = before;
    }
    list->count--;
    return record;
}

static void prepend_all(struct journal_list *list, struct journal_list *front)
{
    if (!front->first) {
        return;
    }
    front->last->next = list->first;
    list->first = front->first;
    if (!list->last) {
        list->last = front->last;
    }
    list->count += front->count;
    *front = (struct journal_list){0};
}

static void free_all(struct journal_queue *queue, struct journal_list *list)
{
    if (list->first) {
        list->last->next = queue->free;
        queue->free = list->first;
        *list = (struct journal_list){0};
    }
}

static struct journal_record *take_free(struct journal_queue *queue)
{
    struct journal_record *record = queue->free;
    if (record) {
        queue->free = record->next;
        return record;
    }
    if (queue->slots_touched < queue->slot_count) {
        return &queue->slots[queue->slots_touched++];
    }
    return NULL;
}

static struct journal_record *sacrifice_minute(struct journal_queue *queue)
{
    struct journal_list *minutes = &queue->waiting[JOURNAL_MINUTE];
    return minutes->first ? unlink_after(minutes, NULL) : NULL;
}

static struct journal_record *sacrifice_event(struct journal_queue *queue, enum journal_class limit)
{
    struct journal_list *events = &queue->waiting[JOURNAL_EVENT];
    for (unsigned class = JOURNAL_INFO; class <= (unsigned)limit; class ++) {
        struct journal_record *before = NULL;
        for (struct journal_record *at = events->first; at; before = at, at = at->next) {
            if ((unsigned)at->event.class == class) {
                return unlink_after(events, before);
            }
        }
    }
    return NULL;
}

/* limit NULL: events are not given up for this record. */
static struct journal_record *slot_for(struct journal_queue *queue, const enum journal_class *limit)
{
    struct journal_record *record = take_free(queue);
    if (record) {
        return record;
    }
    queue->dropped++; /* somebody goes: the victim, or the new record when there is none */
    record = sacrifice_minute(queue);
    if (!record && limit) {
        record = sacrifice_event(queue, *limit);
    }
    return record;
}

bool journal_queue_put_minute(struct journal_queue *queue, const struct journal_minute *minute)
{
    struct journal_record *record = slot_for(queue, NULL);
    if (!record) {
        return false;
    }
    record->kind = JOURNAL_MINUTE;
    record->minute = *minute;
    append(&queue->waiting[JOURNAL_MINUTE], record);
    return true;
}

bool journal_queue_put_event(struct journal_queue *queue, const struct journal_event *event)
{
    struct journal_record *record = slot_for(queue, &event->class);
    if (!record) {
        return false;
    }
    record->kind = JOURNAL_EVENT;
    record->event = *event;
    append(&queue->waiting[JOURNAL_EVENT], record);
    return true;
}

static bool is_same_day(const struct journal_day *a, const struct journal_day *b)
{
    return a->summary.light_day == b->summary.light_day &&
           strncmp(a->space, b->space, sizeof a->space) == 0;
}

bool journal_queue_put_day(struct journal_queue *queue, const struct journal_day *day)
{
    for (struct journal_record *at = queue->waiting[JOURNAL_DAY].first; at; at = at->next) {
        if (is_same_day(&at->day, day)) {
            at->day = *day;
            return true;
        }
    }
    const enum journal_class any = JOURNAL_ALARM;
    struct journal_record *record = slot_for(queue, &any);
    if (!record) {
        return false;
    }
    record->kind = JOURNAL_DAY;
    record->day = *day;
    append(&queue->waiting[JOURNAL_DAY], record);
    return true;
}

size_t journal_queue_waiting(const struct journal_queue *queue)
{
    size_t count = 0;
    for (int kind = 0; kind < JOURNAL_KIND_COUNT; kind++) {
        count += queue->waiting[kind].count;
    }
    return count;
}

size_t journal_queue_count(const struct journal_queue *queue)
{
    size_t count = journal_queue_waiting(queue);
    for (int kind = 0; kind < JOURNAL_KIND_COUNT; kind++) {
        count += queue->in_flight[kind].count;
    }
    return count;
}

bool journal_queue_is_full(const struct journal_queue *queue)
{
    return !queue->free && queue->slots_touched == queue->slot_count;
}

void journal_queue_take(struct journal_queue *queue)
{
    for (int kind = 0; kind < JOURNAL_KIND_COUNT; kind++) {
        queue->in_flight[kind] = queue->waiting[kind];
        queue->waiting[kind] = (struct journal_list){0};
    }
}

void journal_queue_settle(struct journal_queue *queue, bool is_written)
{
    for (int kind = 0; kind < JOURNAL_KIND_COUNT; kind++) {
        if (is_written) {
            free_all(queue, &queue->in_flight[kind]);
        } else {
            prepend_all(&queue->waiting[kind], &queue->in_flight[kind]);
        }
    }
}

void journal_queue_drop_all(struct journal_queue *queue)
{
    queue->dropped += journal_queue_waiting(queue);
    for (int kind = 0; kind < JOURNAL_KIND_COUNT; kind++) {
        free_all(queue, &queue->waiting[kind]);
    }
}
