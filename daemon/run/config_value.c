/* SPDX-License-Identifier: Apache-2.0 */
/* One value: does what was written fit its key? */
#include "config_section.h"

#include "calendar_words.h"
#include "config_node.h"
#include "err.h"
#include "findings.h"
#include "parse.h"

#include <ctype.h>
#include <errno.h>
#include <math.h>
#include <string.h>

#define SLIPS_MAX 2

void place_format(const struct place *place, char *buffer, unsigned size)
{
    if (!place) {
        buffer[0] = '\0';
        return;
    }
    place_format(place->outer, buffer, size);
    size_t used = strlen(buffer);
    char quoted[64];
    parse_quote(place->name, quoted, sizeof quoted);
    (void)snprintf(buffer + used, size - used, "%s%s", used > 0 ? "." : "", quoted);
    used = strlen(buffer);
    if (place->index >= 0) {
        (void)snprintf(buffer + used, size - used, "[%d]", place->index);
    }
}

const char *value_nearest(const char *const *names, const char *word)
{
    const char *nearest = NULL;
    int least = SLIPS_MAX + 1;
    for (size_t i = 0; names[i]; i++) {
        int distance = parse_distance(names[i], word, SLIPS_MAX);
        /* Two slips in a short word make another word. */
        if (distance < least && (size_t)distance * 2 < strlen(names[i])) {
            nearest = names[i];
            least = distance;
        }
    }
    return nearest;
}

static const char *form_of(enum key_type type)
{
    switch (type) {
    case KEY_TEXT:
        return "text in quotes";
    case KEY_NAME:
    case KEY_REF:
        return "a name in quotes";
    case KEY_TIME:
        return "a time of day in quotes";
    case KEY_DATE:
        return "a date in quotes";
    case KEY_OFFSET:
        return "an offset from UTC in quotes";
    case KEY_WEEKDAYS:
        return "days of the week in quotes";
    case KEY_MONTHS:
        return "months in quotes";
    case KEY_INT:
        return "a whole number";
    case KEY_REAL:
        return "a number";
    case KEY_REFS:
        return "a list of names [ \"…\" ]";
    case KEY_TEXTS:
        return "a list of texts [ \"…\", \"…\" ]";
    case KEY_LIST:
        return "a list of groups ( { … }, { … } )";
    case KEY_BOOL:
    case KEY_CHOICE:
    case KEY_GROUP:
        break; /* what they take says it all */
    }
    return NULL;
}

static void refuse(struct findings *findings, const struct key *key, const struct node *node,
                   const struct place *place, bool is_form)
{
    char path[PLACE_MAX];
    char written[64];
    char allowed[256];
    place_format(place, path, sizeof path);
    node_describe(node, written, sizeof written);
    schema_describe(key, allowed, sizeof allowed);
    const char *form = form_of(key->type);
    if (!is_form) {
        findings_error(findings, node->line, "%s: %s is out of range (%s)", path, written, allowed);
    } else if (!form) {
        findings_error(findings, node->line, "%s: %s is not %s", path, written, allowed);
    } else {
        findings_error(findings, node->line, "%s: %s is not %s (%s)", path, written, form, allowed);
    }
}

enum fit { FITS, WRONG_FORM, WRONG_RANGE };

static enum fit take_number(const struct key *key, const struct node *node, struct value *value)
{
    if (node->type != NODE_INT && node->type != NODE_REAL) {
        return WRONG_FORM;
    }
    bool is_whole = key->type == KEY_INT;
    if (is_whole && node->type == NODE_REAL && node->real != floor(node->real)) {
        return WRONG_FORM;
    }
    /* NaN fails this too */
    if (!(node->real >= key->low && node->real <= key->high)) {
        return WRONG_RANGE;
    }
    value->real = node->real;
    value->integer = node->type == NODE_INT ? node->integer : is_whole ? (int64_t)node->real : 0;
    return FITS;
}

