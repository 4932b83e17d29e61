/* SPDX-License-Identifier: Apache-2.0 */
/* lampwarden day: what the plants received on a light day, and why not more. */
#include "verb.h"

#include "config.h"
#include "day_parts.h"
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

enum { SPACES_MAX = 128 };
enum form { FORM_TEXT, FORM_JSON, FORM_CSV };

/* The spaces to report on, each with its light day. */
struct choice {
    int count;
    struct {
        char name[JOURNAL_NAME_MAX];
        int64_t light_day;
    } spaces[SPACES_MAX];
};

struct options {
    struct journal_option journal;
    const char *space;       /* NULL: all */
    const char *date;        /* NULL: the latest */
    const char *html, *plot; /* NULL: not asked for */
    enum form form;
};

/* Days come in order: a later one of the same space replaces an earlier one. */
static int choose(const struct journal_day *day, void *context)
{
    struct choice *choice = context;
    int i = 0;
    while (i < choice->count && strcmp(choice->spaces[i].name, day->space) != 0) {
        i++;
    }
    if (i == SPACES_MAX) {
        return 0;
    }
    if (i == choice->count) {
        choice->count++;
    }
    memcpy(choice->spaces[i].name, day->space, sizeof day->space);
    choice->spaces[i].light_day = day->summary.light_day;
    return 0;
}

/* Without a date: every space's latest. Spaces may begin their days at different hours, so that the
 * latest of one can be the day before that of another. */
static int find_days(struct journal_reader *reader, const struct options *options,
                     struct choice *ret, struct err *err)
{
    int64_t first = 0;
    int64_t last = 0;
    int result = journal_read_day_range(reader, options->space, &first, &last, err);
    if (result != 0) {
        return result;
    }
    struct journal_range range = {options->space, last - 1, last + 1};
    if (options->date) {
        int64_t day = last - 1;
        if (strcmp(options->date, "yesterday") != 0) {
            result = parse_date(options->date, &day, err);
        }
        range.from = day;
        range.to = day + 1;
    }
    if (result == 0) {
        result = journal_read_days(reader, &range, choose, ret, err);
    }
    if (result == 0 && ret->count == 0) {
        result = report_no_day(reader, options->space, range.from, err);
    }
    return result;
}

static int print_report(struct journal_reader *reader, const struct report *report, enum form form,
                        struct err *err)
{
    switch (form) {
    case FORM_TEXT:
        report_text(report, verb_takes_utf8(), stdout);
        return 0;
    case FORM_JSON: {
        int result = report_json(report, stdout);
        return result == 0 ? 0 : err_fail(err, -result, "no memory for the report");
    }
    case FORM_CSV:
        return report_csv(report, reader, stdout, err);
    }
    return 0;
}

static int print_day(struct journal_reader *reader, const char *space, int64_t light_day,
                     enum form form, struct err *err)
{
    struct report *report = NULL;
    int result = report_create(reader, space, light_day, &report, err);
    if (result == 0) {
        result = print_report(reader, report, form, err);
    }
    report_destroy(report);
    return result;
}

static int print_all(struct journal_reader *reader, const struct options *options,
                     const struct choice *choice, struct err *err)
{
    int result = 0;
    if (options->form == FORM_CSV) {
        report_csv_header(stdout);
    }
    for (int i = 0; i < choice->count && result == 0; i++) {
        if (i > 0 && options->form == FORM_TEXT) {
            (void)putchar('\n');
        }
        result = print_day(reader, choice->spaces[i].name, choice->spaces[i].light_day,
                           options->form, err);
    }
    return result;
}

/* What a page or a picture is made of. */
struct drawing {
    struct journal_reader *reader;
    const struct options *options;
    const struct choice *choice;
    struct config *config; /* for limits; NULL: none are shown */
};

