/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden try`: one output moved by hand for a moment, and what came of it. */
#include "client.h"
#include "clock.h"
#include "err.h"
#include "field.h"
#include "interrupt.h"
#include "json_out.h"
#include "level_word.h"
#include "options.h"
#include "parse.h"
#include "verb.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NAME  "try"
#define MAX_S 600

static const int64_t look_ns = 500 * CLOCK_NS_PER_MS;
static const int64_t settled_ns = 10 * CLOCK_NS_PER_S; /* a meter's round and a driver's own ramp */

/* One look: what was asked of the output and of its device, and what was observed. NaN: unknown. */
struct look {
    bool is_tried;
    double asked, written, read_back;
    double umol;  /* of the space */
    double watts; /* of the fixture */
    double expected_watts, full_watts;
    bool light_is_measured, watts_are_measured;
    char held[160];
    char limiter[32];
};

struct trial_run {
    const char *socket_path;
    const char *output;
    bool is_switch;
    double value;
    char space[64], fixture[64];
    struct look before, last; /* last: while it was still moved by hand */
    char *sentence;
    bool ended_early;
    int64_t steady_since_ns; /* its curve has promised the same power since */
    bool is_steady;          /* … long enough to compare */
};

static void copy_text(char *to, size_t size, const json_t *object, const char *key)
{
    (void)snprintf(to, size, "%s", field_text(object, key));
}

static int look_now(struct trial_run *run, struct look *ret, struct err *err)
{
    json_t *status = NULL;
    const int rc = client_ask(run->socket_path, "status", NULL, &status, err);
    if (rc < 0) {
        return rc;
    }
    const json_t *output = field_find(json_object_get(status, "outputs"), "output", run->output);
    copy_text(run->space, sizeof run->space, output, "space");
    copy_text(run->fixture, sizeof run->fixture, output, "fixture");
    const json_t *space = field_find(json_object_get(status, "spaces"), "space", run->space);
    const json_t *fixture = field_find(json_object_get(space, "fixtures"), "fixture", run->fixture);
    const json_t *trial = json_object_get(output, "try");
    *ret = (struct look){
        .is_tried = json_is_object(trial),
        .asked = field_number(output, "asked"),
        .written = field_number(output, "written"),
        .read_back = field_number(output, "read_back"),
        .light_is_measured = json_is_true(json_object_get(space, "light_is_measured")),
        .watts_are_measured = isfinite(field_number(fixture, "measured_watts")),
    };
    ret->umol = field_number(space, ret->light_is_measured ? "ppfd_umol" : "lamp_umol");
    ret->watts =
        field_number(fixture, ret->watts_are_measured ? "measured_watts" : "expected_watts");
    ret->expected_watts = field_number(fixture, "expected_watts");
    ret->full_watts = field_number(fixture, "full_watts");
    copy_text(ret->held, sizeof ret->held, trial, "held");
    copy_text(ret->limiter, sizeof ret->limiter, fixture, "limiter");
    json_decref(status);
    return 0;
}

static int ask_for_it(struct trial_run *run, double seconds, bool breaks_night, struct err *err)
{
    json_t *result = NULL;
    json_t *value =
        run->is_switch ? json_string(run->value > 0.5 ? "closed" : "open") : json_real(run->value);
    json_t *params = json_pack("{s:s, s:o, s:f, s:b}", "output", run->output, "value", value,
                               "seconds", seconds, "break_night", (int)breaks_night);
    const int rc = client_ask(run->socket_path, NAME, params, &result, err);
    if (rc == 0) {
        run->sentence = strdup(field_text(result, "sentence"));
        json_decref(result);
    }
    return rc;
}

/* Ends it before its time: the person who waits has seen enough, or went away. */
static int end_it(struct trial_run *run, struct err *err)
{
    json_t *result = NULL;
    const int rc = client_ask(run->socket_path, "try_end",
                              json_pack("{s:s}", "output", run->output), &result, err);
    json_decref(result);
    return rc;
}

/* The same but for their numbers: a limit that moves is told once, its last value at the end. */
static bool same_words(const char *a, const char *b)
{
    static const char digits[] = "0123456789.";
    for (;; a++, b++) {
        a += strspn(a, digits);
        b += strspn(b, digits);
        if (*a != *b || *a == '\0') {
            return *a == *b;
        }
    }
}

static void tell_held(const struct look *look, char *told, size_t size, bool is_quiet)
{
    if (!is_quiet && look->held[0] && !same_words(look->held, told)) {
        (void)printf("  %s\n", look->held);
        (void)fflush(stdout);
    }
    (void)snprintf(told, size, "%s", look->held);
}

static void take_look(struct trial_run *run, const struct look *look, int64_t now_ns)
{
    if (!(fabs(look->expected_watts - run->last.expected_watts) <= 0.005 * look->full_watts)) {
        run->steady_since_ns = now_ns;
    }
    run->is_steady = now_ns - run->steady_since_ns >= settled_ns;
    run->last = *look;
}

/* Looks on until it is over. The daemon ends it; should this program be killed, it still does. */
static int wait_for_end(struct trial_run *run, double seconds, bool is_quiet, struct err *err)
{
    char told[160] = "";
    const int64_t end_ns = clock_boot_ns() + (int64_t)(seconds * 1e9);
    const int64_t late_ns = end_ns + 5 * CLOCK_NS_PER_S;
    bool was_seen = false;
    run->steady_since_ns = clock_boot_ns();
    while (!interrupt_came()) {
        struct look look;
        const int64_t now_ns = clock_boot_ns();
        const int rc = look_now(run, &look, err);
        if (rc < 0) {
            return rc;
        }
        if (look.is_tried) {
            take_look(run, &look, now_ns);
            was_seen = true;
            tell_held(&look, told, sizeof told, is_quiet);
        } else if (was_seen || now_ns > late_ns) {
            run->ended_early = now_ns < end_ns - 2 * CLOCK_NS_PER_S;
            return 0;
        }
        (void)clock_sleep_until(now_ns + look_ns, NULL);
    }
    run->ended_early = true;
    return end_it(run, err);
}

static void print_position(const struct trial_run *run, double value)
{
    if (!isfinite(value)) {
        (void)printf("nothing");
    } else if (run->is_switch) {
        (void)printf("%s", value > 0.5 ? "closed" : "open");
    } else {
        (void)printf("%.2f", value);
    }
}

static void print_change(const char *what, double before, double after, const char *unit,
                         bool is_measured)
{
    if (isfinite(before) && isfinite(after)) {
        (void)printf("; %s %.0f → %.0f %s%s", what, before, after, unit,
                     is_measured ? "" : " (by the curve)");
    }
}

/* Its own meter says clearly otherwise than its curve. */
static bool lamp_differs(const struct trial_run *run)
{
    const struct look *last = &run->last;
    const double off_w = fabs(last->watts - last->expected_watts);
    return run->is_steady && last->watts_are_measured && off_w > 0.25 * last->expected_watts &&
           off_w > 0.1 * last->full_watts;
}

/* "lettuce_a_dim: 0.40 asked, 0.40 written, 0.40 read back; light 189 → 310 µmol/m²/s, …" */
static void print_outcome(const struct trial_run *run)
{
    const struct look *last = &run->last;
    (void)printf("%s: ", run->output);
    print_position(run, run->value);
    (void)printf(" asked");
    if (fabs(last->asked - run->value) > 0.001) {
        (void)printf(", ");
        print_position(run, last->asked);
        (void)printf(" allowed");
    }
    (void)printf(", ");
    print_position(run, last->written);
    (void)printf(" written, ");
    if (isfinite(last->read_back)) {
        print_position(run, last->read_back);
        (void)printf(" read back");
    } else {
        (void)printf("not readable");
    }
    print_change("light", run->before.umol, last->umol, "µmol m⁻² s⁻¹", last->light_is_measured);
    print_change("power", run->before.watts, last->watts, "W", last->watts_are_measured);
    (void)putchar('\n');
    if (lamp_differs(run)) {
        (void)printf("  by its curve about %.0f W: the lamp does not follow; right output, scale "
                     "and unit?\n",
                     last->expected_watts);
    }
    if (last->held[0]) {
        (void)printf("  %s\n", last->held);
    }
    if (run->ended_early) {
        (void)printf("  ended before its time; the plan goes on\n");
    }
}

static json_t *look_json(const struct look *look)
{
    const struct {
        const char *name;
        double value;
    } rows[] = {
        {"asked", look->asked},     {"written", look->written}, {"read_back", look->read_back},
        {"light_umol", look->umol}, {"watts", look->watts},
    };
    json_t *object = json_object();
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        json_out_set(object, rows[i].name, json_out_real(rows[i].value));
    }
    json_out_set(object, "light_is_measured", json_boolean(look->light_is_measured));
    json_out_set(object, "watts_are_measured", json_boolean(look->watts_are_measured));
    json_out_set(object, "limiter", json_string(look->limiter));
    json_out_set(object, "held", json_out_text(look->held));
    return object;
}

static void print_json(const struct trial_run *run)
{
    json_t *object =
        json_pack("{s:s,s:s,s:s,s:f,s:s,s:b,s:o,s:o}", "output", run->output, "space", run->space,
                  "fixture", run->fixture, "value", run->value, "sentence",
                  run->sentence ? run->sentence : "", "ended_early", (int)run->ended_early,
                  "before", look_json(&run->before), "during", look_json(&run->last));
    json_out_print(object);
}

static int run_it(struct trial_run *run, double seconds, bool breaks_night, bool wants_json)
{
    struct err err;
    interrupt_catch();
    int rc = look_now(run, &run->before, &err);
    if (rc == 0) {
        rc = ask_for_it(run, seconds, breaks_night, &err);
    }
    if (rc == 0) {
        if (!wants_json) {
            (void)puts(run->sentence);
            (void)fflush(stdout);
        }
        run->last = run->before;
        rc = wait_for_end(run, seconds, wants_json, &err);
    }
    if (rc == 0 && wants_json) {
        print_json(run);
    } else if (rc == 0) {
        print_outcome(run);
    }
    free(run->sentence);
    return rc < 0 ? verb_fail(NAME, VERB_FAILED, "%s", err.text) : VERB_OK;
}

static int run(int argc, char **argv)
{
    struct trial_run run = {.socket_path = CLIENT_DEFAULT_SOCKET};
    const char *length = "30s";
    bool breaks_night = false;
    bool wants_json = false;
    const struct verb_option table[] = {
        {"socket", 0, &run.socket_path, NULL},
        {"for", 0, &length, NULL},
        {"break-night", 0, NULL, &breaks_night},
        {"json", 0, NULL, &wants_json},
        {NULL, 0, NULL, NULL},
    };
    const int words = verb_options(NAME, table, argc, argv, 2);
    if (words < 0) {
        return VERB_USAGE;
    }
    if (words != 2) {
        return verb_usage(NAME, "it takes an output and a value");
    }
    struct err err;
    int64_t seconds = 0;
    run.output = argv[1];
    run.is_switch = strcmp(argv[2], "open") == 0 || strcmp(argv[2], "closed") == 0;
    if (run.is_switch) {
        run.value = strcmp(argv[2], "closed") == 0;
    } else if (level_word(argv[2], &run.value, &err) < 0) {
        return verb_usage(NAME, "value: %s (\"40%%\" or \"0.4\"; of a switch: open, closed)",
                          err.text);
    }
    if (parse_duration(length, MAX_S, &seconds, &err) < 0) {
        return verb_usage(NAME, "--for: %s", err.text);
    }
    return run_it(&run, (double)seconds, breaks_night, wants_json);
}

const struct verb verb_try = {
    .name = NAME,
    .summary = "move one output by hand for a moment and see what it does",
    .help =
        "usage: lampwarden try OUTPUT VALUE [OPTION...]\n"
        "\n"
        "For whoever wires a room: moves one output of the configuration's `outputs`, waits, and "
        "says what was\n"
        "asked, what the device took, what it reads back, and what light and power did. VALUE is a "
        "drive, \"40%\"\n"
        "or \"0.4\" of the output's range (not of the light), or for a switch \"open\" or "
        "\"closed\". It ends by itself,\n"
        "by Ctrl-C, or by `lampwarden resume SPACE`; then the plan goes on from there without a "
        "jump. The light it\n"
        "gave counts for the day.\n"
        "\n"
        "Heat, the LED driver's rests and ceiling, the stage's PPFD ceiling, minimum times and the "
        "night stay in\n"
        "force; what holds the output back is said. Behind an open switch a dimming output moves "
        "at any time\n"
        "(by night from 20 s after the switch opened: one that welded shows itself first): no\n"
        "light comes of it, and an inverted line shows. Light in a night needs --break-night, and "
        "its dose is logged.\n"
        "An output that no fixture of a space uses is not moved: nothing would guard what hangs "
        "on it.\n"
        "A later try of the same output takes the place of the earlier one; the dimming output "
        "and the switch of a\n"
        "fixture can be tried at once.\n"
        "\n"
        "  --for LENGTH    how long, up to 10min; default 30s\n"
        "  --break-night   light the night too, on purpose\n"
        "  --socket PATH   control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "  --json          the answer as JSON\n"
        "\n"
        "example: lampwarden try lettuce_a_dim 40%\n",
    .run = run,
};
