/* SPDX-License-Identifier: Apache-2.0 */
/* From nodes to sections: known keys, defaults, structure. */
#include "config_section.h"

#include "arena.h"
#include "config_node.h"
#include "findings.h"
#include "parse.h"

#include <math.h>
#include <string.h>

#define NAMES_MAX 64

static bool parse_section(struct parser *parser, const struct key *list, const struct node *node,
                          const struct place *place, struct section *ret);

static void report_missing(struct parser *parser, const struct key *key, int line,
                           const struct place *place)
{
    char path[PLACE_MAX];
    char allowed[256];
    place_format(place, path, sizeof path);
    schema_describe(key, allowed, sizeof allowed);
    findings_error(parser->findings, line, "%s: missing (%s)", path, allowed);
}

static void list_names(const struct section *section, const char *ret_names[NAMES_MAX + 1])
{
    int count = section->key_count < NAMES_MAX ? section->key_count : NAMES_MAX;
    for (int i = 0; i < count; i++) {
        ret_names[i] = section->keys[i].name;
    }
    ret_names[count] = NULL;
}

/* Is one of the unknown keys a slip of this one? Then it was named already and is not missing too.
 */
static bool is_misspelt(const struct section *section, const struct node *node, const char *name)
{
    const char *names[NAMES_MAX + 1];
    list_names(section, names);
    for (int i = 0; node && i < node->count; i++) {
        const char *nearest = value_nearest(names, node->children[i].name);
        if (nearest && strcmp(nearest, name) == 0) {
            return true;
        }
    }
    return false;
}

static void report_unknown(struct parser *parser, const struct section *section,
                           const struct node *node, const struct place *place)
{
    char path[PLACE_MAX];
    const char *names[NAMES_MAX + 1];
    list_names(section, names);
    struct place inner = {place, node->name, -1};
    place_format(&inner, path, sizeof path);
    const char *nearest = value_nearest(names, node->name);
    if (nearest) {
        findings_error(parser->findings, node->line, "%s: unknown key, did you mean \"%s\"?", path,
                       nearest);
        return;
    }
    char known[640] = "";
    size_t used = 0;
    for (int i = 0; names[i] && used + 1 < sizeof known; i++) {
        used += (size_t)snprintf(known + used, sizeof known - used, "%s%s", i > 0 ? ", " : "",
                                 names[i]);
    }
    findings_error(parser->findings, node->line, "%s: unknown key (known: %s)", path, known);
}

/* Names or texts in a list, or one alone, which means a list of one. */
static bool parse_refs(struct parser *parser, const struct key *key, const struct node *node,
                       const struct place *place, struct value *ret)
{
    bool is_one = node->type == NODE_TEXT;
    const struct node *items = is_one ? node : node->children;
    int count = is_one ? 1 : node->count;
    *ret = (struct value){.line = node->line, .is_set = true, .real = (double)NAN, .text = ""};
    struct key counted = *key;
    if ((!is_one && node->type != NODE_LIST) || !(count >= key->low && count <= key->high)) {
        char path[PLACE_MAX];
        char allowed[256];
        place_format(place, path, sizeof path);
        schema_describe(key, allowed, sizeof allowed);
        if (node->type == NODE_LIST) {
            findings_error(parser->findings, node->line,
                           "%s: the number of %s, %d, is out of range (%s)", path,
                           key->type == KEY_REFS ? "names" : "texts", count, allowed);
        } else {
            value_take(parser->findings, &counted, node, place, ret);
        }
        *ret = (struct value){.line = node->line, .is_bad = true, .real = (double)NAN, .text = ""};
        return true;
    }
    ret->items = arena_take(parser->arena, (size_t)count, sizeof *ret->items);
    ret->count = count;
    counted.type = key->type == KEY_REFS ? KEY_REF : KEY_TEXT;
    if (counted.type == KEY_TEXT) {
        counted.low = 1;
        counted.high = SCHEMA_TEXTS_EACH;
    }
    for (int i = 0; ret->items && i < count; i++) {
        struct place item = {place->outer, place->name, is_one ? -1 : i};
        value_take(parser->findings, &counted, &items[i], &item, &ret->items[i]);
        ret->is_bad = ret->is_bad || ret->items[i].is_bad;
    }
    return ret->items != NULL;
}

