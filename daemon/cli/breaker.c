/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden breaker`: how many LED drivers one circuit breaker bears. */
#include "breaker.h"

#include "err.h"
#include "json_out.h"
#include "mains.h"
#include "options.h"
#include "units.h"
#include "verb.h"
#include "wrap.h"

#include <stdio.h>

#define NAME "breaker"

static const char sources[] =
    "Lower end of the magnetic band: B 3, C 5, D 10 times the rated current (common practice, as "
    "texts of the trade "
    "quote IEC 60898-1). It was not looked up in the standard.\n";

static const char cautions[] =
    "A figure of the LED driver's or the breaker's maker wins over this count: it knows the pulse. "
    "Local code and a "
    "licensed electrician win over both, also on the load that may flow for hours (often 80 % of "
    "the rating: --use 80%).\n"
    "- The contact that switches them must be rated for LED or ballast loads (AC-5a, IEC "
    "60947-4-1); \"10 A 250 V\" alone "
    "means heaters. Inrush welds others, at the first closing.\n"
    "- Close banks 0.5 to 2 s apart; leave minimum on and off times as they are: inrush limiters "
    "must cool. After a short "
    "interruption inrush can be worse.\n"
    "- An RCD or GFCI sees the leakage of all of them: the sheets' leakage currents add up, and "
    "may bind first.\n"
    "- Cables, other loads of the circuit, ambient heat and neighbouring breakers are not reckoned "
    "with here.\n";

struct request {
    struct breaker_load load;
    struct breaker breaker;
    bool has_breaker, wants_json;
};

typedef void row_fn(void *context, const struct request *request, const struct breaker *breaker);

static void text_row(void *context, const struct request *request, const struct breaker *breaker)
{
    FILE *out = context;
    struct breaker_answer answer;
    if (breaker_bears(breaker, &request->load, &answer, NULL) < 0) {
        return;
    }
    char name[16];
    (void)snprintf(name, sizeof name, "%c%g", breaker_letter(breaker->band), breaker->rated_a);
    (void)fprintf(out, "  %-8s %8g", name,
                  breaker_least_multiple(breaker->band) * breaker->rated_a);
    if (answer.by_inrush >= 0) {
        (void)fprintf(out, " %10d %11d %8d\n", answer.by_inrush, answer.by_running, answer.drivers);
    } else {
        (void)fprintf(out, " %10s %11d  ≤ %4d\n", "?", answer.by_running, answer.drivers);
    }
}

static void json_row(void *context, const struct request *request, const struct breaker *breaker)
{
    struct breaker_answer answer;
    if (breaker_bears(breaker, &request->load, &answer, NULL) < 0) {
        return;
    }
    char name[16];
    (void)snprintf(name, sizeof name, "%c%g", breaker_letter(breaker->band), breaker->rated_a);
    (void)json_array_append_new(
        context, json_pack("{s:s,s:f,s:o,s:i,s:i}", "breaker", name, "opens_from_a",
                           breaker_least_multiple(breaker->band) * breaker->rated_a, "by_inrush",
                           answer.by_inrush >= 0 ? json_integer(answer.by_inrush) : json_null(),
                           "by_running", answer.by_running, "drivers", answer.drivers));
}

/* The breaker that was named, or all usual ones. */
static void each(const struct request *request, row_fn *row, void *context)
{
    static const double ratings_a[] = {6, 10, 13, 16, 20, 25, 32};
    if (request->has_breaker) {
        row(context, request, &request->breaker);
        return;
    }
    for (int band = 0; band < BREAKER_BANDS; band++) {
        for (size_t i = 0; i < sizeof ratings_a / sizeof ratings_a[0]; i++) {
            const struct breaker breaker = {(enum breaker_band)band, ratings_a[i]};
            row(context, request, &breaker);
        }
    }
}

static void print_text(const struct request *request)
{
    struct wrap wrap;
    FILE *out = wrap_begin(&wrap, stdout);
    const struct breaker_load *load = &request->load;
    (void)fprintf(out, "One LED driver: %.3f A running", load->running_a);
    if (units_known(load->inrush_a)) {
        (void)fprintf(out, ", %g A inrush peak; margin for its short pulse %g", load->inrush_a,
                      load->margin);
    }
    (void)fprintf(out, "; %g %% of the rating in use.\n", 100 * load->use);
    (void)fprintf(out, "  %-8s %8s %10s %11s %8s\n", "breaker", "opens A", "by inrush",
                  "by current", "drivers");
    each(request, text_row, out);
    if (!units_known(load->inrush_a)) {
        (void)fputs("Inrush is not reckoned with: give --inrush from the LED driver's sheet. Up to "
                    "100 times the running current is seen (common practice, no source), so it is "
                    "mostly what binds.\n",
                    out);
    }
    (void)fputs(sources, out);
    (void)fputs(cautions, out);
    wrap_end(&wrap, 2);
}

static void print_json(const struct request *request)
{
    const struct breaker_load *load = &request->load;
    json_t *rows = json_array();
    each(request, json_row, rows);
    json_t *object = json_pack("{s:f,s:o,s:f,s:f,s:o}", "running_a", load->running_a, "inrush_a",
                               json_out_real(load->inrush_a), "margin", load->margin, "use",
                               load->use, "breakers", rows);
    json_out_print(object);
}

struct words {
    const char *current, *watts, *volts, *factor, *inrush, *margin, *use, *breaker;
    bool wants_json;
};

static int read_current(const struct words *words, double *ret_a)
{
    struct mains mains = {230, 1};
    double watts = 0;
    if (!words->current == !words->watts) {
        return verb_usage(NAME, "it needs --current, or --watts with --volts");
    }
    if (words->current) {
        return verb_number(NAME, "current", words->current, 0.001, 1000, ret_a);
    }
    if (!words->volts) {
        return verb_usage(NAME, "--watts needs --volts");
    }
    int code = verb_number(NAME, "watts", words->watts, 0.1, 20000, &watts);
    if (code == VERB_OK) {
        code = verb_number(NAME, "volts", words->volts, 50, 1000, &mains.volts);
    }
    if (code == VERB_OK) {
        code = verb_number(NAME, "power-factor", words->factor, 0.1, 1, &mains.power_factor);
    }
    *ret_a = mains_a(&mains, watts);
    return code;
}

static int read_request(const struct words *words, struct request *ret)
{
    struct err err;
    struct breaker_load *load = &ret->load;
    *load = (struct breaker_load){.inrush_a = UNITS_NONE, .margin = 1, .use = 1};
    ret->wants_json = words->wants_json;
    ret->has_breaker = words->breaker != NULL;
    if (words->breaker && breaker_parse(words->breaker, &ret->breaker, &err) < 0) {
        return verb_usage(NAME, "--breaker: %s", err.text);
    }
    int code = verb_share(NAME, "use", words->use, &load->use);
    if (code == VERB_OK) {
        code = read_current(words, &load->running_a);
    }
    if (code == VERB_OK) {
        code = verb_number(NAME, "inrush", words->inrush, 0.01, 10000, &load->inrush_a);
    }
    return code == VERB_OK ? verb_number(NAME, "margin", words->margin, 0.1, 20, &load->margin)
                           : code;
}

static int run(int argc, char **argv)
{
    struct words words = {0};
    const struct verb_option table[] = {
        {"current", 0, &words.current, NULL}, {"watts", 0, &words.watts, NULL},
        {"volts", 0, &words.volts, NULL},     {"power-factor", 0, &words.factor, NULL},
        {"inrush", 0, &words.inrush, NULL},   {"margin", 0, &words.margin, NULL},
        {"use", 0, &words.use, NULL},         {"breaker", 0, &words.breaker, NULL},
        {"json", 0, NULL, &words.wants_json}, {NULL, 0, NULL, NULL},
    };
    struct request request = {0};
    if (verb_options(NAME, table, argc, argv, 0) < 0) {
        return VERB_USAGE;
    }
    const int code = read_request(&words, &request);
    if (code != VERB_OK) {
        return code;
    }
    struct breaker_answer answer;
    struct err err;
    const struct breaker usual = {BREAKER_C, 16};
    if (breaker_bears(request.has_breaker ? &request.breaker : &usual, &request.load, &answer,
                      &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    if (request.wants_json) {
        print_json(&request);
    } else {
        print_text(&request);
    }
    return VERB_OK;
}

const struct verb verb_breaker = {
    .name = NAME,
    .summary = "how many LED drivers one circuit breaker bears, by inrush and by running current",
    .help =
        "usage: lampwarden breaker (--current A | --watts W --volts V) [OPTION...]\n"
        "\n"
        "LED drivers that are switched on together on one breaker: the fewer of what its magnetic "
        "part bears of their\n"
        "inrush and what it may carry for hours. For one breaker, or for all usual ones. A rough "
        "count for planning: the\n"
        "makers' figures, local code and a licensed electrician win over it. Needs no daemon.\n"
        "\n"
        "  --current A         running current of one LED driver at full light\n"
        "  --watts W           … or its wall power, with\n"
        "  --volts V           its supply and\n"
        "  --power-factor PF   its true power factor; default 1\n"
        "  --inrush A          peak of its inrush current, from its sheet\n"
        "  --margin K          how much more than the band's lower end the breaker bears of so "
        "short a pulse; default 1\n"
        "  --use SHARE         of the breaker's rating that may flow for hours; default 100%\n"
        "  --breaker NAME      one breaker: its band B, C or D and its amperes, as C16\n"
        "  --json              the answer as JSON\n"
        "\n"
        "examples:\n"
        "  lampwarden breaker --current 1.3 --inrush 60\n"
        "  lampwarden breaker --watts 300 --volts 230 --power-factor 0.95 --inrush 60 --breaker "
        "C16 --margin 4\n",
    .run = run,
};
