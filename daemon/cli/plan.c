/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden plan`: the rest of the light day, hour by hour, and what it will cost. */
#include "client.h"
#include "err.h"
#include "field.h"
#include "options.h"
#include "verb.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define NAME      "plan"
#define SOME_MOL  0.005 /* less is printed as 0.00 */
#define SOME_COST 0.005
#define SHORT_MOL 0.05 /* less is not worth a word */

/* Hours that say the same, as one line. */
struct line {
    const char *from, *to; /* of the answer */
    const char *limiter, *words;
    double length_s, level, lamp_mol, sun_mol, price, cost;
};

/* Which columns have something to say. */
struct columns {
    bool has_sun, has_price;
    const char *currency;
};

static bool is_true(const json_t *object, const char *key)
{
    return json_is_true(json_object_get(object, key));
}

static struct line line_of(const json_t *hour)
{
    return (struct line){
        .from = field_text(hour, "from"),
        .to = field_text(hour, "to"),
        .limiter = field_text(hour, "limiter"),
        .words = field_text(hour, "words"),
        .level = field_number(hour, "level"),
        .lamp_mol = field_number(hour, "lamp_mol"),
        .sun_mol = field_number(hour, "daylight_mol"),
        .price = field_number(hour, "price_per_kwh"),
        .cost = field_number(hour, "cost"),
        .length_s = field_number(hour, "length_s"),
    };
}

static bool is_night(const struct line *line)
{
    return strcmp(line->limiter, "night") == 0 && !(line->level > 0);
}

/* Of a night nobody asks the price. */
static bool has_price_of(const struct line *a, const struct line *b)
{
    return (is_night(a) && is_night(b)) || fabs(a->price - b->price) < 0.0005 ||
           (isnan(a->price) && isnan(b->price));
}

static bool is_like(const struct line *a, const struct line *b)
{
    return strcmp(a->words, b->words) == 0 && has_price_of(a, b) &&
           lround(100 * a->level) == lround(100 * b->level) && a->sun_mol < SOME_MOL &&
           b->sun_mol < SOME_MOL;
}

static void join(struct line *line, const struct line *next)
{
    line->level = (line->level * line->length_s + next->level * next->length_s) /
                  (line->length_s + next->length_s);
    line->to = next->to;
    line->length_s += next->length_s;
    line->lamp_mol += next->lamp_mol;
    line->sun_mol += next->sun_mol;
    line->cost += next->cost;
}

/* "06:00-07:00"; a day that ends at midnight ends at 24:00. */
static void print_line(const struct line *line, const struct columns *columns)
{
    const char *to = strlen(line->to) > 16 ? line->to + 11 : "";
    const char *from = strlen(line->from) > 16 ? line->from + 11 : "";
    if (strncmp(to, "00:00", 5) == 0) {
        to = "24:00";
    }
    (void)printf("  %.5s-%.5s  %3.0f %%  %8.2f", from, to, 100 * line->level, line->lamp_mol);
    if (columns->has_sun) {
        (void)printf("  %8.2f", line->sun_mol);
    }
    if (columns->has_price && is_night(line)) {
        (void)printf("  %7s  %6s", "", "");
    } else if (columns->has_price) {
        (void)printf("  %7.3f  %6.2f", line->price, line->cost);
    }
    (void)printf("  %s\n", line->words);
}

static struct columns columns_of(const json_t *space)
{
    size_t i;
    json_t *hour;
    struct columns columns = {.currency = field_text(space, "currency")};
    json_array_foreach(json_object_get(space, "hours"), i, hour)
    {
        columns.has_sun = columns.has_sun || field_number(hour, "daylight_mol") >= SOME_MOL;
        columns.has_price = columns.has_price || fabs(field_number(hour, "price_per_kwh")) > 0;
    }
    return columns;
}

static void print_head(const struct columns *columns)
{
    (void)printf("  hour         level  lamp mol");
    if (columns->has_sun) {
        (void)printf("   sun mol");
    }
    if (columns->has_price) {
        char unit[16];
        (void)snprintf(unit, sizeof unit, "%.6s%s", columns->currency,
                       columns->currency[0] ? "/kWh" : "per kWh");
        (void)printf("  %7s  %6s", unit, columns->currency[0] ? columns->currency : "cost");
    }
    (void)printf("  why\n");
}

static void print_sum(const json_t *space, const struct columns *columns)
{
    (void)printf("  together            %8.2f", field_number(space, "lamp_mol"));
    if (columns->has_sun) {
        (void)printf("  %8.2f", field_number(space, "daylight_mol"));
    }
    if (columns->has_price) {
        (void)printf("  %7s  %6.2f", "", field_number(space, "cost"));
    }
    (void)putchar('\n');
}

static void print_hours(const json_t *space)
{
    const struct columns columns = columns_of(space);
    const json_t *hours = json_object_get(space, "hours");
    struct line line = line_of(json_array_get(hours, 0));
    print_head(&columns);
    for (size_t i = 1; i < json_array_size(hours); i++) {
        const struct line next = line_of(json_array_get(hours, i));
        if (is_like(&line, &next)) {
            join(&line, &next);
            continue;
        }
        print_line(&line, &columns);
        line = next;
    }
    print_line(&line, &columns);
    print_sum(space, &columns);
}

static void print_title(const json_t *space)
{
    const double days = field_number(space, "stage_days");
    const bool is_tomorrow = is_true(space, "is_tomorrow");
    (void)printf("\n%s: %s\n", field_text(space, "space"), field_text(space, "state"));
    if (!field_text(space, "light_day")[0]) {
        return;
    }
    (void)printf("  stage      %s, day %.0f", field_text(space, "stage"),
                 field_number(space, "stage_day"));
    if (isfinite(days)) {
        (void)printf(" of %.0f", days);
    }
    (void)printf("; %s %s\n", is_tomorrow ? "tomorrow, light day" : "light day",
                 field_text(space, "light_day"));
}

static void print_missing(const json_t *space)
{
    const char *key;
    json_t *value;
    const char *separator = "; out of reach:";
    json_object_foreach(json_object_get(space, "missing_mol"), key, value)
    {
        (void)printf("%s %.2f mol by %s", separator, json_number_value(value), key);
        separator = ",";
    }
}

static void print_course(const json_t *space)
{
    const double target = field_number(space, "target_mol");
    const double expected = field_number(space, "expected_mol");
    if (is_true(space, "is_tomorrow")) {
        (void)printf("  DLI        target %.2f mol, %.2f mol expected", target, expected);
    } else {
        (void)printf("  DLI        %.2f of %.2f mol so far, %.2f to come: %.2f mol expected",
                     field_number(space, "delivered_mol"), target,
                     field_number(space, "to_come_mol"), expected);
    }
    if (expected < target - SHORT_MOL) {
        (void)printf(", %.2f short", target - expected);
    }
    print_missing(space);
    (void)putchar('\n');
    if (isfinite(field_number(space, "clearness"))) {
        (void)printf("  sky        expected to give %.0f %% of what a clear one would\n",
                     100 * field_number(space, "clearness"));
    }
}

/* "1.84 EUR" */
static void put_money(double cost, const char *currency)
{
    (void)printf("%.2f%s%s", cost, currency[0] ? " " : "", currency);
}

static void print_even(const json_t *space)
{
    const double even = field_number(space, "even_cost");
    const double cost = field_number(space, "cost");
    if (isfinite(even) && lround(100 * even) != lround(100 * cost)) {
        (void)printf("  The same %.1f mol at one level would cost ",
                     field_number(space, "even_mol"));
        put_money(even, field_text(space, "currency"));
        (void)printf(", this plan %.2f.\n", cost);
    }
}

/* Light that is missing is no saving: a short day has no ratio. */
static void print_hindsight(const json_t *day, const char *currency)
{
    const double lamp = field_number(day, "lamp_cost");
    const double bound = field_number(day, "bound_cost");
    const double even = field_number(day, "even_cost");
    (void)printf("; lamp light cost ");
    put_money(lamp, currency);
    if (field_number(day, "missing_mol") >= SHORT_MOL) {
        (void)printf(", what was possible of the target %.2f at least", bound);
        return;
    }
    (void)printf(", the cheapest possible in hindsight %.2f", bound);
    if (bound >= SOME_COST && lamp > 0) {
        (void)printf(" (%.2f x)", lamp / bound);
    }
    if (isfinite(even)) {
        (void)printf(", one level %.2f", even);
    }
}

static void print_last_day(const json_t *space)
{
    const json_t *day = json_object_get(space, "last_day");
    const char *currency = field_text(space, "currency");
    const double lamp = field_number(day, "lamp_cost");
    const double bound = field_number(day, "bound_cost");
    if (!json_is_object(day)) {
        return;
    }
    if (is_true(day, "is_yesterday")) {
        (void)printf("  Yesterday:");
    } else {
        (void)printf("  On %s:", field_text(day, "light_day"));
    }
    (void)printf(" %.2f of %.2f mol", field_number(day, "delivered_mol"),
                 field_number(day, "target_mol"));
    if (fmax(fabs(lamp), fabs(bound)) >= SOME_COST && isfinite(lamp) && isfinite(bound)) {
        print_hindsight(day, currency);
    } else if (fabs(field_number(day, "cost")) >= SOME_COST) {
        (void)printf("; cost ");
        put_money(field_number(day, "cost"), currency);
    }
    (void)printf(".\n");
}

static void print_space(const json_t *space)
{
    print_title(space);
    if (json_array_size(json_object_get(space, "hours")) > 0) {
        print_course(space);
        print_hours(space);
        print_even(space);
    }
    print_last_day(space);
}

static void print_plan(const json_t *plan)
{
    size_t i;
    json_t *space;
    (void)printf("%s, %.10s %.8s; clock %s\n", field_text(plan, "site"), field_text(plan, "time"),
                 strlen(field_text(plan, "time")) > 11 ? field_text(plan, "time") + 11 : "",
                 field_text(plan, "clock"));
    if (!is_true(plan, "is_ready")) {
        (void)printf("! not ready yet: outputs are being made safe and verified\n");
    }
    json_array_foreach(json_object_get(plan, "spaces"), i, space)
    {
        print_space(space);
    }
}

static int ask(const char *socket_path, const char *space, json_t **ret_plan, struct err *err)
{
    json_t *params = space ? json_pack("{s:s}", "space", space) : NULL;
    return client_ask(socket_path, NAME, params, ret_plan, err);
}

/* One question a space: each takes the daemon some milliseconds between two ticks. */
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
        (void)json_dumpf(plan, stdout, JSON_COMPACT | JSON_REAL_PRECISION(9));
        (void)putchar('\n');
    } else {
        print_plan(plan);
    }
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