/* The lowest of the space's fixtures. */
static struct day_limits limits_of(const struct config *config, const char *space)
{
    struct day_limits limits = {UNITS_NONE, UNITS_NONE};
    for (int s = 0; config && s < config->space_count; s++) {
        const struct space_rules *rules = &config->spaces[s].rules;
        for (int f = 0; strcmp(config->spaces[s].name, space) == 0 && f < rules->fixture_count;
             f++) {
            const struct heat_rules *heat = &rules->fixtures[f].heat;
            if (heat->is_watched) {
                limits.from_c = fmin(limits.from_c, heat->from_c); /* the known one */
                limits.trip_c = fmin(limits.trip_c, heat->trip_c);
            }
        }
    }
    return limits;
}

static int make_sheet(const struct drawing *drawing, int index, struct day_sheet *ret,
                      struct err *err)
{
    const char *space = drawing->choice->spaces[index].name;
    const int rc =
        day_sheet_make(drawing->reader, space, drawing->choice->spaces[index].light_day, ret, err);
    if (rc == 0) {
        ret->limits = limits_of(drawing->config, space);
    }
    return rc;
}

static int fill_page(FILE *out, const void *context, struct err *err)
{
    const struct drawing *drawing = context;
    struct html html;
    char day[80];
    char title[160];
    int rc = 0;
    for (int i = 0; i < drawing->choice->count && rc == 0; i++) {
        struct day_sheet sheet = {0};
        rc = make_sheet(drawing, i, &sheet, err);
        if (rc == 0 && i == 0) {
            report_title(sheet.report, day, sizeof day);
            (void)snprintf(title, sizeof title, "%s, %s",
                           drawing->choice->count == 1 ? sheet.report->day.space : "Lampwarden",
                           day);
            html_begin(&html, out, title, day_style);
        }
        if (rc == 0) {
            day_section(&html, &sheet);
        }
        day_sheet_free(&sheet);
    }
    if (rc == 0) {
        html_end(&html);
    }
    return rc;
}

static int draw_plot(const struct drawing *drawing, struct err *err)
{
    struct day_sheet sheet = {0};
    if (drawing->choice->count > 1) {
        return err_fail(err, EINVAL, "a picture shows one space: name it with --space");
    }
    int rc = make_sheet(drawing, 0, &sheet, err);
    if (rc == 0) {
        sheet.is_alone = true;
        rc = day_chart(&sheet, drawing->options->plot, err);
    }
    day_sheet_free(&sheet);
    return rc;
}

/* Without a sound configuration there are days, but no limits beside them. */
static struct config *load_limits(const struct options *options)
{
    struct config *config = NULL;
    struct config_report report = {0};
    if (options->journal.journal && !options->journal.config) {
        return NULL; /* another's journal has other lamps */
    }
    if (config_load_guarded(options->journal.config ? options->journal.config : VERB_DEFAULT_CONFIG,
                            &config, &report) != 0) {
        config = NULL;
    }
    config_report_free(&report);
    return config;
}

static int draw_all(struct journal_reader *reader, const struct options *options,
                    const struct choice *choice, struct err *err)
{
    struct drawing drawing = {
        .reader = reader, .options = options, .choice = choice, .config = load_limits(options)};
    int rc = options->plot ? draw_plot(&drawing, err) : 0;
    if (rc == 0 && options->html) {
        rc = html_write(options->html, fill_page, &drawing, err);
    }
    config_free(drawing.config);
    return rc;
}

