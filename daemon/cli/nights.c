/* SPDX-License-Identifier: Apache-2.0 */
/* lampwarden nights: was it dark, and if not, why. */
#include "verb.h"

#include "days_range.h"
#include "err.h"
#include "journal_option.h"
#include "journal_read.h"
#include "options.h"
#include "report_nights.h"

#include <errno.h>

enum form { FORM_TEXT, FORM_JSON };

struct options {
    struct journal_option journal;
    const char *space; /* NULL: all */
    const char *from, *to;
    enum form form;
};

static int print_space(struct journal_reader *reader, const struct days_range *range, int index,
                       enum form form, struct err *err)
{
    struct report_nights *report = NULL;
    int result =
        report_nights_create(reader, range->spaces[index], range->first, range->last, &report, err);
    if (result != 0) {
        return result;
    }
    switch (form) {
    case FORM_TEXT:
        (void)fputs(index > 0 ? "\n" : "", stdout);
        report_nights_text(report, verb_takes_utf8(), stdout);
        break;
    case FORM_JSON:
        if (report_nights_json(report, stdout) != 0) {
            result = err_fail(err, ENOMEM, "no memory for the report");
        }
        break;
    }
    report_nights_destroy(report);
    return result;
}

static int print_all(struct journal_reader *reader, const void *context, struct err *err)
{
    const struct options *options = context;
    struct days_range range;
    int result = days_range_find(reader, options->space, options->from, options->to, &range, err);
    for (int i = 0; result == 0 && i < range.count; i++) {
        result = print_space(reader, &range, i, options->form, err);
    }
    return result;
}

/* Returns VERB_OK or VERB_USAGE. */
static int read_options(int argc, char **argv, struct options *ret)
{
    bool as_json = false;
    const struct verb_option table[] = {
        {"space", 's', &ret->space, NULL},
        {"json", 0, NULL, &as_json},
        {"journal", 0, &ret->journal.journal, NULL},
        {"config", 'c', &ret->journal.config, NULL},
        {NULL, 0, NULL, NULL},
    };
    const int words = verb_options("nights", table, argc, argv, 2);
    if (words < 0) {
        return VERB_USAGE;
    }
    ret->form = as_json ? FORM_JSON : FORM_TEXT;
    ret->from = words > 0 ? argv[1] : NULL;
    ret->to = words > 1 ? argv[2] : NULL;
    struct err err;
    return days_range_check(ret->from, ret->to, &err) == 0 ? VERB_OK
                                                           : verb_usage("nights", "%s", err.text);
}

static int run(int argc, char **argv)
{
    struct options options = {0};
    const int code = read_options(argc, argv, &options);
    return code == VERB_OK ? journal_option_run("nights", &options.journal, print_all, &options)
                           : code;
}

const struct verb verb_nights = {
    .name = "nights",
    .summary =
        "was it dark: each night's open switches, longest light, dose, breaks and their causes",
    .help = "usage: lampwarden nights [FROM [TO]] [OPTION...]\n"
            "\n"
            "Reads the journal and prints a line a night of every space. A night is the time "
            "outside the lit "
            "window\n"
            "of the stage, from one window to the next; it is named by the light day in which it "
            "begins. FROM and "
            "TO\n"
            "are the first and the last of these, as 2026-11-02, or 'yesterday': the light day "
            "before the "
            "latest.\n"
            "Without TO: to the latest. Without both: the last 14.\n"
            "\n"
            "  dark           from lights-off to lights-on; '>': it began before the record, or "
            "still lasts\n"
            "  switch open    from when until when no switch of the space was closed\n"
            "  longest light  without a pause, seen by a sensor or told to a lamp\n"
            "  dose           all such light, in umol m-2; '<': no more than that\n"
            "  maybe          what a lamp may have given whose opening was not confirmed, at most\n"
            "  seen           share of the night in which a light sensor had a good reading\n"
            "\n"
            "Every break has a line of its own with its cause. A night that no sensor saw is not "
            "called "
            "dark.\n"
            "Short-day plants count the unbroken dark: look into the room yourself too.\n"
            "\n"
            "options:\n"
            "  -s, --space NAME    this space only\n"
            "      --json          one JSON object a line and space; names carry their units; "
            "null: not "
            "known\n" JOURNAL_OPTION_HELP "  -h, --help          this text\n"
            "\n"
            "lampwarden-json(5) describes every field of --json.\n"
            "\n"
            "examples:\n"
            "  lampwarden nights\n"
            "  lampwarden nights 2026-11-01 2026-11-30 --space chrysanthemum\n"
            "\n"
            "exit codes: 0 done, 1 no such day or journal, 2 wrong usage, 3 wrong configuration\n",
    .run = run,
};
