/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden rehearse`: light days as the daemon would give them, against the bench. */
#include "forewarn.h"
#include "options.h"
#include "progress.h"
#include "verb.h"

#include "account.h"
#include "config.h"
#include "err.h"
#include "journal_read.h"
#include "parse.h"
#include "recorder.h"
#include "rehearsal.h"
#include "report.h"
#include "units.h"

#include <errno.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define NAME          "rehearse"
#define DAYS_MAX      4000
#define REPORTS_UP_TO 3 /* more days than this are listed, a line each */

struct request {
    const char *config_path, *from, *daylight_path, *faults_path, *journal_path;
    int64_t days, seed;
    double step_s;
    bool wants_json, wants_reports;
};

struct stage_set { /* what the rehearsal runs on; all owned here */
    struct config *config;
    struct daylight daylight;
    struct journal *journal;
    struct rehearsal *rehearsal;
    char scratch[PATH_MAX]; /* folder of the scratch journal, "" : none */
    char journal_path[PATH_MAX];
    int64_t from_day;
};

static int read_options(int argc, char **argv, struct request *ret)
{
    const char *days = NULL;
    const char *seed = NULL;
    const char *step = NULL;
    const struct verb_option table[] = {
        {"config", 'c', &ret->config_path, NULL},
        {"from", 0, &ret->from, NULL},
        {"days", 0, &days, NULL},
        {"daylight", 0, &ret->daylight_path, NULL},
        {"faults", 0, &ret->faults_path, NULL},
        {"seed", 0, &seed, NULL},
        {"step", 0, &step, NULL},
        {"journal", 0, &ret->journal_path, NULL},
        {"json", 0, NULL, &ret->wants_json},
        {"reports", 0, NULL, &ret->wants_reports},
        {NULL, 0, NULL, NULL},
    };
    if (verb_options(NAME, table, argc, argv, 0) < 0) {
        return VERB_USAGE;
    }
    int rc = verb_number(NAME, "step", step, 0.1, 60, &ret->step_s);
    if (rc == VERB_OK) {
        rc = verb_int(NAME, "days", days, 1, DAYS_MAX, &ret->days);
    }
    return rc != VERB_OK ? rc : verb_int(NAME, "seed", seed, 0, INT64_MAX, &ret->seed);
}

static int load(const struct request *request, struct stage_set *set)
{
    struct config_report report = {0};
    const int rc = config_load_guarded(request->config_path, &set->config, &report);
    if (report.text && report.text[0]) {
        (void)fputs(report.text, stderr);
    }
    config_report_free(&report);
    if (rc < 0) {
        return verb_fail(NAME, VERB_BAD_CONFIG, "%s cannot be used", request->config_path);
    }
    struct err err;
    set->from_day = INT64_MAX;
    for (int s = 0; s < set->config->space_count; s++) {
        const int64_t first = set->config->spaces[s].rules.first_day;
        set->from_day = first < set->from_day ? first : set->from_day;
    }
    if (request->from && parse_date(request->from, &set->from_day, &err) < 0) {
        return verb_usage(NAME, "--from: %s", err.text);
    }
    if (request->daylight_path && daylight_load(request->daylight_path, &set->daylight, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    return VERB_OK;
}

/* A journal is kept where asked; reports need one, so that they get a scratch folder otherwise. */
static int open_journal(const struct request *request, struct stage_set *set)
{
    struct err err;
    if (request->journal_path) {
        if (access(request->journal_path, F_OK) == 0) {
            return verb_fail(NAME, VERB_FAILED, "%s exists: a rehearsal writes a new journal only",
                             request->journal_path);
        }
        (void)snprintf(set->journal_path, sizeof set->journal_path, "%s", request->journal_path);
    } else if (request->wants_json) {
        return VERB_OK;
    } else {
        const char *folder = getenv("TMPDIR");
        (void)snprintf(set->scratch, sizeof set->scratch, "%s/lampwarden-rehearsal-XXXXXX",
                       folder && folder[0] ? folder : "/tmp");
        if (!mkdtemp(set->scratch)) {
            const int code = errno;
            set->scratch[0] = '\0';
            return verb_fail(NAME, VERB_FAILED, "no scratch folder in %s: %s",
                             folder && folder[0] ? folder : "/tmp", err_name(code));
        }
        const int length =
            snprintf(set->journal_path, sizeof set->journal_path, "%s/journal.db", set->scratch);
        if (length < 0 || (size_t)length >= sizeof set->journal_path) {
            return verb_fail(NAME, VERB_FAILED, "the path of the scratch folder is too long");
        }
    }
    const struct journal_options options = {
        .path = set->journal_path, .commit_s = 60, .is_rehearsal = true};
    if (journal_open(&options, &set->journal, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    return VERB_OK;
}

static void print_day_line(const struct journal_day *day)
{
    const struct day_summary *summary = &day->summary;
    char date[16];
    parse_format_date(summary->light_day, date, sizeof date);
    (void)printf("%s  %-16s %-14s %6.2f of %5.2f mol  %7.3f kWh  %7.2f %s", date, day->space,
                 day->stage[0] ? day->stage : "-", summary->account.delivered_mol,
                 summary->account.target_mol, summary->energy_kwh, summary->cost, day->currency);
    const char *separator = "  short by ";
    const bool is_met = account_missing_mol(&summary->account) < ACCOUNT_SHORT_MOL;
    for (int i = 0; i < LIMITER_COUNT && !is_met; i++) {
        if (summary->account.missing_mol[i] >= 0.005) {
            (void)printf("%s%.2f mol %s", separator, summary->account.missing_mol[i],
                         limiter_name((enum limiter)i));
            separator = ", ";
        }
    }
    (void)putchar('\n');
}

static void show_progress(struct progress *progress, const struct stage_set *set,
                          const struct request *request)
{
    const double days = rehearsal_seconds(set->rehearsal) / UNITS_S_PER_DAY;
    char words[64];
    (void)snprintf(words, sizeof words, "%.0f of %lld light days", floor(days),
                   (long long)request->days);
    progress_show(progress, days / (double)request->days, words);
}

/* True while some space has not yet closed the last day asked for. */
static bool is_going_on(const struct stage_set *set, const struct request *request)
{
    for (int s = 0; s < set->config->space_count; s++) {
        const struct space_state *state = rehearsal_view(set->rehearsal, s).state;
        if (!state->is_begun || state->light_day < set->from_day + request->days) {
            return true;
        }
    }
    return false;
}

static int tell_closed_days(struct progress *progress, const struct stage_set *set,
                            const struct request *request)
{
    for (int s = 0; s < set->config->space_count; s++) {
        const struct verdict *verdict = rehearsal_view(set->rehearsal, s).verdict;
        if (!verdict->day_closed || verdict->closed.light_day < set->from_day ||
            verdict->closed.light_day >= set->from_day + request->days) {
            continue;
        }
        struct journal_day day;
        recorder_day(set->config, s, &verdict->closed, true, &day);
        progress_clear(progress);
        if (!request->wants_json) {
            print_day_line(&day);
        } else if (report_day_json(&day, stdout) < 0) {
            return verb_fail(NAME, VERB_FAILED, "out of memory");
        }
    }
    return VERB_OK;
}

static int run_days(struct stage_set *set, const struct request *request)
{
    struct progress progress;
    progress_begin(&progress, true);
    int rc = VERB_OK;
    for (long tick = 0; rc == VERB_OK && is_going_on(set, request); tick++) {
        rehearsal_step(set->rehearsal);
        if (tick % 1000 == 0) {
            show_progress(&progress, set, request);
        }
        rc = tell_closed_days(&progress, set, request);
    }
    progress_clear(&progress);
    return rc;
}

static int print_reports(const struct stage_set *set, const struct request *request)
{
    struct journal_reader *reader = NULL;
    struct err err;
    int rc = journal_reader_open(set->journal_path, &reader, &err);
    const bool is_utf8 = verb_takes_utf8();
    for (int64_t day = set->from_day; rc == 0 && day < set->from_day + request->days; day++) {
        for (int s = 0; rc == 0 && s < set->config->space_count; s++) {
            struct report *report = NULL;
            rc = report_create(reader, set->config->spaces[s].name, day, &report, &err);
            if (rc == 0) {
                (void)putchar('\n');
                report_text(report, is_utf8, stdout);
            }
            report_destroy(report);
        }
    }
    journal_reader_close(reader);
    return rc < 0 ? verb_fail(NAME, VERB_FAILED, "%s", err.text) : VERB_OK;
}

static int rehearse(struct stage_set *set, const struct request *request)
{
    const struct rehearsal_options options = {
        .from_day = set->from_day,
        .step_s = request->step_s,
        .seed = (uint64_t)request->seed,
        .daylight = request->daylight_path ? &set->daylight : NULL,
        .faults_path = request->faults_path,
        .journal = set->journal,
    };
    struct err err;
    if (rehearsal_create(set->config, &options, &set->rehearsal, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    const int64_t first_s = rehearsal_wall_s(set->rehearsal);
    const int64_t last_s = first_s + request->days * INT64_C(86400) - 1;
    forewarn_of_prices(set->config, first_s, last_s);
    forewarn_of_daylight(set->config, request->daylight_path, &set->daylight, first_s, last_s);
    int rc = run_days(set, request);
    if (rc != VERB_OK || !set->journal) {
        return rc;
    }
    if (!journal_flush(set->journal, 60)) {
        return verb_fail(NAME, VERB_FAILED, "%s: %s", set->journal_path,
                         journal_get_status(set->journal).reason);
    }
    journal_close(set->journal); /* its writer holds the file to itself */
    set->journal = NULL;
    const bool wants_reports = request->wants_reports || request->days <= REPORTS_UP_TO;
    return wants_reports && !request->wants_json ? print_reports(set, request) : VERB_OK;
}

static void clean_up(struct stage_set *set)
{
    rehearsal_destroy(set->rehearsal);
    journal_close(set->journal);
    daylight_free(&set->daylight);
    config_free(set->config);
    static const char *const endings[] = {"", "-wal", "-shm", "-journal", ".lock"};
    for (size_t i = 0; set->scratch[0] && i < sizeof endings / sizeof *endings; i++) {
        char path[PATH_MAX + 16];
        (void)snprintf(path, sizeof path, "%s%s", set->journal_path, endings[i]);
        (void)unlink(path); /* what is not there need not go */
    }
    if (set->scratch[0]) {
        (void)rmdir(set->scratch);
    }
}

static int run(int argc, char **argv)
{
    struct request request = {
        .config_path = VERB_DEFAULT_CONFIG, .days = REPORTS_UP_TO, .seed = 1, .step_s = 1};
    struct stage_set *set = calloc(1, sizeof *set);
    if (!set) {
        return verb_fail(NAME, VERB_FAILED, "out of memory");
    }
    int rc = read_options(argc, argv, &request);
    if (rc == VERB_OK) {
        rc = load(&request, set);
    }
    if (rc == VERB_OK) {
        rc = open_journal(&request, set);
    }
    if (rc == VERB_OK) {
        rc = rehearse(set, &request);
    }
    clean_up(set);
    free(set);
    return rc;
}

const struct verb verb_rehearse = {
    .name = NAME,
    .summary = "run light days against the built-in bench, as fast as the machine can",
    .help =
        "usage: lampwarden rehearse [OPTION...]\n"
        "\n"
        "Runs the configuration's spaces against simulated fixtures, sensors and rooms with the "
        "daemon's\n"
        "own decisions: a way to see what a day will give before a lamp is wired. Prints a line a "
        "day and\n"
        "the day reports (of up to three days), or with --json one object a line per space and "
        "day.\n"
        "\n"
        "  --config FILE    configuration; default " VERB_DEFAULT_CONFIG "\n"
        "  --from DATE      first light day, as 2026-11-02; default: the earliest start of a "
        "space\n"
        "  --days N         how many light days (1 ... 4000); default 3\n"
        "  --daylight FILE  CSV 'time,ppfd_umol' for spaces under glass; a value holds until the "
        "next row;\n"
        "                   where rows are missing, or without FILE, it is dark outside\n"
        "  --faults FILE    fault script, a line each: FROM LENGTH KIND UNIT [VALUE]; see below\n"
        "  --seed N         of the sensors' noise; the same seed gives the same bytes; default 1\n"
        "  --step S         length of a tick (0.1 ... 60 s); default 1, as the daemon's\n"
        "  --journal FILE   keep the rehearsal's journal in a new file, for 'lampwarden day'\n"
        "  --reports        print day reports also of more than three days\n"
        "  --json           one object a line per space and light day, as 'lampwarden day --json'\n"
        "                   without hours and events (they are in the --journal)\n"
        "\n"
        "Where a light day begins later than at midnight, the hours of the first date before it "
        "end the\n"
        "light day of the day before, which is not reported.\n"
        "\n"
        "A year on ticks of 60 s takes a second or two and gives the mol and the money of one on "
        "ticks of\n"
        "1 s within a few thousandths. What happens within seconds then takes ticks: a heat trip, "
        "a\n"
        "lost sensor or an output that does not obey is told one to three ticks late, and lights "
        "go on and\n"
        "off on the tick after their time: let the step divide a minute. Ticks of more than 10 s "
        "do not\n"
        "compare the sensor with the lamps' steps.\n"
        "\n"
        "A fault begins FROM after the first light day's beginning ('12h', '1h30min') and lasts "
        "LENGTH.\n"
        "UNIT counts from 0 in the order of the configuration:\n"
        "  of a space:    ppfd-stuck, ppfd-nan, ppfd-silent, ppfd-gain FACTOR\n"
        "  of a fixture:  heat-stuck, heat-silent, heat-step KELVIN, trip DRIVE, dead, welded,\n"
        "                 switch-open, dim-stuck\n"
        "  of the bus:    bus-down (unit 0)\n"
        "as in '14h 30min heat-step 1 25': the second fixture's place is 25 K warmer for half an "
        "hour.\n"
        "\n"
        "example: lampwarden rehearse --config etc/demo.conf --from 2026-11-02 --days 3\n",
    .run = run,
};
