/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The documented example: the demonstration with every key explained where it first stands, and the
 * options of all other drivers behind it. Only the demonstration's values are not in the tables.
 */
#include "config.h"

#include "arena.h"
#include "config_demo.h"
#include "config_document.h"
#include "config_node.h"
#include "config_section.h"
#include "findings.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define SEEN_MAX 256

/* What was explained already; tables of drivers are copied for every entry, their texts are not. */
struct tour {
    FILE *out;
    const struct key *seen[SEEN_MAX];
    int seen_count;
};

static bool is_first(struct tour *tour, const struct key *key)
{
    for (int i = 0; i < tour->seen_count; i++) {
        if (strcmp(tour->seen[i]->name, key->name) == 0 &&
            strcmp(tour->seen[i]->help, key->help) == 0) {
            return false;
        }
    }
    if (tour->seen_count < SEEN_MAX) {
        tour->seen[tour->seen_count++] = key;
    }
    return true;
}

static void show_section(struct tour *tour, const struct section *section, int depth);

static void show_key(struct tour *tour, const struct key *key, int depth)
{
    char facts[DOCUMENT_LINE_MAX];
    (void)fputc('\n', tour->out);
    document_comment(tour->out, depth, "", key->help);
    if (key->type != KEY_GROUP) {
        document_facts(key, facts, sizeof facts);
        document_comment(tour->out, depth, "", facts);
    }
}

static void show_value(struct tour *tour, const struct key *key, const struct value *value,
                       int depth)
{
    const char *mark = value->line > 0 ? "" : "# ";
    (void)fprintf(tour->out, "%*s%s%s = ", depth * 2, "", mark, key->name);
    if (value->is_set) {
        value_print(key, value, tour->out);
    } else {
        (void)fprintf(tour->out, "…");
    }
    (void)fprintf(tour->out, ";\n");
}

/* The points of a curve and the like: short entries, one a line. */
static void show_rows(struct tour *tour, const struct key *key, const struct value *value,
                      int depth)
{
    if (!value->is_set) {
        (void)fprintf(tour->out, "%*s# %s = ( { … } );\n", depth * 2, "", key->name);
        return;
    }
    (void)fprintf(tour->out, "%*s%s = (\n", depth * 2, "", key->name);
    for (int i = 0; i < value->count; i++) {
        const struct section *row = &value->sections[i];
        (void)fprintf(tour->out, "%*s{ ", depth * 2 + 2, "");
        for (int k = 0; k < row->key_count; k++) {
            if (row->values[k].line > 0) {
                (void)fprintf(tour->out, "%s = ", row->keys[k].name);
                value_print(&row->keys[k], &row->values[k], tour->out);
                (void)fprintf(tour->out, "; ");
            }
        }
        (void)fprintf(tour->out, "}%s\n", i + 1 < value->count ? "," : "");
    }
    (void)fprintf(tour->out, "%*s);\n", depth * 2, "");
}

static void show_columns(struct tour *tour, const struct key *key, int depth)
{
    char facts[DOCUMENT_LINE_MAX];
    char text[2 * DOCUMENT_LINE_MAX];
    for (const struct key *column = key->inner; column->name; column++) {
        document_facts(column, facts, sizeof facts);
        (void)snprintf(text, sizeof text, "- %s: %s %s", column->name, column->help, facts);
        document_comment(tour->out, depth, "  ", text);
    }
}

static void show_group(struct tour *tour, const struct key *key, const struct value *value,
                       int depth)
{
    if (key->inherits && value->line == 0) {
        (void)fprintf(tour->out, "%*s# %s = { … };\n", depth * 2, "", key->name);
        return;
    }
    (void)fprintf(tour->out, "%*s%s = {", depth * 2, "", key->name);
    show_section(tour, value->sections, depth + 1);
    (void)fprintf(tour->out, "%*s};\n", depth * 2, "");
}

static void show_list(struct tour *tour, const struct key *key, const struct value *value)
{
    (void)fprintf(tour->out, "%s = (\n", key->name);
    for (int i = 0; i < value->count; i++) {
        (void)fprintf(tour->out, "  {");
        show_section(tour, &value->sections[i], 2);
        (void)fprintf(tour->out, "  }%s\n", i + 1 < value->count ? "," : "");
    }
    (void)fprintf(tour->out, ");\n");
}

/* Begins behind an opening brace. */
static void show_section(struct tour *tour, const struct section *section, int depth)
{
    bool is_fresh = true;
    for (int i = 0; i < section->key_count; i++) {
        const struct key *key = &section->keys[i];
        const struct value *value = &section->values[i];
        bool is_explained = is_first(tour, key);
        if (!is_explained && value->line == 0) {
            continue;
        }
        if (is_explained) {
            show_key(tour, key, depth);
        } else if (is_fresh) {
            (void)fputc('\n', tour->out);
        }
        is_fresh = false;
        if (key->type == KEY_GROUP) {
            show_group(tour, key, value, depth);
        } else if (key->type == KEY_LIST) {
            if (is_explained) {
                show_columns(tour, key, depth);
            }
            show_rows(tour, key, value, depth);
        } else {
            show_value(tour, key, value, depth);
        }
    }
}

static void show_root(struct tour *tour, const struct section *root)
{
    for (int i = 0; i < root->key_count; i++) {
        const struct key *key = &root->keys[i];
        const struct value *value = &root->values[i];
        (void)fprintf(tour->out, "\n# %s\n", DOCUMENT_RULE);
        document_comment(tour->out, 0, "", key->help);
        if (key->type == KEY_GROUP) {
            (void)fprintf(tour->out, "%s = {", key->name);
            show_section(tour, value->sections, 1);
            (void)fprintf(tour->out, "};\n");
        } else {
            show_list(tour, key, value);
        }
    }
}

static bool is_driver_used(const struct section *root, const struct driver *driver)
{
    const struct value *buses = &root->values[ROOT_BUSES];
    for (int i = 0; i < buses->count; i++) {
        if (buses->sections[i].driver == driver) {
            return true;
        }
    }
    return false;
}

static int document(struct arena *arena, FILE *out)
{
    struct findings findings;
    findings_init(&findings, "the built-in demonstration");
    struct parser parser = {.arena = arena, .findings = &findings};
    struct section root;
    parser.root_node = node_read(config_demo_text, strlen(config_demo_text), arena, &findings);
    bool is_good =
        parser.root_node && section_parse(&parser, schema_root, &root) && findings.errors == 0;
    findings_finish(&findings);
    if (!is_good) {
        return findings.is_out_of_memory ? -ENOMEM : -EINVAL; /* a build without its drivers */
    }
    struct tour tour = {.out = out};
    document_head(out);
    show_root(&tour, &root);
    const struct driver *known = root.values[ROOT_BUSES].sections[0].driver;
    for (size_t i = 0; driver_registry[i]; i++) {
        if (!is_driver_used(&root, driver_registry[i])) {
            document_driver(out, driver_registry[i], known);
        }
    }
    return ferror(out) ? -EIO : 0;
}

int config_document(FILE *out)
{
    struct arena *arena = arena_create();
    int r = arena ? document(arena, out) : -ENOMEM;
    arena_destroy(arena);
    return r;
}