static bool is_name(const char *text)
{
    if (!isalnum((unsigned char)text[0])) {
        return false;
    }
    for (const char *p = text; *p; p++) {
        if (!isalnum((unsigned char)*p) && !strchr("_-.", *p)) {
            return false;
        }
    }
    return true;
}

/* A form of base/parse.h: which of the two failures is in the code. */
static enum fit fit_of(int code)
{
    return code == 0 ? FITS : code == -ERANGE ? WRONG_RANGE : WRONG_FORM;
}

static enum fit take_time(const struct key *key, const char *text, struct value *value)
{
    int32_t second = 0;
    const int word = key->choices ? schema_choice(key->choices, text) : -1;
    if (word >= 0) {
        value->integer = -1 - word;
        return FITS;
    }
    if (key->high >= SCHEMA_DAY_END_S && strcmp(text, "24:00") == 0) {
        value->integer = SCHEMA_DAY_END_S;
        return FITS;
    }
    const int code = parse_time_of_day(text, &second, NULL);
    value->integer = second;
    return fit_of(code);
}

static enum fit take_text(const struct key *key, const char *text, struct value *value)
{
    int32_t second = 0;
    int code = 0;
    size_t length = strlen(text);
    value->text = text;
    switch (key->type) {
    case KEY_NAME:
        if (!is_name(text)) {
            return WRONG_FORM;
        }
        return length <= (size_t)key->high ? FITS : WRONG_RANGE;
    case KEY_CHOICE:
        value->integer = schema_choice(key->choices, text);
        return value->integer >= 0 ? FITS : WRONG_FORM;
    case KEY_TIME:
        return take_time(key, text, value);
    case KEY_OFFSET:
        code = parse_utc_offset(text, &second, NULL);
        value->integer = second;
        return fit_of(code);
    case KEY_DATE:
        return fit_of(parse_date(text, &value->integer, NULL));
    case KEY_WEEKDAYS:
        return fit_of(calendar_weekdays(text, &value->integer));
    case KEY_MONTHS:
        return fit_of(calendar_months(text, &value->integer));
    case KEY_TEXT:
        return length >= (size_t)key->low && length <= (size_t)key->high ? FITS : WRONG_RANGE;
    case KEY_REF:
        value->integer = -1;
        return FITS;
    case KEY_INT:
    case KEY_REAL:
    case KEY_BOOL:
    case KEY_REFS:
    case KEY_TEXTS:
    case KEY_GROUP:
    case KEY_LIST:
        break;
    }
    return WRONG_FORM;
}

static enum fit take(const struct key *key, const struct node *node, struct value *value)
{
    switch (key->type) {
    case KEY_INT:
    case KEY_REAL:
        return take_number(key, node, value);
    case KEY_BOOL:
        value->integer = node->integer;
        return node->type == NODE_BOOL ? FITS : WRONG_FORM;
    case KEY_TEXT:
    case KEY_NAME:
    case KEY_CHOICE:
    case KEY_TIME:
    case KEY_DATE:
    case KEY_OFFSET:
    case KEY_WEEKDAYS:
    case KEY_MONTHS:
    case KEY_REF:
        return node->type == NODE_TEXT ? take_text(key, node->text, value) : WRONG_FORM;
    case KEY_REFS:
    case KEY_TEXTS:
    case KEY_GROUP:
    case KEY_LIST:
        break; /* structures: see config_parse.c */
    }
    return WRONG_FORM;
}

void value_take(struct findings *findings, const struct key *key, const struct node *node,
                const struct place *place, struct value *ret)
{
    struct value value = {.line = node->line, .is_set = true, .real = (double)NAN, .text = ""};
    enum fit fit = take(key, node, &value);
    if (fit != FITS) {
        refuse(findings, key, node, place, fit == WRONG_FORM);
        value.is_set = false;
        value.is_bad = true; /* what was written stays: others may refer to it */
    }
    *ret = value;
}