static int tell(struct journal_reader *reader, const void *context, struct err *err)
{
    const struct options *options = context;
    struct choice choice = {0};
    const int rc = find_days(reader, options, &choice, err);
    if (rc != 0) {
        return rc;
    }
    return options->html || options->plot ? draw_all(reader, options, &choice, err)
                                          : print_all(reader, options, &choice, err);
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
        {"html", 0, &ret->html, NULL},
        {"plot", 0, &ret->plot, NULL},
        {"journal", 0, &ret->journal.journal, NULL},
        {"config", 'c', &ret->journal.config, NULL},
        {NULL, 0, NULL, NULL},
    };
    int words = verb_options("day", table, argc, argv, 1);
    if (words < 0) {
        return VERB_USAGE;
    }
    if (as_json && as_csv) {
        return verb_usage("day", "one of --json and --csv");
    }
    if ((as_json || as_csv) && (ret->html || ret->plot)) {
        return verb_usage("day", "--html and --plot write a file of their own: not with --json or "
                                 "--csv");
    }
    ret->form = as_json ? FORM_JSON : as_csv ? FORM_CSV : FORM_TEXT;
    ret->date = words > 0 ? argv[1] : NULL;
    struct err err;
    int64_t day = 0;
    if (ret->date && strcmp(ret->date, "yesterday") != 0 &&
        parse_date(ret->date, &day, &err) != 0) {
        return verb_usage("day", "%s", err.text);
    }
    return VERB_OK;
}

static int run(int argc, char **argv)
{
    struct options options = {0};
    const int code = read_options(argc, argv, &options);
    return code == VERB_OK ? journal_option_run("day", &options.journal, tell, &options) : code;
}

const struct verb verb_day = {
    .name = "day",
    .summary = "what the plants received on a light day, what it cost, and why anything was short",
    .help =
        "usage: lampwarden day [DATE] [OPTION...]\n"
        "\n"
        "Reads the journal and reports on one light day of every space: a summary, the mol "
        "account\n"
        "(what was delivered and who took the rest), a table of hours, a chart, the events.\n"
        "A finished day's lamp light stands beside the cheapest possible in hindsight, when "
        "its sun and\n"
        "its prices are known, and beside the same light at one level through the window.\n"
        "Neither knows a power limit of all spaces, and its soft price is in no cost.\n"
        "DATE is the day on which the light day began, as 2026-11-02, or 'yesterday': the "
        "light day\n"
        "before the latest. Without DATE: the latest light day.\n"
        "\n"
        "options:\n"
        "  -s, --space NAME    this space only\n"
        "      --json          one JSON object a line and space; names carry their units; "
        "null: not known.\n"
        "                      cost is of all energy, lamp_cost of the lamp light alone; "
        "bound_cost is the\n"
        "                      least that the target could have cost in lamp light, "
        "even_cost that of\n"
        "                      the light given at one level\n"
        "      --csv           the minutes as CSV with a header line; empty: not known\n"
        "      --html FILE     one page with charts in one file, for the browser and for paper; "
        "'-': to\n"
        "                      standard output. Charts need gnuplot; the limits of heatsinks "
        "are those of\n"
        "                      the configuration\n"
        "      --plot FILE     the course of the day as FILE.svg or FILE.png, '-': in "
        "characters\n" JOURNAL_OPTION_HELP "  -h, --help          this text\n"
        "\n"
        "Columns of --csv: time (the minute's begin), space, light_day, ppfd_umol (median of the "
        "readings), lamp_umol,\n"
        "daylight_umol (means; umol m-2 s-1), level, drive (0 to 1; of the first fixture), limiter "
        "(who "
        "ruled longest),\n"
        "heatsink_c (the hottest), air_c, humidity_percent, watts (mean), delivered_mol, "
        "target_mol (of "
        "the day, at\n"
        "the minute's end), price_per_kwh, quality (good, suspect, stale, lost: the worst of the "
        "light "
        "readings).\n"
        "lampwarden-json(5) describes every field of --json.\n"
        "\n"
        "examples:\n"
        "  lampwarden day\n"
        "  lampwarden day 2026-11-02 --space lettuce\n"
        "  lampwarden day yesterday --csv > yesterday.csv\n"
        "  lampwarden day yesterday --space lettuce --html lettuce.html\n"
        "\n"
        "exit codes: 0 done, 1 no such day or journal, 2 wrong usage, 3 wrong configuration\n",
    .run = run,
};
