/* SPDX-License-Identifier: Apache-2.0 */
/* lampwarden events: what happened, from the journal. */
#include "verb.h"

#include "err.h"
#include "journal_option.h"
#include "journal_read.h"
#include "options.h"
#include "parse.h"
#include "report.h"
#include "units.h"

#include <errno.h>
#include <stdint.h>
#include <string.h>

#define USUAL_SPAN_S (7 * UNITS_S_PER_DAY)

struct options {
    struct journal_option journal;
    const char *from, *to; /* NULL: not given */
    const char *space;
    bool only_alarms, as_json;
};

/* What the row's callback needs. */
struct printer {
    const struct options *options;
    int32_t offset_s;
    bool is_utf8;
};

static int keep_offset(const struct journal_day *day, void *context)
{
    *(int32_t *)context = day->utc_offset_s;
    return 0;
}

/* The offset of the latest light day; UTC without one. */
static int find_offset(struct journal_reader *reader, int32_t *ret_s, struct err *err)
{
    int64_t first = 0;
    int64_t last = 0;
    if (journal_read_day_range(reader, NULL, &first, &last, NULL) != 0) {
        return 0;
    }
    const struct journal_range range = {NULL, last, last + 1};
    return journal_read_days(reader, &range, keep_offset, ret_s, err);
}

/* A moment with its offset, or a date: its beginning, or its end for --to. */
static int parse_moment(const char *text, int32_t offset_s, bool is_end, int64_t *ret_s,
                        struct err *err)
{
    int64_t day = 0;
    if (parse_datetime(text, ret_s, NULL) == 0) {
        return 0;
    }
    if (parse_date(text, &day, NULL) != 0) {
        return err_fail(err, EINVAL,
                        "\"%.64s\" is neither a date (2026-11-02) nor a moment "
                        "(2026-11-02T06:00+01:00)",
                        text);
    }
    *ret_s = (day + is_end) * UNITS_S_PER_DAY - offset_s;
    return 0;
}

static int print_event(const struct journal_event *event, void *context)
{
    const struct printer *printer = context;
    if (printer->options->only_alarms && event->class != JOURNAL_ALARM) {
        return 0;
    }
    if (printer->options->as_json) {
        return report_event_json(event, printer->offset_s, stdout);
    }
    report_event_text(event, printer->offset_s, true, printer->is_utf8, stdout);
    return 0;
}

static int print_all(struct journal_reader *reader, const void *context, struct err *err)
{
    const struct options *options = context;
    struct printer printer = {.options = options, .is_utf8 = verb_takes_utf8()};
    struct journal_range range = {options->space, INT64_MIN, INT64_MAX};
    int64_t first = 0;
    int64_t last = 0;
    if (options->space) { /* a name that was mistyped is not a space without events */
        int result = journal_read_day_range(reader, options->space, &first, &last, err);
        if (result != 0) {
            return result;
        }
    }
    int result = find_offset(reader, &printer.offset_s, err);
    if (result == 0 && options->from) {
        result = parse_moment(options->from, printer.offset_s, false, &range.from, err);
    } else if (result == 0 && !options->to) {
        range.from = journal_read_latest(reader) - USUAL_SPAN_S;
    }
    if (result == 0 && options->to) {
        result = parse_moment(options->to, printer.offset_s, true, &range.to, err);
    }
    if (result == 0) {
        result = journal_read_events(reader, &range, print_event, &printer, err);
    }
    return result;
}

/* Returns VERB_OK or VERB_USAGE. */
static int read_options(int argc, char **argv, struct options *ret)
{
    const struct verb_option table[] = {
        {"from", 0, &ret->from, NULL},
        {"to", 0, &ret->to, NULL},
        {"space", 's', &ret->space, NULL},
        {"alarms", 0, NULL, &ret->only_alarms},
        {"json", 0, NULL, &ret->as_json},
        {"journal", 0, &ret->journal.journal, NULL},
        {"config", 'c', &ret->journal.config, NULL},
        {NULL, 0, NULL, NULL},
    };
    if (verb_options("events", table, argc, argv, 0) < 0) {
        return VERB_USAGE;
    }
    struct err err;
    int64_t moment_s = 0;
    const char *const moments[] = {ret->from, ret->to};
    for (int i = 0; i < 2; i++) {
        if (moments[i] && parse_moment(moments[i], 0, false, &moment_s, &err) != 0) {
            return verb_usage("events", "%s", err.text);
        }
    }
    return VERB_OK;
}

static int run(int argc, char **argv)
{
    struct options options = {0};
    const int code = read_options(argc, argv, &options);
    return code == VERB_OK ? journal_option_run("events", &options.journal, print_all, &options)
                           : code;
}

const struct verb verb_events = {
    .name = "events",
    .summary = "what happened: lights on and off, heat, trips, sensors, hand commands",
    .help =
        "usage: lampwarden events [OPTION...]\n"
        "\n"
        "Prints the journal's events, oldest first, at the site's fixed UTC offset; '!' marks an\n"
        "alarm, '*' a notice. Without --from and --to: the seven days before the latest record.\n"
        "\n"
        "options:\n"
        "      --from WHEN     from this moment (2026-11-02T06:00+01:00) or date on\n"
        "      --to WHEN       until before this moment, or to the end of this date\n"
        "  -s, --space NAME    this space only\n"
        "      --alarms        alarms only\n"
        "      --json          one JSON object a line\n" JOURNAL_OPTION_HELP
        "  -h, --help          this text\n"
        "\n"
        "examples:\n"
        "  lampwarden events --alarms\n"
        "  lampwarden events --from 2026-11-01 --to 2026-11-02 --space basil\n"
        "\n"
        "exit codes: 0 done, 1 no journal, 2 wrong usage, 3 wrong configuration\n",
    .run = run,
};
