/* SPDX-License-Identifier: Apache-2.0 */
/* The only user of libconfig: from its settings to our nodes. */
#include "config_node.h"

#include "arena.h"
#include "findings.h"
#include "parse.h"

#include <libconfig.h>
#include <locale.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool take_children(const config_setting_t *setting, struct arena *arena, struct node *node);

/* Asks for the setting's own type: the lookup functions of 1.5 cut 64-bit numbers without a word.
 */
static bool take_setting(const config_setting_t *setting, struct arena *arena, struct node *node)
{
    const char *name = config_setting_name(setting);
    node->name = arena_text(arena, name ? name : "");
    node->line = (int)config_setting_source_line(setting);
    node->text = "";
    switch (config_setting_type(setting)) {
    case CONFIG_TYPE_GROUP:
        node->type = NODE_GROUP;
        return node->name && take_children(setting, arena, node);
    case CONFIG_TYPE_ARRAY:
    case CONFIG_TYPE_LIST:
        node->type = NODE_LIST;
        return node->name && take_children(setting, arena, node);
    case CONFIG_TYPE_INT:
    case CONFIG_TYPE_INT64:
        node->type = NODE_INT;
        node->integer = config_setting_get_int64(setting);
        node->real = (double)node->integer;
        break;
    case CONFIG_TYPE_FLOAT:
        node->type = NODE_REAL;
        node->real = config_setting_get_float(setting);
        break;
    case CONFIG_TYPE_BOOL:
        node->type = NODE_BOOL;
        node->integer = config_setting_get_bool(setting) ? 1 : 0;
        break;
    default: /* a string; 1.5 has no other types */
        node->type = NODE_TEXT;
        node->text = config_setting_get_string(setting);
        node->text = arena_text(arena, node->text ? node->text : "");
        break;
    }
    return node->name && node->text;
}

static bool take_children(const config_setting_t *setting, struct arena *arena, struct node *node)
{
    node->count = config_setting_length(setting);
    node->children = arena_take(arena, (size_t)node->count, sizeof *node->children);
    bool is_good = node->children != NULL;
    for (int i = 0; is_good && i < node->count; i++) {
        const config_setting_t *child = config_setting_get_elem(setting, (unsigned)i);
        is_good = take_setting(child, arena, &node->children[i]);
    }
    return is_good;
}

/* The library says only "syntax error", often one line late: show what stands there. */
static void report_syntax(const config_t *library, const char *text, struct findings *findings)
{
    int line = config_error_line(library);
    const char *p = text;
    for (int i = 1; i < line && p; i++) {
        p = strchr(p, '\n');
        p = p ? p + 1 : NULL;
    }
    char shown[64] = "";
    char quoted[64] = "";
    if (p) {
        p += strspn(p, " \t");
        size_t length = strcspn(p, "\r\n");
        (void)snprintf(shown, sizeof shown, "%.*s", (int)(length < 60 ? length : 60), p);
        parse_quote(shown, quoted, 56);
    }
    const char *error = config_error_text(library);
    error = error ? error : "syntax error";
    const char *hint = "";
    if (strcmp(error, "syntax error") == 0) {
        hint = quoted[0] ? " (is a comma or a ';' missing before it?)"
                         : " (is a bracket or a ';' missing before it?)";
    }
    findings_error(findings, line, "%s at or before: %s%s", error,
                   quoted[0] ? quoted : "the end of the file", hint);
}

static const struct node *parse(config_t *library, const char *text, struct arena *arena,
                                struct findings *findings)
{
    if (!config_read_string(library, text)) {
        report_syntax(library, text, findings);
        return NULL;
    }
    struct node *root = arena_take(arena, 1, sizeof *root);
    if (!root || !take_setting(config_root_setting(library), arena, root)) {
        findings->is_out_of_memory = true;
        return NULL;
    }
    return root;
}

const struct node *node_read(const char *text, size_t size, struct arena *arena,
                             struct findings *findings)
{
    if (!node_scan(text, size, findings)) {
        return NULL;
    }
    /* Its scanner wants a newline behind a comment, and reads numbers in the locale of the moment.
     */
    char *ended = malloc(size + 2);
    locale_t plain = newlocale(LC_ALL_MASK, "C", (locale_t)0);
    if (!ended || plain == (locale_t)0) {
        free(ended);
        findings->is_out_of_memory = true;
        return NULL;
    }
    memcpy(ended, text, size);
    memcpy(ended + size, "\n", 2);
    locale_t before = uselocale(plain);
    config_t library;
    config_init(&library);
    const struct node *root = parse(&library, ended, arena, findings);
    config_destroy(&library);
    (void)uselocale(before);
    freelocale(plain);
    free(ended);
    return root;
}

const struct node *node_find(const struct node *group, const char *name)
{
    for (int i = 0; i < group->count; i++) {
        if (strcmp(group->children[i].name, name) == 0) {
            return &group->children[i];
        }
    }
    return NULL;
}

void node_describe(const struct node *node, char *buffer, unsigned size)
{
    char quoted[48];
    switch (node->type) {
    case NODE_GROUP:
        (void)snprintf(buffer, size, "a group");
        break;
    case NODE_LIST:
        (void)snprintf(buffer, size, "a list");
        break;
    case NODE_INT:
        (void)snprintf(buffer, size, "%lld", (long long)node->integer);
        break;
    case NODE_REAL:
        (void)snprintf(buffer, size, "%.10g", node->real);
        break;
    case NODE_TEXT:
        parse_quote(node->text, quoted, sizeof quoted);
        (void)snprintf(buffer, size, "\"%s\"", quoted);
        break;
    case NODE_BOOL:
        (void)snprintf(buffer, size, "%s", node->integer ? "true" : "false");
        break;
    }
}