static bool parse_list(struct parser *parser, const struct key *key, const struct node *node,
                       const struct place *place, struct value *ret)
{
    *ret = (struct value){.line = node->line, .is_set = true, .real = (double)NAN, .text = ""};
    if (node->type != NODE_LIST) {
        value_take(parser->findings, key, node, place, ret);
        return true;
    }
    if (!(node->count >= key->low && node->count <= key->high)) {
        char path[PLACE_MAX];
        place_format(place, path, sizeof path);
        findings_error(parser->findings, node->line,
                       "%s: the number of entries, %d, is out of range (%.0f … %.0f)", path,
                       node->count, key->low, key->high);
        ret->is_bad = true;
        ret->is_set = false;
        return true;
    }
    ret->sections = arena_take(parser->arena, (size_t)node->count, sizeof *ret->sections);
    if (!ret->sections) {
        return false;
    }
    for (int i = 0; i < node->count; i++) {
        struct place item = {place->outer, place->name, i};
        if (!parse_section(parser, key, &node->children[i], &item, &ret->sections[i])) {
            return false;
        }
        ret->count = i + 1; /* what stands can be looked up from now on */
    }
    return true;
}

static bool parse_group(struct parser *parser, const struct key *key, const struct node *node,
                        const struct place *place, struct value *ret)
{
    *ret = (struct value){
        .line = node ? node->line : 0, .is_set = true, .real = (double)NAN, .text = "", .count = 1};
    ret->sections = arena_take(parser->arena, 1, sizeof *ret->sections);
    return ret->sections && parse_section(parser, key, node, place, ret->sections);
}

/* The table a group inherits from stands in `limits` under the same keys. */
static const struct section *heir_of(const struct parser *parser, const struct key *key)
{
    const struct section *limits = section_group(parser->root, ROOT_LIMITS);
    for (int i = 0; i < limits->key_count; i++) {
        if (limits->keys[i].inner == key->inner) {
            return section_group(limits, i);
        }
    }
    return NULL;
}

static int kind_of(const struct section *section)
{
    for (int i = 0; i < section->key_count; i++) {
        if (strcmp(section->keys[i].name, "kind") == 0) {
            return section_is_usable(section, i) ? (int)section->values[i].integer : -1;
        }
    }
    return -1;
}

static void take_fallback(struct parser *parser, const struct section *section, int index,
                          const struct node *group, const struct place *place)
{
    const struct key *key = &section->keys[index];
    struct value *value = &section->values[index];
    const char *text = key->fallback;
    if (key->by_kind) {
        int kind = kind_of(section);
        text = kind >= 0 ? key->by_kind[kind] : "";
    }
    *value =
        (struct value){.real = (double)NAN, .text = "", .integer = key->type == KEY_REF ? -1 : 0};
    if (!text) {
        if (!is_misspelt(section, group, key->name)) {
            report_missing(parser, key, section->line, place);
        }
        value->is_bad = true;
    } else if (text[0] != '\0' && !value_fallback(key, text, value)) {
        value->is_bad = true;
        findings_error(parser->findings, section->line, "%s: its default \"%s\" is unusable",
                       key->name, text);
    }
}

static bool parse_value(struct parser *parser, const struct section *section, int index,
                        const struct node *group, const struct place *place)
{
    const struct node *node = group ? node_find(group, section->keys[index].name) : NULL;
    const struct key *key = &section->keys[index];
    struct value *value = &section->values[index];
    if (key->type == KEY_GROUP) {
        return parse_group(parser, key, node, place, value);
    }
    if (!node) {
        take_fallback(parser, section, index, group, place);
        return true;
    }
    if (key->type == KEY_LIST) {
        return parse_list(parser, key, node, place, value);
    }
    if (key->type == KEY_REFS || key->type == KEY_TEXTS) {
        return parse_refs(parser, key, node, place, value);
    }
    value_take(parser->findings, key, node, place, value);
    return true;
}

/* The driver of a bus by its own word, of a sensor or an output by that of its bus. */
static const struct driver *driver_of(const struct parser *parser, enum key_extra extra,
                                      const struct node *node)
{
    const struct node *named = node_find(node, extra == EXTRA_BUS ? "driver" : "bus");
    if (!named || named->type != NODE_TEXT) {
        return NULL;
    }
    if (extra == EXTRA_BUS) {
        return driver_find(named->text);
    }
    const struct value *buses = &parser->root->values[ROOT_BUSES];
    for (int i = 0; i < buses->count; i++) {
        if (strcmp(section_text(&buses->sections[i], BUS_NAME), named->text) == 0) {
            return buses->sections[i].driver;
        }
    }
    return NULL;
}