bool value_fallback(const struct key *key, const char *text, struct value *ret)
{
    *ret = (struct value){.is_set = true, .real = (double)NAN, .text = ""};
    struct node node = {.name = "", .text = text};
    switch (key->type) {
    case KEY_INT:
    case KEY_REAL:
        node.type = NODE_REAL;
        if (parse_real(text, key->low, key->high, &node.real, NULL) != 0) {
            return false;
        }
        break;
    case KEY_BOOL:
        node.type = NODE_BOOL;
        node.integer = strcmp(text, "true") == 0;
        if (!node.integer && strcmp(text, "false") != 0) {
            return false;
        }
        break;
    case KEY_TEXT:
    case KEY_NAME:
    case KEY_CHOICE:
    case KEY_TIME:
    case KEY_DATE:
    case KEY_OFFSET:
    case KEY_WEEKDAYS:
    case KEY_MONTHS:
    case KEY_REF:
        node.type = NODE_TEXT;
        break;
    case KEY_REFS:
    case KEY_TEXTS:
    case KEY_GROUP:
    case KEY_LIST:
        return false;
    }
    return take(key, &node, ret) == FITS;
}

void value_print_text(const char *text, FILE *out)
{
    (void)fputc('"', out);
    for (const char *p = text; *p; p++) {
        unsigned char c = (unsigned char)*p;
        if (c == '"' || c == '\\') {
            (void)fprintf(out, "\\%c", c);
        } else if (c < 0x20 || c == 0x7F) {
            (void)fprintf(out, "\\x%02X", c);
        } else {
            (void)fputc(c, out);
        }
    }
    (void)fputc('"', out);
}

/* The shortest form that reads back as the same value; libconfig wants a point in every real. */
static void print_real(double value, FILE *out)
{
    char text[40];
    double again = (double)NAN;
    for (int digits = 6; digits <= 17 && again != value; digits++) {
        (void)snprintf(text, sizeof text, "%.*g", digits, value);
        (void)parse_real(text, -HUGE_VAL, HUGE_VAL, &again, NULL);
    }
    const char *exponent = strpbrk(text, "eE");
    size_t mantissa = exponent ? (size_t)(exponent - text) : strlen(text);
    bool has_point = strchr(text, '.') != NULL;
    (void)fprintf(out, "%.*s%s%s", (int)mantissa, text, has_point ? "" : ".0",
                  exponent ? exponent : "");
}

void value_print(const struct key *key, const struct value *value, FILE *out)
{
    switch (key->type) {
    case KEY_INT:
        (void)fprintf(out, "%lld%s", (long long)value->integer,
                      value->integer == (int32_t)value->integer ? "" : "L");
        break;
    case KEY_REAL:
        print_real(value->real, out);
        break;
    case KEY_BOOL:
        (void)fprintf(out, "%s", value->integer ? "true" : "false");
        break;
    case KEY_TEXT:
    case KEY_NAME:
    case KEY_CHOICE:
    case KEY_TIME:
    case KEY_DATE:
    case KEY_OFFSET:
    case KEY_WEEKDAYS:
    case KEY_MONTHS:
    case KEY_REF:
        value_print_text(value->text, out);
        break;
    case KEY_REFS:
    case KEY_TEXTS:
        (void)fprintf(out, "[");
        for (int i = 0; i < value->count; i++) {
            (void)fprintf(out, i > 0 ? ", " : " ");
            value_print_text(value->items[i].text, out);
        }
        (void)fprintf(out, value->count > 0 ? " ]" : "]");
        break;
    case KEY_GROUP:
    case KEY_LIST:
        break; /* printed by their sections */
    }
}

bool value_is_same(const struct value *a, const struct value *b)
{
    bool is_same_real = a->real == b->real || (a->real != a->real && b->real != b->real);
    return a->is_set == b->is_set && a->integer == b->integer && is_same_real &&
           strcmp(a->text, b->text) == 0;
}
