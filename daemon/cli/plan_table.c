/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_table.h"

#include "field.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define SOME_MOL 0.005 /* less is printed as 0.00 */
#define SLIVER_S 60

/* Hours that say the same, as one line. */
struct line {
    const char *from, *to; /* of the answer */
    const char *limiter, *words;
    double length_s, level, lamp_mol, sun_mol, price, cost;
    bool has_stand_in; /* of a price that the file of prices has not */
};

/* Which columns have something to say. */
struct columns {
    bool has_sun, has_price;
    const char *currency;
};

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
        .has_stand_in = field_true(hour, "price_stands_in"),
    };
}

static bool is_night(const struct line *line)
{
    return strcmp(line->limiter, "night") == 0 && !(line->level > 0);
}

/* Of a night nobody asks the price. */
static bool has_same_price(const struct line *a, const struct line *b)
{
    return (is_night(a) && is_night(b)) ||
           (a->has_stand_in == b->has_stand_in && fabs(a->price - b->price) < 0.0005) ||
           (isnan(a->price) && isnan(b->price));
}

static bool is_same_date(const struct line *a, const struct line *b)
{
    return strncmp(a->from, b->from, 10) == 0;
}

/* A minute or less in which nothing is given, where a row ends beside a full hour. */
static bool is_sliver(const struct line *line)
{
    return line->length_s <= SLIVER_S && line->lamp_mol < SOME_MOL && line->sun_mol < SOME_MOL;
}

static bool is_like(const struct line *a, const struct line *b)
{
    return is_same_date(a, b) && strcmp(a->words, b->words) == 0 && has_same_price(a, b) &&
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
static void print_line(FILE *out, const struct line *line, const struct columns *columns)
{
    const char *to = strlen(line->to) > 16 ? line->to + 11 : "";
    const char *from = strlen(line->from) > 16 ? line->from + 11 : "";
    if (strncmp(to, "00:00", 5) == 0) {
        to = "24:00";
    }
    (void)fprintf(out, "  %.5s-%.5s  %3.0f %%  %8.2f", from, to, 100 * line->level, line->lamp_mol);
    if (columns->has_sun) {
        (void)fprintf(out, "  %8.2f", line->sun_mol);
    }
    if (columns->has_price && is_night(line)) {
        (void)fprintf(out, "  %7s  %6s", "", "");
    } else if (columns->has_price) {
        (void)fprintf(out, "  %7.3f%c %6.2f", line->price, line->has_stand_in ? '*' : ' ',
                      line->cost);
    }
    (void)fprintf(out, "  %s\n", line->words);
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

static void print_head(FILE *out, const struct columns *columns)
{
    (void)fprintf(out, "  hour         level  lamp mol");
    if (columns->has_sun) {
        (void)fprintf(out, "   sun mol");
    }
    if (columns->has_price) {
        char unit[16];
        (void)snprintf(unit, sizeof unit, "%.6s%s", columns->currency,
                       columns->currency[0] ? "/kWh" : "per kWh");
        (void)fprintf(out, "  %7s  %6s", unit, columns->currency[0] ? columns->currency : "cost");
    }
    (void)fprintf(out, "  why\n");
}

static void print_sum(FILE *out, const json_t *space, const struct columns *columns)
{
    (void)fprintf(out, "  together            %8.2f", field_number(space, "lamp_mol"));
    if (columns->has_sun) {
        (void)fprintf(out, "  %8.2f", field_number(space, "daylight_mol"));
    }
    if (columns->has_price) {
        (void)fprintf(out, "  %7s  %6.2f", "", field_number(space, "cost"));
    }
    (void)fputc('\n', out);
}

/* What lies behind the midnight that ends the light day's date is said to. */
static void print_dated(FILE *out, const json_t *space, const struct line *line,
                        const struct line *before, const struct columns *columns)
{
    const char *light_day = field_text(space, "light_day");
    const bool is_next_day = strncmp(line->from, light_day, 10) > 0;
    if (light_day[0] && is_next_day && !(before && is_same_date(before, line))) {
        (void)fprintf(out, "  next day\n");
    }
    print_line(out, line, columns);
}

void plan_table(FILE *out, const json_t *space)
{
    const struct columns columns = columns_of(space);
    const json_t *hours = json_object_get(space, "hours");
    struct line line = line_of(json_array_get(hours, 0));
    struct line before = {0};
    bool has_before = false;
    bool has_stand_in = line.has_stand_in && !is_night(&line);
    print_head(out, &columns);
    for (size_t i = 1; i < json_array_size(hours); i++) {
        const struct line next = line_of(json_array_get(hours, i));
        has_stand_in = has_stand_in || (next.has_stand_in && !is_night(&next));
        if (is_like(&line, &next) || (is_sliver(&next) && is_same_date(&line, &next))) {
            join(&line, &next);
            continue;
        }
        print_dated(out, space, &line, has_before ? &before : NULL, &columns);
        before = line;
        has_before = true;
        line = next;
    }
    print_dated(out, space, &line, has_before ? &before : NULL, &columns);
    print_sum(out, space, &columns);
    if (has_stand_in && columns.has_price) {
        (void)fprintf(out, "  * the file of prices has none: rules or price_per_kwh stand in\n");
    }
}
