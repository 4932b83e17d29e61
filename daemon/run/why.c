/* SPDX-License-Identifier: Apache-2.0 */
#include "why.h"

#include "control_proto.h"
#include "err.h"
#include "parse.h"
#include "units.h"
#include "why_parts.h"
#include "why_time.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

enum { MINUTE_S = 60, TIME_MAX = 32 };

json_t *why_now(const struct picture *picture, int space)
{
    const struct config *config = picture->config;
    const struct picture_space *its = &picture->spaces[space];
    struct moment moment;
    const struct why_frame frame = {
        .space = config->spaces[space].name,
        .offset_s = config->site.utc_offset_s,
        .civil = &config->site.tariff.civil,
        .currency = config->site.currency,
        .is_now = true,
        .ruled = LIMITER_COUNT,
        .level_mean = UNITS_NONE,
        .price_per_kwh = its->now.price_per_kwh,
        .watts = its->verdict.watts,
        .lamp_umol = its->verdict.lamp_umol,
    };
    moment_take(&config->spaces[space], config, &its->now, &its->state, &its->verdict, &moment);
    return why_json(&frame, &moment);
}

json_t *why_picture(const struct picture *picture, int space)
{
    char time[TIME_MAX];
    json_t *object = json_object();
    json_t *spaces = json_array();
    parse_format_datetime(picture->wall_ns / UNITS_NS_PER_S, picture->config->site.utc_offset_s,
                          time, sizeof time);
    for (int i = 0; picture->is_ready && i < picture->config->space_count; i++) {
        if (space < 0 || i == space) {
            json_array_append_new(spaces, why_now(picture, i));
        }
    }
    json_object_set_new(object, "site", control_text(picture->config->site.name));
    json_object_set_new(object, "time", json_string(time));
    json_object_set_new(object, "is_ready", json_boolean(picture->is_ready));
    json_object_set_new(object, "spaces", spaces);
    return object;
}

static int keep_minute(const struct journal_minute *minute, void *context)
{
    *(struct journal_minute *)context = *minute;
    return 0;
}

static int keep_day(const struct journal_day *day, void *context)
{
    *(struct journal_day *)context = *day;
    return 0;
}

/* A file without a summary of that day: the offset is UTC, the currency unknown. */
static int read_day(struct journal_reader *reader, const char *space, int64_t light_day,
                    struct journal_day *ret, struct err *err)
{
    const struct journal_range range = {space, light_day, light_day + 1};
    *ret = (struct journal_day){.utc_offset_s = 0};
    return journal_read_days(reader, &range, keep_day, ret, err);
}

static int latest_offset(struct journal_reader *reader, const char *space, int32_t *ret_s,
                         struct err *err)
{
    int64_t first = 0;
    int64_t last = 0;
    struct journal_day day;
    int code = journal_read_day_range(reader, space, &first, &last, err);
    if (code == 0) {
        code = read_day(reader, space, last, &day, err);
    }
    if (code == 0) {
        *ret_s = day.utc_offset_s;
    }
    return code;
}

/* Neighbours of a minute that is not there: "between 13:58 and 14:20". */
static int not_stored(struct journal_reader *reader, const char *space, int64_t minute_s,
                      int32_t offset_s, struct err *err)
{
    char asked[TIME_MAX];
    char times[4][TIME_MAX] = {"", "", "", ""};
    int64_t first_s[2] = {0, 0}; /* before, behind */
    int64_t last_s[2] = {0, 0};
    const struct journal_range sides[2] = {{space, INT64_MIN, minute_s},
                                           {space, minute_s, INT64_MAX}};
    bool is_there[2];
    for (int i = 0; i < 2; i++) {
        const int code =
            journal_read_minute_range(reader, &sides[i], &first_s[i], &last_s[i], NULL);
        is_there[i] = code == 0;
        parse_format_datetime(first_s[i], offset_s, times[2 * i], TIME_MAX);
        parse_format_datetime(last_s[i], offset_s, times[2 * i + 1], TIME_MAX);
    }
    parse_format_datetime(minute_s, offset_s, asked, sizeof asked);
    if (is_there[0] && is_there[1]) {
        return err_fail(err, ENOENT,
                        "the minute %.16s of space %s is not stored: nobody ran the lamps, or the "
                        "clock was not trusted; the nearest are %.16s and %.16s; stored are %.16s "
                        "… %.16s",
                        asked, space, times[1], times[2], times[0], times[3]);
    }
    return err_fail(err, ENOENT,
                    "the minute %.16s of space %s is not stored; stored are %.16s … "
                    "%.16s (%s)",
                    asked, space, is_there[0] ? times[0] : times[2],
                    is_there[0] ? times[1] : times[3], asked + 19);
}

static int explain(struct journal_reader *reader, const struct why_ask *ask,
                   const struct journal_minute *minute, json_t **ret, struct err *err)
{
    struct journal_day day;
    struct moment moment;
    int code = read_day(reader, ask->space, minute->light_day, &day, err);
    if (code != 0) {
        return code;
    }
    const struct why_frame frame = {
        .space = ask->space,
        .offset_s = day.utc_offset_s,
        .civil = ask->civil,
        .currency = day.currency,
        .minute_s = minute->wall_s,
        .ruled = minute->limiter,
        .level_mean = minute->level,
        .price_per_kwh = minute->price_per_kwh,
        .watts = minute->watts,
        .lamp_umol = minute->lamp_umol,
    };
    if (!minute->chain[0]) {
        *ret = why_json_of_minute(&frame);
        return 0;
    }
    code = moment_read(minute->chain, minute->wall_s, &moment, err) == 0 ? 0 : -EILSEQ;
    if (code == 0) {
        moment.delivered_mol = minute->delivered_mol;
        moment.target_mol = minute->target_mol;
        if (!units_known(moment.ppfd.value)) {
            moment.ppfd = (struct moment_reading){minute->ppfd_umol, minute->quality, UNITS_NONE};
        }
        *ret = why_json(&frame, &moment);
    }
    return code;
}

int why_at(struct journal_reader *reader, const struct why_ask *ask, json_t **ret, struct err *err)
{
    const struct journal_range all = {ask->space, INT64_MIN, INT64_MAX};
    struct journal_minute minute = {.wall_s = INT64_MIN};
    int32_t offset_s = 0;
    int64_t first_s = 0;
    int64_t minute_s = 0;
    int code = latest_offset(reader, ask->space, &offset_s, err);
    if (code == 0) {
        code = journal_read_minute_range(reader, &all, &first_s, &minute_s, err);
    }
    if (code == 0 && ask->time) {
        code = why_time(ask->time, offset_s, minute_s, &minute_s, err);
    }
    const struct journal_range one = {ask->space, minute_s, minute_s + MINUTE_S};
    if (code == 0) {
        code = journal_read_minutes(reader, &one, keep_minute, &minute, err);
    }
    if (code == 0 && minute.wall_s == INT64_MIN) {
        code = not_stored(reader, ask->space, minute_s, offset_s, err);
    }
    return code == 0 ? explain(reader, ask, &minute, ret, err) : code;
}
