/* SPDX-License-Identifier: Apache-2.0 */
#include "page_journal.h"

#include "err.h"
#include "limiter.h"
#include "parse.h"
#include "report.h"
#include "report_days.h"
#include "report_nights.h"
#include "units.h"
#include "why.h"
#include "words.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#define EVENT_DAYS 7 /* without a day */

/* Of the rows of one kind. */
struct walk {
    FILE *out;
    int64_t light_day;
    int written;
};

static const char *space_of(const struct page_request *request)
{
    return request->space[0] ? request->space : NULL;
}

/* The day asked for, else the latest of the space. */
static int choose_day(struct journal_reader *reader, const struct page_request *request,
                      int64_t *ret, struct err *err)
{
    int64_t first = 0;
    if (request->has_day) {
        *ret = request->day;
        return 0;
    }
    return journal_read_day_range(reader, space_of(request), &first, ret, err);
}

int page_day(struct journal_reader *reader, const struct page_request *request, FILE *out,
             struct err *err)
{
    int64_t day = 0;
    struct report *report = NULL;
    int code = choose_day(reader, request, &day, err);
    if (code == 0) {
        code = report_create(reader, request->space, day, &report, err);
    }
    if (code == 0 && report_json(report, out) != 0) {
        code = err_fail(err, ENOMEM, "no memory for the report");
    }
    report_destroy(report);
    return code;
}

static int keep_day(const struct journal_day *day, void *context)
{
    *(struct journal_day *)context = *day;
    return 1; /* one is enough */
}

/* The stored day asked for, of the space or of any. */
static int read_day(struct journal_reader *reader, const struct page_request *request,
                    struct journal_day *ret, struct err *err)
{
    int64_t light_day = 0;
    int code = choose_day(reader, request, &light_day, err);
    if (code < 0) {
        return code;
    }
    const struct journal_range days = {space_of(request), light_day, light_day + 1};
    code = journal_read_days(reader, &days, keep_day, ret, err);
    if (code <= 0) {
        return code < 0 ? code : report_no_day(reader, space_of(request), light_day, err);
    }
    return 0;
}

/* A value of a row, nine digits like every other number here. */
static void put(FILE *out, double value)
{
    if (isfinite(value)) {
        (void)fprintf(out, ",%.9g", value);
    } else {
        (void)fputs(",null", out);
    }
}

static int put_minute(const struct journal_minute *minute, void *context)
{
    struct walk *walk = context;
    if (minute->light_day != walk->light_day) {
        return 0;
    }
    (void)fprintf(walk->out, "%s[%lld", walk->written++ > 0 ? ",\n" : "\n",
                  (long long)minute->wall_s);
    put(walk->out, minute->lamp_umol);
    put(walk->out, minute->daylight_umol);
    put(walk->out, minute->ppfd_umol);
    put(walk->out, minute->level);
    put(walk->out, minute->limiter < LIMITER_COUNT ? (double)minute->limiter : UNITS_NONE);
    put(walk->out, minute->heatsink_c);
    put(walk->out, minute->air_c);
    put(walk->out, minute->humidity_percent);
    put(walk->out, minute->watts);
    put(walk->out, minute->delivered_mol);
    put(walk->out, minute->target_mol);
    put(walk->out, minute->price_per_kwh);
    put(walk->out, (double)minute->quality);
    (void)fputc(']', walk->out);
    return 0;
}

static void put_head(const struct journal_day *day, FILE *out)
{
    char date[16];
    parse_format_date(day->summary.light_day, date, sizeof date);
    (void)fprintf(out,
                  "{\"space\":\"%s\",\"day\":\"%s\",\"begin_s\":%lld,\"utc_offset_s\":%d,"
                  "\"is_closed\":%s,\"limiters\":[",
                  day->space, date, (long long)day->begin_s, (int)day->utc_offset_s,
                  day->is_closed ? "true" : "false");
    for (int i = 0; i < LIMITER_COUNT; i++) {
        (void)fprintf(out, "%s\"%s\"", i > 0 ? "," : "", limiter_name((enum limiter)i));
    }
    (void)fputs("],\"limiter_words\":[", out);
    for (int i = 0; i < LIMITER_COUNT; i++) {
        (void)fprintf(out, "%s\"%s\"", i > 0 ? "," : "", words_limiter((enum limiter)i));
    }
    (void)fputs("],\"qualities\":[", out);
    for (int i = READING_GOOD; i <= READING_LOST; i++) {
        (void)fprintf(out, "%s\"%s\"", i > 0 ? "," : "",
                      journal_quality_name((enum reading_quality)i));
    }
    (void)fputs("],\n\"columns\":[\"wall_s\",\"lamp_umol\",\"daylight_umol\",\"ppfd_umol\","
                "\"level\",\"limiter\",\"heatsink_c\",\"air_c\",\"humidity_percent\",\"watts\","
                "\"delivered_mol\",\"target_mol\",\"price_per_kwh\",\"quality\"],\n\"rows\":[",
                out);
}

