/* SPDX-License-Identifier: Apache-2.0 */
/* lampwarden days: light days beside each other, with their weeks and stages. */
#include "verb.h"

#include "days_range.h"
#include "err.h"
#include "journal_option.h"
#include "journal_read.h"
#include "options.h"
#include "report_days.h"

#include <errno.h>

enum form { FORM_TEXT, FORM_JSON, FORM_CSV };

struct options {
    struct journal_option journal;
    const char *space; /* NULL: all */
    const char *from, *to;
    enum form form;
};

static int print_space(struct journal_reader *reader, const struct days_range *range, int index,
                       enum form form, struct err *err)
{
    struct report_days *report = NULL;
    int result =
        report_days_create(reader, range->spaces[index], range->first, range->last, &report, err);
    if (result != 0) {
        return result;
    }
    switch (form) {
    case FORM_TEXT:
        (void)fputs(index > 0 ? "\n" : "", stdout);
        report_days_text(report, verb_takes_utf8(), stdout);
        break;
    case FORM_JSON:
        if (report_days_json(report, stdout) != 0) {
            result = err_fail(err, ENOMEM, "no memory for the report");
        }
        break;
    case FORM_CSV:
        report_days_csv(report, stdout);
        break;
    }
    report_days_destroy(report);
    return result;
}

static int print_all(struct journal_reader *reader, const void *context, struct err *err)
{
    const struct options *options = context;
    struct days_range range;
    int result = days_range_find(reader, options->space, options->from, options->to, &range, err);
    if (result == 0 && options->form == FORM_CSV) {
        report_days_csv_header(stdout);
    }
    for (int i = 0; result == 0 && i < range.count; i++) {
        result = print_space(reader, &range, i, options->form, err);
    }
    return result;
}

/* Returns VERB_OK or VERB_USAGE. */
static int read_options(int argc, char **argv, struct options *ret)
{
    bool as_json = false;
    bool as_csv = false;
    const struct verb_option table[] = {
        {"space", 's', &ret->space, NULL},
        {"json", 0, NULL, &as_json},
        {"csv", 0, NULL, &as_csv},
        {"journal", 0, &ret->journal.journal, NULL},
        {"config", 'c', &ret->journal.config, NULL},
        {NULL, 0, NULL, NULL},
    };
    const int words = verb_options("days", table, argc, argv, 2);
    if (words < 0) {
        return VERB_USAGE;
    }
    if (as_json && as_csv) {
        return verb_usage("days", "one of --json and --csv");
    }
    ret->form = as_json ? FORM_JSON : as_csv ? FORM_CSV : FORM_TEXT;
    ret->from = words > 0 ? argv[1] : NULL;
    ret->to = words > 1 ? argv[2] : NULL;
    struct err err;
    return days_range_check(ret->from, ret->to, &err) == 0 ? VERB_OK
                                                           : verb_usage("days", "%s", err.text);
}

static int run(int argc, char **argv)
{
    struct options options = {0};
    const int code = read_options(argc, argv, &options);
    return code == VERB_OK ? journal_option_run("days", &options.journal, print_all, &options)
                           : code;
}

const struct verb verb_days = {
    .name = "days",
    .summary = "light days beside each other: target, light, cost, nights; weeks and stages summed",
    .help =
        "usage: lampwarden days [FROM [TO]] [OPTION...]\n"
        "\n"
        "Reads the journal and prints a line a light day of every space, the sums of each week and "
        "of each\n"
        "stage, and below them what that is a day. FROM and TO are the first and the last light "
        "day, as\n"
        "2026-11-02, or 'yesterday': the light day before the latest. Without TO: to the latest. "
        "Without\n"
        "both: the last 14. A day that still runs, or on which no stage does, is shown and is in "
        "no "
        "sum.\n"
        "Weeks begin on Monday.\n"
        "\n"
        "  target, mol   asked for, and delivered, in mol m-2\n"
        "  sun           how much of that daylight gave; the lamps gave the rest\n"
        "  met or short  'met': less than 0.05 mol is missing; else how much, and what took most "
        "of it\n"
        "  cost          of all energy, in the site's currency\n"
        "  least         what the lamp light cost over the least that the target could have cost,\n"
        "                all known in hindsight; '-': not known, or the target was missed\n"
        "  tr            heat trips and LED driver trips\n"
        "  night         the day's night hours. dark; broken: light of 10 s or more; possible: an "
        "opening\n"
        "                was not confirmed; unseen: no light sensor showed it; unlit: under "
        "daylight,\n"
        "                where only the lamps are watched; none: no stage runs. 'lampwarden "
        "nights'\n"
        "                tells more\n"
        "\n"
        "options:\n"
        "  -s, --space NAME    this space only\n"
        "      --json          one JSON object a line and space: days (as of 'lampwarden day "
        "--json', without\n"
        "                      hours and events), weeks, stages, all; each with sum and mean\n"
        "      --csv           a row a day, with a header line; names carry their units; empty: "
        "not known\n" JOURNAL_OPTION_HELP "  -h, --help          this text\n"
        "\n"
        "Columns of --csv: space, light_day, week (ISO 8601), stage, stage_day, is_closed (0: it "
        "still "
        "runs),\n"
        "met (1, 0, or empty: no target, or it still runs), why (the limiter that took most of "
        "what "
        "is\n"
        "missing), target_mol, delivered_mol, lamp_mol, daylight_mol, missing_mol (mol m-2), "
        "energy_kwh, cost (of\n"
        "all energy), lamp_cost (of the lamp light), bound_cost (the least the target could have "
        "cost in lamp\n"
        "light), even_cost (the light given, at one level), currency, lights_on, lights_off, "
        "switch_operations,\n"
        "heatsink_max_c, heat_trips, driver_trips, night (the word), night_dose_umol_m2, "
        "night_possible_umol_m2,\n"
        "night_longest_s, night_breaks.\n"
        "lampwarden-json(5) describes every field of --json.\n"
        "\n"
        "examples:\n"
        "  lampwarden days\n"
        "  lampwarden days 2026-11-01 2026-11-30 --space lettuce\n"
        "  lampwarden days 2026-01-01 --csv > year.csv\n"
        "\n"
        "exit codes: 0 done, 1 no such day or journal, 2 wrong usage, 3 wrong configuration\n",
    .run = run,
};
