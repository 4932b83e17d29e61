/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden lead`: what the DC lead of a remote LED driver costs, and which size is enough. */
#include "lead.h"

#include "err.h"
#include "json_out.h"
#include "options.h"
#include "parse.h"
#include "units.h"
#include "verb.h"
#include "wrap.h"

#include <stdio.h>
#include <string.h>

#define NAME "lead"

static const char cautions[] =
    "A size must also carry its current and suit its terminals: the drop is only one of its "
    "limits. Never tin stranded "
    "ends under screw clamps: solder creeps, loosens and burns; use ferrules. Colours prove "
    "nothing: test which conductor "
    "is which, with the mains off and locked. Fuse and insulate for the highest voltage of the "
    "LED driver without a load. "
    "Local code, a licensed electrician and the makers' instructions win over this table.\n";

struct request {
    struct lead lead;
    double within; /* share of the output voltage */
    bool has_size;
    bool wants_json;
};

/* "mm²" is a byte longer than it looks. */
static void print_name(FILE *out, const struct conductor *conductor)
{
    char name[32];
    conductor_name(conductor, name, sizeof name);
    (void)fprintf(out, "  %-*s", strstr(name, "²") ? 19 : 18, name);
}

static void print_row(FILE *out, const struct lead *lead, const struct lead_answer *answer,
                      double within)
{
    print_name(out, &lead->conductor);
    (void)fprintf(out, " %8.4f %8.3f %8.2f", answer->ohm, answer->drop_v, answer->loss_w);
    if (units_known(answer->share)) {
        (void)fprintf(out, " %6.2f %%%s", 100 * answer->share,
                      answer->share <= within ? "" : "  too much");
    }
    (void)fputc('\n', out);
}

static void print_head(FILE *out, const struct lead *lead)
{
    (void)fprintf(out, "%s, conductor at %g °C:\n  %-18s %8s %8s %8s%s\n",
                  conductor_source(lead->conductor.make), lead->temperature_c, "size", "ohm",
                  "drop V", "loss W", lead->output_v > 0 ? "   of output" : "");
}

/* Every size of a table; one that eats the whole voltage says so in its row. */
static void print_make(FILE *out, const struct request *request, enum conductor_make make)
{
    double sizes[CONDUCTOR_SIZES_MAX];
    const int count = conductor_sizes(make, sizes);
    struct lead lead = request->lead;
    lead.conductor.make = make;
    print_head(out, &lead);
    for (int i = 0; i < count; i++) {
        struct lead_answer answer;
        lead.conductor.size = sizes[i];
        if (lead_of(&lead, &answer, NULL) == 0) {
            print_row(out, &lead, &answer, request->within);
        } else {
            print_name(out, &lead.conductor);
            (void)fputs(" takes more than the LED driver gives\n", out);
        }
    }
}

static void print_thinnest(FILE *out, const struct request *request, enum conductor_make make)
{
    struct lead thin;
    struct err err;
    char name[32];
    struct lead lead = request->lead;
    lead.conductor.make = make;
    if (!(lead.output_v > 0)) {
        return;
    }
    if (lead_thinnest(&lead, request->within, &thin, &err) < 0) {
        (void)fprintf(out, "%s\n", err.text);
        return;
    }
    conductor_name(&thin.conductor, name, sizeof name);
    (void)fprintf(out, "Thinnest size of %s within %g %%: %s.\n", conductor_source(make),
                  100 * request->within, name);
}

/* The make of the American table that is built like this one. */
static enum conductor_make american_of(enum conductor_make make)
{
    return make == CONDUCTOR_MM2_RIGID ? CONDUCTOR_AWG_SOLID : CONDUCTOR_AWG_STRANDED;
}

static void print_text(const struct request *request, const struct lead_answer *answer)
{
    struct wrap wrap;
    FILE *out = wrap_begin(&wrap, stdout);
    const struct lead *lead = &request->lead;
    (void)fprintf(out, "%g A over %g m and back:\n", lead->current_a, lead->length_m);
    if (request->has_size) {
        print_head(out, lead);
        print_row(out, lead, answer, request->within);
    } else {
        print_make(out, request, american_of(lead->conductor.make));
        print_make(out, request, lead->conductor.make);
        print_thinnest(out, request, american_of(lead->conductor.make));
    }
    print_thinnest(out, request, lead->conductor.make);
    if (lead->output_v == 0) {
        (void)fputs("Give --output for the share of the LED driver's voltage that is lost.\n", out);
    }
    (void)fputs("A constant-current LED driver hides the drop until its highest voltage, then dims "
                "or shuts down; a constant-voltage strip is darker at its far end.\n",
                out);
    (void)fputs(cautions, out);
    wrap_end(&wrap, 0);
}

static json_t *row_json(const struct lead *lead, const struct lead_answer *answer)
{
    char name[32];
    conductor_name(&lead->conductor, name, sizeof name);
    return json_pack("{s:s,s:s,s:f,s:f,s:f,s:o}", "conductor", name, "source",
                     conductor_source(lead->conductor.make), "ohm", answer->ohm, "drop_v",
                     answer->drop_v, "loss_w", answer->loss_w, "share",
                     json_out_real(answer->share));
}

static void add_make(json_t *rows, const struct request *request, enum conductor_make make)
{
    double sizes[CONDUCTOR_SIZES_MAX];
    const int count = conductor_sizes(make, sizes);
    struct lead lead = request->lead;
    lead.conductor.make = make;
    for (int i = 0; i < count; i++) {
        struct lead_answer answer;
        lead.conductor.size = sizes[i];
        if (lead_of(&lead, &answer, NULL) == 0) {
            (void)json_array_append_new(rows, row_json(&lead, &answer));
        }
    }
}

static void print_json(const struct request *request, const struct lead_answer *answer)
{
    const struct lead *lead = &request->lead;
    json_t *rows = json_array();
    if (request->has_size) {
        (void)json_array_append_new(rows, row_json(lead, answer));
    } else {
        add_make(rows, request, american_of(lead->conductor.make));
        add_make(rows, request, lead->conductor.make);
    }
    json_t *object =
        json_pack("{s:f,s:f,s:f,s:o,s:f,s:o}", "current_a", lead->current_a, "length_m",
                  lead->length_m, "temperature_c", lead->temperature_c, "output_v",
                  lead->output_v > 0 ? json_real(lead->output_v) : json_null(), "within",
                  request->within, "leads", rows);
    json_out_print(object);
}

struct words {
    const char *current, *length, *awg, *mm2, *temperature, *output, *within;
    bool is_solid, wants_json;
};

static int read_size(const struct words *words, struct request *ret)
{
    struct conductor *conductor = &ret->lead.conductor;
    ret->has_size = words->awg || words->mm2;
    conductor->make = words->is_solid ? CONDUCTOR_MM2_RIGID : CONDUCTOR_MM2_FLEXIBLE;
    if (words->awg && words->mm2) {
        return verb_usage(NAME, "one of --awg and --mm2");
    }
    if (words->awg) {
        conductor->make = words->is_solid ? CONDUCTOR_AWG_SOLID : CONDUCTOR_AWG_STRANDED;
        return verb_number(NAME, "awg", words->awg, 0, 40, &conductor->size);
    }
    return verb_number(NAME, "mm2", words->mm2, 0, 1000, &conductor->size);
}

static int read_request(const struct words *words, struct request *ret)
{
    struct err err;
    *ret = (struct request){.lead = {.temperature_c = 60}, .within = 0.03};
    ret->wants_json = words->wants_json;
    if (!words->current || !words->length) {
        return verb_usage(NAME, "it needs --current and --length");
    }
    if (parse_length(words->length, 0.01, 1000, &ret->lead.length_m, &err) < 0) {
        return verb_usage(NAME, "--length: %s", err.text);
    }
    int code = verb_share(NAME, "within", words->within, &ret->within);
    if (code == VERB_OK) {
        code = verb_number(NAME, "current", words->current, 0.001, 100, &ret->lead.current_a);
    }
    if (code == VERB_OK) {
        code = verb_number(NAME, "temperature", words->temperature, CONDUCTOR_COLD_C,
                           CONDUCTOR_HOT_C, &ret->lead.temperature_c);
    }
    if (code == VERB_OK) {
        code = verb_number(NAME, "output", words->output, 1, 1000, &ret->lead.output_v);
    }
    return code == VERB_OK ? read_size(words, ret) : code;
}

static int run(int argc, char **argv)
{
    struct words words = {0};
    const struct verb_option table[] = {
        {"current", 0, &words.current, NULL}, {"length", 0, &words.length, NULL},
        {"awg", 0, &words.awg, NULL},         {"mm2", 0, &words.mm2, NULL},
        {"solid", 0, NULL, &words.is_solid},  {"temperature", 0, &words.temperature, NULL},
        {"output", 0, &words.output, NULL},   {"within", 0, &words.within, NULL},
        {"json", 0, NULL, &words.wants_json}, {NULL, 0, NULL, NULL},
    };
    struct request request;
    const int found = verb_options(NAME, table, argc, argv, 0);
    if (found < 0) {
        return VERB_USAGE;
    }
    const int code = read_request(&words, &request);
    if (code != VERB_OK) {
        return code;
    }
    struct lead_answer answer = {0};
    struct err err;
    if (request.has_size && lead_of(&request.lead, &answer, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    if (request.wants_json) {
        print_json(&request, &answer);
    } else {
        print_text(&request, &answer);
    }
    return VERB_OK;
}

const struct verb verb_lead = {
    .name = NAME,
    .summary = "voltage and power that the DC lead of a remote LED driver loses",
    .help =
        "usage: lampwarden lead --current A --length LENGTH [OPTION...]\n"
        "\n"
        "Drop, loss and share of the output voltage of the two conductors between a remote LED "
        "driver and its boards,\n"
        "for one size or for all sizes of the tables: NEC chapter 9 table 8 (AWG) and IEC 60228 "
        "(mm²), each moved to the\n"
        "conductor's temperature by its own rule. Needs no daemon.\n"
        "\n"
        "  --current A        output current of the LED driver, in A\n"
        "  --length LENGTH    one way, with its unit: 30m, 100ft\n"
        "  --awg N            one size: 18, 16, 14, 12, 10 or 8\n"
        "  --mm2 N            one size: 0.5, 0.75, 1, 1.5, 2.5, 4, 6 or 10\n"
        "  --solid            solid (AWG) or rigid (mm², classes 1 and 2) instead of stranded or "
        "flexible (class 5)\n"
        "  --temperature C    of the conductor, in °C; default 60\n"
        "  --output V         voltage of the LED driver under load\n"
        "  --within SHARE     drop that is accepted, of the output voltage; default 3%\n"
        "  --json             the answer as JSON\n"
        "\n"
        "examples:\n"
        "  lampwarden lead --current 2.1 --length 30m --mm2 1.5 --temperature 20\n"
        "  lampwarden lead --current 1.4 --length 100ft --output 48\n",
    .run = run,
};
