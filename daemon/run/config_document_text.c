/* SPDX-License-Identifier: Apache-2.0 */
/* The words between the values of the documented example. */
#include "config_document.h"

#include "utf8.h"

#include <stdbool.h>
#include <string.h>

#define COLUMNS 96

void document_comment(FILE *out, int depth, const char *hang, const char *text)
{
    int column = depth * 2 + 2;
    (void)fprintf(out, "%*s#", depth * 2, "");
    for (const char *p = text; *p;) {
        size_t length = strcspn(p, " ");
        int width = utf8_columns(p, length);
        if (column + width + 1 > COLUMNS) {
            (void)fprintf(out, "\n%*s#%s", depth * 2, "", hang);
            column = depth * 2 + 2 + (int)strlen(hang);
        }
        (void)fprintf(out, " %.*s", (int)length, p);
        column += width + 1;
        p += length;
        p += strspn(p, " ");
    }
    (void)fputc('\n', out);
}

static void describe_kinds(const struct key *key, char *buffer, unsigned size)
{
    static const char *const kinds[] = {"ppfd", "temperature", "humidity", "power"};
    size_t used = 0;
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds && used < size; i++) {
        used += (size_t)snprintf(buffer + used, size - used, "%s%s %s", i > 0 ? ", " : "", kinds[i],
                                 key->by_kind[i]);
    }
}

void document_facts(const struct key *key, char *buffer, unsigned size)
{
    char allowed[256];
    char kinds[128] = "";
    schema_describe(key, allowed, sizeof allowed);
    bool is_text = key->type != KEY_INT && key->type != KEY_REAL && key->type != KEY_BOOL;
    const char *quote = is_text ? "\"" : "";
    if (key->by_kind) {
        describe_kinds(key, kinds, sizeof kinds);
        (void)snprintf(buffer, size, "[%s; default by kind: %s]", allowed, kinds);
    } else if (!key->fallback) {
        (void)snprintf(buffer, size, "[%s; required]", allowed);
    } else if (key->fallback[0] == '\0') {
        (void)snprintf(buffer, size, "[%s; may be left out]", allowed);
    } else {
        (void)snprintf(buffer, size, "[%s; default %s%s%s]", allowed, quote, key->fallback, quote);
    }
}

void document_head(FILE *out)
{
    static const char *const lines[] = {
        "SPDX-License-Identifier: Apache-2.0",
        "Lampwarden's configuration: the propagation room of an invented botanical garden. Every "
        "key "
        "is explained where it first stands; the program itself wrote this from the tables with "
        "which it "
        "checks a configuration.",
        "",
        "How to use it: copy it, put in your own lines, lamps and stages, and ask",
        "    lampwarden check FILE",
        "which tells all mistakes at once. A key that stands behind a '#' shows its default.",
        "",
        "How it is written: key = value; with texts in quotes, groups in { }, lists of groups in ( "
        ") with "
        "commas between them, lists of names in [ ]. Every number has its unit in its key or in "
        "its "
        "explanation. What follows a '#' is a comment.",
        "",
        "Mains wiring is a licensed electrician's work; local codes and the makers' instructions "
        "come "
        "first. An interrupted 0-10 V line is full light: give every lamp a switch that opens, and "
        "a "
        "thermal cut-out that needs no program.",
    };
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++) {
        if (lines[i][0] == '\0') {
            (void)fprintf(out, "#\n");
        } else if (lines[i][0] == ' ') {
            (void)fprintf(out, "#%s\n", lines[i]);
        } else {
            document_comment(out, 0, "", lines[i]);
        }
    }
}

static void list_options(FILE *out, const char *whose, const struct option *options,
                         const struct option *known, const char *known_from)
{
    char facts[DOCUMENT_LINE_MAX];
    char text[2 * DOCUMENT_LINE_MAX];
    if (!options || !options[0].name) {
        return;
    }
    if (options == known) {
        (void)fprintf(out, "#\n# %s: as with %s\n", whose, known_from);
        return;
    }
    (void)fprintf(out, "#\n# %s:\n", whose);
    for (const struct option *option = options; option->name; option++) {
        struct key key = schema_from_option(option);
        document_facts(&key, facts, sizeof facts);
        (void)snprintf(text, sizeof text, "- %s: %s %s", option->name, option->help, facts);
        document_comment(out, 0, "  ", text);
    }
}

void document_driver(FILE *out, const struct driver *driver, const struct driver *known)
{
    (void)fprintf(out, "\n# %s\n", DOCUMENT_RULE);
    char text[DOCUMENT_LINE_MAX];
    (void)snprintf(text, sizeof text, "Another driver, \"%s\": %s Its own keys:", driver->name,
                   driver->help ? driver->help : "");
    document_comment(out, 0, "", text);
    list_options(out, "of a bus", driver->bus_options, known->bus_options, known->name);
    list_options(out, "of a sensor", driver->sensor_options, known->sensor_options, known->name);
    list_options(out, "of an output of kind dim", driver->dim_options, known->dim_options,
                 known->name);
    list_options(out, "of an output of kind switch", driver->switch_options, known->switch_options,
                 known->name);
}
