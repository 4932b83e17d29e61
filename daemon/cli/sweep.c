/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden sweep`: the dimming curve of one fixture, and how far it may be driven. */
#include "client.h"
#include "err.h"
#include "fileio.h"
#include "options.h"
#include "parse.h"
#include "sweep_run.h"
#include "units.h"
#include "verb.h"
#include "wrap.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define NAME SWEEP_NAME

#define REST_S          60.0 /* of an LED driver after a trip, as usual in the configuration */
#define WARM_LEAST_S    120.0
#define REFERENCE_SHARE 0.6 /* of the top */

static const char cautions[] =
    "The light goes from dark to full and back many times, and counts for the plants' day: keep "
    "people out of the room, do not "
    "look into the LEDs, mind hot heatsinks, and choose an hour when the crop can bear it. Every "
    "rule of the daemon stays in "
    "force; Ctrl-C ends it, and the plan goes on. Local code and the maker's instructions win.\n";

struct words {
    const char *steps, *settle, *samples, *warm_up, *top, *fine, *trips, *rounds, *ceiling_from;
    const char *from, *record, *output, *plot;
    bool seeks_ceiling, asks_watts, overwrites, says_yes, wants_json;
};

static int read_count(const char *option, const char *text, int low, int high, int *ret)
{
    int64_t value = *ret;
    const int code = verb_int(NAME, option, text, low, high, &value);
    *ret = (int)value;
    return code;
}

static int read_share(const char *option, const char *text, double low, double *ret)
{
    const int code = verb_share(NAME, option, text, ret);
    if (code == VERB_OK && !(*ret >= low)) {
        return verb_usage(NAME, "--%s: %s is out of range (%g … 1, or %g%% … 100%%)", option, text,
                          low, 100 * low);
    }
    return code;
}

static int read_length(const char *option, const char *text, int high_s, double *ret)
{
    struct err err;
    int64_t value = 0;
    if (!text) {
        return VERB_OK;
    }
    if (parse_duration(text, high_s, &value, &err) < 0) {
        return verb_usage(NAME, "%s: %s", option, err.text);
    }
    *ret = (double)value;
    return VERB_OK;
}

static int read_rules(const struct words *words, struct sweep_run *run)
{
    struct sweep_rules *rules = &run->rules;
    struct ceilingsearch_rules *ceiling = &run->ceiling_rules;
    *rules = (struct sweep_rules){
        .steps = 20,
        .top_drive = 1,
        .fine = 0.004,
        .reference_every = 4,
        .settle = {.least_s = 3, .samples = 8},
        .warm_most_s = 1800,
        .lost_s = 30,
        .trips_most = 1,
    };
    *ceiling = (struct ceilingsearch_rules){
        .from_drive = 0.8,
        .top_drive = 1,
        .step = 0.01,
        .dwell_s = 12,
        .margin = SWEEP_MARGIN,
        .lost_s = 30,
        .rounds = 2,
    };
    int code = read_count("steps", words->steps, 2, SWEEP_COARSE_MAX, &rules->steps);
    if (code == VERB_OK) {
        code = read_count("samples", words->samples, 3, SETTLE_SAMPLES_MAX, &rules->settle.samples);
    }
    if (code == VERB_OK) {
        code = read_count("trips", words->trips, 0, 5, &rules->trips_most);
    }
    if (code == VERB_OK) {
        code = read_count("rounds", words->rounds, 1, 5, &ceiling->rounds);
    }
    if (code == VERB_OK) {
        code = read_share("top", words->top, 0.1, &rules->top_drive);
    }
    if (code == VERB_OK) {
        code = read_share("fine", words->fine, 0.001, &rules->fine);
    }
    if (code == VERB_OK) {
        code = read_share("ceiling-from", words->ceiling_from, 0.3, &ceiling->from_drive);
    }
    if (code == VERB_OK) {
        code = read_length("--settle", words->settle, 600, &rules->settle.least_s);
    }
    if (code == VERB_OK) {
        code = read_length("--warm-up", words->warm_up, 4 * 3600, &rules->warm_most_s);
    }
    rules->settle.most_s = 5 * rules->settle.least_s + 3 * rules->settle.samples;
    rules->warm_least_s = fmin(WARM_LEAST_S, rules->warm_most_s);
    rules->reference_drive = REFERENCE_SHARE * rules->top_drive;
    ceiling->top_drive = rules->top_drive;
    ceiling->from_drive = fmin(ceiling->from_drive, rules->top_drive);
    ceiling->trips_most = ceiling->rounds;
    return code;
}

/* Beforehand: half an hour of light is not lost to a file that exists, or cannot be written. */
static int check_output(const struct words *words)
{
    struct err err;
    if (words->output && !words->overwrites && access(words->output, F_OK) == 0) {
        return verb_fail(NAME, VERB_FAILED, "%s exists; --force writes over it", words->output);
    }
    return words->output && fileio_may_put(words->output, &err) < 0
               ? verb_fail(NAME, VERB_FAILED, "%s", err.text)
               : VERB_OK;
}

static void tell_beforehand(const struct sweep_run *run)
{
    char least[32], most[32];
    double least_s = 0, most_s = 0, more_s = 0, more_most_s = 0;
    sweep_lengths(&run->rules, &least_s, &most_s);
    if (run->seeks_ceiling) {
        ceilingsearch_lengths(&run->ceiling_rules, REST_S, &more_s, &more_most_s);
    }
    parse_format_duration(least_s + 2 * more_s, least, sizeof least);
    parse_format_duration(most_s + 2 * more_most_s, most, sizeof most);
    struct wrap wrap;
    FILE *out = wrap_begin(&wrap, stdout);
    (void)fprintf(out,
                  "%s of %s, by %s: %d steps up and down to drive %.2f; about %s, %s at most.\n",
                  run->lamp.fixture, run->lamp.space, run->lamp.sensors, run->rules.steps,
                  run->rules.top_drive, least, most);
    if (run->seeks_ceiling) {
        (void)fprintf(out,
                      "Its LED driver is driven until it trips, cold and warm: %d trips at most "
                      "each time.\n",
                      run->ceiling_rules.trips_most);
    }
    if (!run->lamp.keeps_others) {
        (void)fputs("Other fixtures of the space are dark meanwhile.\n", out);
    }
    (void)fputs(cautions, out);
    wrap_end(&wrap, 0);
    (void)fflush(stdout);
}

/* A person may still think better of it. */
static bool may_begin(const struct words *words)
{
    if (words->says_yes || words->wants_json || !isatty(STDIN_FILENO)) {
        return true;
    }
    (void)fprintf(stderr, "Enter to begin, Ctrl-C to leave: ");
    const int letter = getchar();
    return letter == '\n';
}

static int finish(const struct words *words, const struct sweep_finding *finding)
{
    struct err err;
    if (words->output && sweep_record(finding, words->output, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    if (words->wants_json) {
        sweep_json(finding, words->output);
    } else {
        sweep_text(finding);
    }
    if (words->plot && sweep_plot(finding, words->plot, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    if (words->output && !words->wants_json) {
        struct wrap wrap;
        (void)fprintf(wrap_begin(&wrap, stdout),
                      "%s written: @include it in the fixture's group, instead of curve, "
                      "ppfd_full, drive_ceiling and commissioned\n",
                      words->output);
        wrap_end(&wrap, 2);
    }
    return VERB_OK;
}

static int run_live(const struct words *words, struct sweep_run *run)
{
    struct err err;
    struct sweep_finding *finding = &run->finding;
    if (sweep_lamp_open(&run->lamp, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    run->rules.has_switch = run->lamp.contact[0] != '\0';
    run->seeks_ceiling = words->seeks_ceiling;
    run->asks_watts = words->asks_watts;
    progress_begin(&run->progress, !words->wants_json);
    (void)snprintf(finding->space, sizeof finding->space, "%s", run->lamp.space);
    (void)snprintf(finding->fixture, sizeof finding->fixture, "%s", run->lamp.fixture);
    (void)snprintf(finding->date, sizeof finding->date, "%s", run->lamp.time);
    (void)snprintf(finding->sensor, sizeof finding->sensor, "%s", run->lamp.sensors);
    if (!words->wants_json) {
        tell_beforehand(run);
    }
    if (!may_begin(words)) {
        return VERB_OK;
    }
    if (sweep_run(run, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    return finish(words, finding);
}

static int run_from_file(const struct words *words, struct sweep_finding *finding)
{
    struct err err;
    const int rc = words->from ? sweep_read(words->from, finding, &err)
                               : sweep_recall(words->record, finding, &err);
    if (rc < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    return finish(words, finding);
}

static int work(const struct words *words, int count, char **argv, struct sweep_run *run)
{
    const bool has_file = words->from || words->record;
    if (has_file && (count > 0 || words->seeks_ceiling || words->asks_watts)) {
        return verb_usage(NAME,
                          "--%s needs no daemon: no space, fixture, --ceiling or "
                          "--watts-by-hand beside it",
                          words->from ? "from" : "record");
    }
    if (words->record && (words->from || words->output)) {
        return verb_usage(NAME, "--record shows a record again: no --from or --output beside it");
    }
    if (!has_file && count != 2) {
        return verb_usage(NAME, "it takes a space and a fixture");
    }
    int code = read_rules(words, run);
    if (code == VERB_OK) {
        code = check_output(words);
    }
    if (code != VERB_OK) {
        return code;
    }
    if (has_file) {
        return run_from_file(words, &run->finding);
    }
    run->lamp.space = argv[1];
    run->lamp.fixture = argv[2];
    return run_live(words, run);
}

static int run(int argc, char **argv)
{
    struct words words = {0};
    struct sweep_run *run = calloc(1, sizeof *run);
    struct sweep *sweep = calloc(1, sizeof *sweep);
    int code = VERB_FAILED;
    if (run && sweep) {
        run->sweep = sweep;
        run->lamp.socket_path = CLIENT_DEFAULT_SOCKET;
        const struct verb_option table[] = {
            {"socket", 0, &run->lamp.socket_path, NULL},
            {"steps", 0, &words.steps, NULL},
            {"settle", 0, &words.settle, NULL},
            {"samples", 0, &words.samples, NULL},
            {"warm-up", 0, &words.warm_up, NULL},
            {"top", 0, &words.top, NULL},
            {"fine", 0, &words.fine, NULL},
            {"trips", 0, &words.trips, NULL},
            {"rounds", 0, &words.rounds, NULL},
            {"ceiling-from", 0, &words.ceiling_from, NULL},
            {"from", 0, &words.from, NULL},
            {"record", 0, &words.record, NULL},
            {"plot", 0, &words.plot, NULL},
            {"output", 'o', &words.output, NULL},
            {"ceiling", 0, NULL, &words.seeks_ceiling},
            {"watts-by-hand", 0, NULL, &words.asks_watts},
            {"keep-others", 0, NULL, &run->lamp.keeps_others},
            {"break-night", 0, NULL, &run->lamp.breaks_night},
            {"force", 0, NULL, &words.overwrites},
            {"yes", 0, NULL, &words.says_yes},
            {"json", 0, NULL, &words.wants_json},
            {NULL, 0, NULL, NULL},
        };
        const int count = verb_options(NAME, table, argc, argv, 2);
        code = count < 0 ? VERB_USAGE : work(&words, count, argv, run);
    } else {
        code = verb_fail(NAME, VERB_FAILED, "no memory for the steps");
    }
    free(sweep);
    free(run);
    return code;
}

const struct verb verb_sweep = {
    .name = NAME,
    .summary = "the dimming curve of one fixture, and how far it may be driven",
    .help =
        "usage: lampwarden sweep SPACE FIXTURE [OPTION...]\n"
        "       lampwarden sweep --from FILE.csv [OPTION...]\n"
        "       lampwarden sweep --record FILE [--plot FILE] [--json]\n"
        "\n"
        "Measures drive, light and watts of one fixture through the running daemon, which keeps "
        "all of its own rules: dark, a\n"
        "warm-up at 60 %, steps up and down, the drives where the light goes and comes back, and "
        "where more drive gives no more.\n"
        "Looks back at the dark and at 60 % tell daylight and the droop of the warm lamp apart, "
        "and both are taken out. Prints\n"
        "the curve with what the readings differ from it. In the night it is refused, but for "
        "--break-night. It ends by Ctrl-C;\n"
        "should this program be killed, the plan goes on within two minutes.\n"
        "\n"
        "Bright and changing light: keep people out of the room and do not look into the LEDs. "
        "The light counts for the plants'\n"
        "day. A limit that holds the lamp back, as a stage's ceiling_umol, ends the curve there: "
        "lift it for\n"
        "that time. Local code and the maker's instructions win.\n"
        "\n"
        "  --output FILE       writes a fixture record for the configuration: in the fixture's "
        "group, instead of curve,\n"
        "                      ppfd_full, drive_ceiling and commissioned, a line @include "
        "\"FILE\"; --force writes over an\n"
        "                      old one\n"
        "  --ceiling           also seeks the drive at which the LED driver trips, cold and warm, "
        "by tripping it: upwards in\n"
        "                      steps of 1 % from --ceiling-from (default 80%), --rounds times "
        "(default 2), with a rest\n"
        "                      after each; the ceiling stays 5 points below what held\n"
        "  --steps N           of the drive; default 20\n"
        "  --settle LENGTH     readings younger than this after a move do not count; default 3s\n"
        "  --samples N         that have to agree at each step; default 8\n"
        "  --warm-up LENGTH    at most; default 30min, or until the heatsink stands still\n"
        "  --top SHARE         highest drive asked; default 100%\n"
        "  --fine SHARE        how near the edges of the dark and the bend at the top are sought; "
        "default 0.4%\n"
        "  --trips N           more trips than these in the steps end it; default 1\n"
        "  --watts-by-hand     asks for the watts of each step upwards: where there is no meter\n"
        "  --keep-others       leaves the other fixtures of the space to the plan; else they are "
        "dark\n"
        "  --break-night       lights the night too, on purpose\n"
        "  --from FILE.csv     readings taken by hand instead: columns drive,ppfd_umol[,watts]; "
        "notes such as\n"
        "                      \"# dark_umol: 2.5\", date, sensor, fixture, temperature_c above "
        "them. A drive read three times\n"
        "                      or more, now and then, tells the droop\n"
        "  --record FILE       shows what a fixture record that was written before has kept\n"
        "  --plot FILE         a picture of the curve, with what the readings differ from it: .png "
        "or .svg, - for the\n"
        "                      terminal\n"
        "  --yes               does not wait for Enter\n"
        "  --socket PATH       control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "  --json              the answer as JSON\n"
        "\n"
        "examples:\n"
        "  lampwarden sweep lettuce lettuce_a --output lettuce_a.record\n"
        "  lampwarden sweep --record lettuce_a.record --plot lettuce_a.svg\n",
    .run = run,
};