static const struct option *options_of(const struct driver *driver, enum key_extra extra,
                                       const struct node *node)
{
    const struct node *kind = node_find(node, "kind");
    if (!driver || extra == EXTRA_NONE) {
        return NULL;
    }
    if (extra == EXTRA_BUS) {
        return driver->bus_options;
    }
    if (extra == EXTRA_SENSOR) {
        return driver->sensor_options;
    }
    bool is_switch = kind && kind->type == NODE_TEXT && strcmp(kind->text, "switch") == 0;
    return is_switch ? driver->switch_options : driver->dim_options;
}

/* Own keys, and behind them those of the driver. */
static bool open_section(struct parser *parser, const struct key *outer, const struct node *node,
                         struct section *section)
{
    section->keys = outer->inner;
    section->own_count = schema_count(outer->inner);
    section->key_count = section->own_count;
    section->line = node ? node->line : 0;
    if (outer->extra != EXTRA_NONE && node) {
        section->driver = driver_of(parser, outer->extra, node);
        const struct option *options = options_of(section->driver, outer->extra, node);
        int more = (int)option_count(options);
        struct key *joined = arena_take(
            parser->arena, (size_t)section->own_count + (size_t)more + 1, sizeof *joined);
        if (!joined) {
            return false;
        }
        memcpy(joined, outer->inner, (size_t)section->own_count * sizeof *joined);
        for (int i = 0; i < more; i++) {
            joined[section->own_count + i] = schema_from_option(&options[i]);
        }
        section->keys = joined;
        section->key_count += more;
    }
    section->values =
        arena_take(parser->arena, (size_t)section->key_count, sizeof *section->values);
    return section->values != NULL;
}

static void report_strangers(struct parser *parser, const struct key *outer,
                             const struct section *section, const struct node *node,
                             const struct place *place)
{
    /* Without a driver only slips of own keys can be told: the others may be the driver's. */
    bool tells_all = outer->extra == EXTRA_NONE || section->driver;
    const char *names[NAMES_MAX + 1];
    list_names(section, names);
    for (int i = 0; node && i < node->count; i++) {
        bool is_known = !tells_all && !value_nearest(names, node->children[i].name);
        for (int k = 0; k < section->key_count && !is_known; k++) {
            is_known = strcmp(section->keys[k].name, node->children[i].name) == 0;
        }
        if (!is_known) {
            report_unknown(parser, section, &node->children[i], place);
        }
    }
}

static bool parse_keys(struct parser *parser, const struct section *heir, const struct node *node,
                       const struct place *place, struct section *section)
{
    for (int i = 0; i < section->key_count; i++) {
        struct place inner = {place, section->keys[i].name, -1};
        bool is_given = node && node_find(node, section->keys[i].name);
        if (!is_given && heir) {
            section->values[i] = heir->values[i];
        } else if (!parse_value(parser, section, i, node, &inner)) {
            return false;
        }
    }
    return true;
}

static bool parse_section(struct parser *parser, const struct key *outer, const struct node *node,
                          const struct place *place, struct section *ret)
{
    static const struct node nothing = {.name = "", .type = NODE_GROUP, .text = ""};
    if (node && node->type != NODE_GROUP) {
        struct value ignored;
        struct key group = *outer;
        group.type = KEY_GROUP;
        value_take(parser->findings, &group, node, place, &ignored);
        node = NULL;
        /* Its keys would all be "missing" now: once is enough. */
        struct findings mute = {.count = FINDINGS_MAX};
        struct parser quiet = *parser;
        quiet.findings = &mute;
        return open_section(&quiet, outer, &nothing, ret) &&
               parse_keys(&quiet, NULL, NULL, place, ret);
    }
    if (!open_section(parser, outer, node, ret)) {
        return false;
    }
    report_strangers(parser, outer, ret, node, place);
    return parse_keys(parser, outer->inherits ? heir_of(parser, outer) : NULL, node, place, ret);
}

bool section_parse(struct parser *parser, const struct key *root_keys, struct section *ret)
{
    const struct key top = {.inner = root_keys, .type = KEY_GROUP};
    *ret = (struct section){.line = 0};
    parser->root = ret;
    return parse_section(parser, &top, parser->root_node, NULL, ret);
}
