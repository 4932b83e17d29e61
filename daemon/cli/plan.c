/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden plan`: the rest of the light day, hour by hour, and what it will cost. */
#include "account.h"
#include "client.h"
#include "err.h"
#include "field.h"
#include "hindsight.h"
#include "json_out.h"
#include "missing.h"
#include "options.h"
#include "plan_table.h"
#include "verb.h"
#include "words.h"
#include "wrap.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define NAME      "plan"
#define SOME_COST 0.005 /* less rounds to nothing */

static void print_title(FILE *out, const json_t *space)
{
    const double days = field_number(space, "stage_days");
    const bool is_tomorrow = field_true(space, "is_tomorrow");
    (void)fprintf(out, "\n%s: %s\n", field_text(space, "space"), field_text(space, "state"));
    if (!field_text(space, "light_day")[0]) {
        return;
    }
    (void)fprintf(out, "  stage      %s, day %.0f", field_text(space, "stage"),
                  field_number(space, "stage_day"));
    if (isfinite(days)) {
        (void)fprintf(out, " of %.0f", days);
    }
    (void)fprintf(out, "; %s %s\n", is_tomorrow ? "tomorrow, light day" : "light day",
                  field_text(space, "light_day"));
}

static void print_course(FILE *out, const json_t *space)
{
    const double target = field_number(space, "target_mol");
    const double expected = field_number(space, "expected_mol");
    if (field_true(space, "is_tomorrow")) {
        (void)fprintf(out, "  DLI        target %.2f mol, %.2f mol expected", target, expected);
    } else {
        (void)fprintf(out, "  DLI        %.2f of %.2f mol so far, %.2f to come: %.2f mol expected",
                      field_number(space, "delivered_mol"), target,
                      field_number(space, "to_come_mol"), expected);
    }
    if (expected < target - ACCOUNT_SHORT_MOL) {
        (void)fprintf(out, ", %.2f short", target - expected);
    }
    missing_print(out, space, expected);
    (void)fputc('\n', out);
    if (field_text(space, "out_of_reach")[0]) {
        (void)fprintf(out, "  short      %s\n", field_text(space, "out_of_reach"));
    }
    if (isfinite(field_number(space, "clearness"))) {
        (void)fprintf(out, "  sky        expected to give %.0f %% of what a clear one would\n",
                      100 * field_number(space, "clearness"));
    }
}

/* "1.84 EUR" */
static void put_money(FILE *out, double cost, const char *currency)
{
    (void)fprintf(out, "%.2f%s%s", cost, currency[0] ? " " : "", currency);
}

/* A bright sky saves no more than all: in the mean of all skies the lamps cost more than under the
 * mean one. */
static void print_skies(FILE *out, const json_t *space)
{
    const double dark = field_number(space, "dark_sky_cost");
    const double bright = field_number(space, "bright_sky_cost");
    if (fabs(dark - bright) >= SOME_COST) {
        (void)fprintf(out, "  Under the mean sky ");
        put_money(out, field_number(space, "cost"), field_text(space, "currency"));
        (void)fprintf(out, "; in the mean of all skies %.2f, dark %.2f, bright %.2f.\n",
                      field_number(space, "skies_cost"), dark, bright);
    }
}

static void print_even(FILE *out, const json_t *space)
{
    const double even = field_number(space, "even_cost");
    const double cost = field_number(space, "cost");
    if (isfinite(even) && lround(100 * even) != lround(100 * cost)) {
        (void)fprintf(out, "  The same %.1f mol at one level would cost ",
                      field_number(space, "even_mol"));
        put_money(out, even, field_text(space, "currency"));
        (void)fprintf(out, ", this plan %.2f.\n", cost);
    }
}

static void print_hindsight(FILE *out, const json_t *day, const char *currency,
                            enum hindsight_word word)
{
    const double lamp = field_number(day, "lamp_cost");
    const double bound = field_number(day, "bound_cost");
    const double even = field_number(day, "even_cost");
    (void)fprintf(out, "; lamp light cost ");
    put_money(out, lamp, currency);
    if (word == HINDSIGHT_SHORT) {
        (void)fprintf(out, ", what was possible of the target %.2f at least", bound);
        return;
    }
    (void)fprintf(out, ", the cheapest possible in hindsight %.2f", bound);
    if (word == HINDSIGHT_RATIO) {
        (void)fprintf(out, " (%.2f x)", lamp / bound);
    }
    if (isfinite(even)) {
        (void)fprintf(out, ", one level %.2f", even);
    }
}

static void print_last_day(FILE *out, const json_t *space)
{
    const json_t *day = json_object_get(space, "last_day");
    const char *currency = field_text(space, "currency");
    const enum hindsight_word word =
        hindsight_word(field_number(day, "lamp_cost"), field_number(day, "bound_cost"),
                       field_number(day, "missing_mol"));
    if (!json_is_object(day)) {
        return;
    }
    if (field_true(day, "is_yesterday")) {
        (void)fprintf(out, "  Yesterday:");
    } else {
        (void)fprintf(out, "  On %s:", field_text(day, "light_day"));
    }
    (void)fprintf(out, " %.2f of %.2f mol", field_number(day, "delivered_mol"),
                  field_number(day, "target_mol"));
    if (word != HINDSIGHT_NOTHING) {
        print_hindsight(out, day, currency, word);
    } else if (fabs(field_number(day, "cost")) >= SOME_COST) {
        (void)fprintf(out, "; cost ");
        put_money(out, field_number(day, "cost"), currency);
    }
    (void)fprintf(out, ".\n");
}

static void print_space(FILE *out, const json_t *space)
{
    print_title(out, space);
    if (json_array_size(json_object_get(space, "hours")) > 0) {
        print_course(out, space);
        plan_table(out, space);
        print_skies(out, space);
        print_even(out, space);
    }
    print_last_day(out, space);
}

static void print_plan(FILE *out, const json_t *plan)
{
    size_t i;
    json_t *space;
    const char *demonstration = field_text(plan, "demonstration");
    if (demonstration[0]) {
        (void)fprintf(out, "! a demonstration (%s): lamps and time are simulated\n", demonstration);
    }
    (void)fprintf(out, "%s, %.10s %.8s; clock %s\n", field_text(plan, "site"),
                  field_text(plan, "time"),
                  strlen(field_text(plan, "time")) > 11 ? field_text(plan, "time") + 11 : "",
                  words_clock(field_text(plan, "clock")));
    if (!field_true(plan, "is_ready")) {
        (void)fprintf(out, "! not ready yet: outputs are being made safe and verified\n");
    }
    json_array_foreach(json_object_get(plan, "spaces"), i, space)
    {
        print_space(out, space);
    }
}

static int ask(const char *socket_path, const char *space, json_t **ret_plan, struct err *err)
{
    return client_ask(socket_path, NAME, client_space(space), ret_plan, err);
}

/* One question a space: each takes the daemon 3 to 30 ms between two ticks. */
static int ask_all(const char *socket_path, json_t **ret_plan, struct err *err)
{
    json_t *plan = NULL;
    size_t i;
    json_t *name;
    int code = ask(socket_path, NULL, &plan, err);
    json_array_foreach(code == 0 ? json_object_get(plan, "names") : NULL, i, name)
    {
        json_t *one = NULL;
        code = ask(socket_path, json_string_value(name), &one, err);
        if (code < 0) {
            break;
        }
        json_array_extend(json_object_get(plan, "spaces"), json_object_get(one, "spaces"));
        json_decref(one);
    }
    if (code < 0) {
        json_decref(plan);
        return code;
    }
    *ret_plan = plan;
    return 0;
}

static int run(int argc, char **argv)
{
    const char *socket_path = CLIENT_DEFAULT_SOCKET;
    const char *space = NULL;
    bool wants_json = false;
    const struct verb_option table[] = {
        {"socket", 0, &socket_path, NULL},
        {"space", 's', &space, NULL},
        {"json", 0, NULL, &wants_json},
        {NULL, 0, NULL, NULL},
    };
    if (verb_options(NAME, table, argc, argv, 0) < 0) {
        return VERB_USAGE;
    }
    struct err err;
    json_t *plan = NULL;
    if ((space ? ask(socket_path, space, &plan, &err) : ask_all(socket_path, &plan, &err)) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    if (wants_json) {
        json_out_print(plan);
        return VERB_OK;
    }
    struct wrap wrap;
    print_plan(wrap_begin(&wrap, stdout), plan);
    wrap_end(&wrap, WRAP_BY_COLUMN);
    json_decref(plan);
    return VERB_OK;
}

const struct verb verb_plan = {
    .name = NAME,
    .summary = "the rest of the light day as it is planned, hour by hour, and what it will cost",
    .help =
        "usage: lampwarden plan [OPTION...]\n"
        "\n"
        "Asks the running daemon what the lamps will do for the rest of the light day, if all goes "
        "as\n"
        "expected: level, mol of lamp and sun, price of energy, cost, and why. After lights-off: "
        "the next day.\n"
        "Daylight is what the sky gives in the mean of what it may do; the plan is made again "
        "every five\n"
        "minutes with the sky that came. Hours that say the same are one line.\n"
        "\n"
        "  --space NAME    one space only\n"
        "  --socket PATH   control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "  --json          everything as one JSON object; units stand in the names\n"
        "\n"
        "examples:\n"
        "  lampwarden plan --space lettuce\n"
        "  lampwarden plan --json | python3 -m json.tool\n",
    .run = run,
};