int page_minutes(struct journal_reader *reader, const struct page_request *request, FILE *out,
                 struct err *err)
{
    struct journal_day day;
    int code = read_day(reader, request, &day, err);
    if (code < 0) {
        return code;
    }
    struct walk walk = {.out = out, .light_day = day.summary.light_day};
    put_head(&day, out);
    const struct journal_range range = {request->space, day.begin_s, day.begin_s + UNITS_S_PER_DAY};
    code = journal_read_minutes(reader, &range, put_minute, &walk, err);
    (void)fputs("]}\n", out);
    return code;
}

int page_days(struct journal_reader *reader, const struct page_request *request, FILE *out,
              struct err *err)
{
    struct report_days *report = NULL;
    int code = report_days_newest(reader, request->space, request->count, true, &report, err);
    if (code == 0 && report_days_json(report, out) != 0) {
        code = err_fail(err, ENOMEM, "no memory for the days");
    }
    report_days_destroy(report);
    return code;
}

int page_nights(struct journal_reader *reader, const struct page_request *request, FILE *out,
                struct err *err)
{
    struct report_nights *report = NULL;
    int code = report_nights_newest(reader, request->space, request->count, &report, err);
    if (code == 0 && report_nights_json(report, out) != 0) {
        code = err_fail(err, ENOMEM, "no memory for the nights");
    }
    report_nights_destroy(report);
    return code;
}

/* The latest events, in a ring. */
struct ring {
    struct journal_event *events;
    uint64_t count; /* of all that came by */
};

static int keep_event(const struct journal_event *event, void *context)
{
    struct ring *ring = context;
    ring->events[ring->count++ % PAGE_EVENTS_MAX] = *event;
    return 0;
}

static int put_events(const struct ring *ring, int32_t offset_s, FILE *out)
{
    const uint64_t first = ring->count > PAGE_EVENTS_MAX ? ring->count - PAGE_EVENTS_MAX : 0;
    int code = 0;
    (void)fputs("[\n", out);
    for (uint64_t i = first; i < ring->count && code == 0; i++) {
        if (i > first) {
            (void)fputc(',', out);
        }
        code = report_event_json(&ring->events[i % PAGE_EVENTS_MAX], offset_s, out);
    }
    (void)fputs("]\n", out);
    return code;
}

/* The moments that are asked for, and the offset to show them at. */
static int event_range(struct journal_reader *reader, const struct page_request *request,
                       struct journal_range *ret, int32_t *ret_offset_s, struct err *err)
{
    struct journal_day day;
    int code = read_day(reader, request, &day, err);
    if (code < 0) {
        return code;
    }
    *ret_offset_s = day.utc_offset_s;
    *ret = (struct journal_range){space_of(request), day.begin_s, day.begin_s + UNITS_S_PER_DAY};
    if (!request->has_day) {
        ret->from -= (EVENT_DAYS - 1) * UNITS_S_PER_DAY;
        ret->to += UNITS_S_PER_DAY; /* a space whose day begins later */
    }
    return 0;
}

int page_events(struct journal_reader *reader, const struct page_request *request, FILE *out,
                struct err *err)
{
    struct journal_range range;
    int32_t offset_s = 0;
    int code = event_range(reader, request, &range, &offset_s, err);
    if (code < 0) {
        return code;
    }
    struct ring ring = {calloc(PAGE_EVENTS_MAX, sizeof *ring.events), 0};
    if (!ring.events) {
        return err_fail(err, ENOMEM, "no memory for the events");
    }
    code = journal_read_events(reader, &range, keep_event, &ring, err);
    if (code == 0 && put_events(&ring, offset_s, out) != 0) {
        code = err_fail(err, ENOMEM, "no memory for the events");
    }
    free(ring.events);
    return code;
}

int page_why(struct journal_reader *reader, const struct page_request *request, FILE *out,
             struct err *err)
{
    const struct why_ask ask = {request->space, request->time[0] ? request->time : NULL, NULL};
    json_t *answer = NULL;
    const int code = why_at(reader, &ask, &answer, err);
    if (code == 0) {
        (void)json_dumpf(answer, out, JSON_COMPACT | JSON_REAL_PRECISION(9)); /* errors: see out */
        json_decref(answer);
    }
    return code;
}
