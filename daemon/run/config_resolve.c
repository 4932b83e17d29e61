/* SPDX-License-Identifier: Apache-2.0 */
/* Names: each stands once in its list, and every reference finds its entry. */
#include "config_section.h"

#include "config.h"
#include "findings.h"
#include "parse.h"

#include <string.h>

static int find_name(const struct value *list, const char *name)
{
    for (int i = 0; i < list->count; i++) {
        /* "name" is the first key of every list that is referred to; one that was refused for its
         * form still stands for its entry */
        if (strcmp(section_text(&list->sections[i], 0), name) == 0) {
            return i;
        }
    }
    return -1;
}

static void check_unique(const struct section *root, int key, struct findings *findings)
{
    const struct value *list = &root->values[key];
    for (int i = 0; i < list->count; i++) {
        const struct value *name = &list->sections[i].values[0];
        int first = name->is_set ? find_name(list, name->text) : i;
        if (first < i) {
            findings_error(findings, name->line,
                           "%s[%d].name: \"%s\" is already the name of %s[%d]",
                           schema_root[key].name, i, name->text, schema_root[key].name, first);
        }
    }
}

/* What was probably meant. */
static const char *nearest_name(const struct value *list, const char *word)
{
    const char *names[CONFIG_SENSORS_MAX + 1] = {NULL};
    int count = 0;
    for (int i = 0; i < list->count && count < CONFIG_SENSORS_MAX; i++) {
        if (section_is_usable(&list->sections[i], 0)) {
            names[count++] = section_text(&list->sections[i], 0);
        }
    }
    return value_nearest(names, word);
}

static const struct value *kind_of(const struct section *section)
{
    for (int i = 0; i < section->own_count; i++) {
        if (strcmp(section->keys[i].name, "kind") == 0) {
            return &section->values[i];
        }
    }
    return NULL;
}

static void resolve(const struct section *root, const struct key *key, const struct place *place,
                    struct value *value, struct findings *findings)
{
    const struct value *list = &root->values[key->target];
    const char *list_name = schema_root[key->target].name;
    char path[PLACE_MAX];
    char quoted[48];
    place_format(place, path, sizeof path);
    parse_quote(value->text, quoted, sizeof quoted);
    value->integer = find_name(list, value->text);
    if (value->integer < 0) {
        const char *nearest = nearest_name(list, value->text);
        value->is_bad = true;
        if (nearest) {
            findings_error(findings, value->line,
                           "%s: no entry of %s is called \"%s\", did you mean \"%s\"?", path,
                           list_name, quoted, nearest);
        } else {
            findings_error(findings, value->line, "%s: no entry of %s is called \"%s\"", path,
                           list_name, quoted);
        }
        return;
    }
    const struct value *kind = kind_of(&list->sections[value->integer]);
    if (key->target_kind && kind && kind->is_set && strcmp(kind->text, key->target_kind) != 0) {
        value->is_bad = true;
        findings_error(findings, value->line, "%s: \"%s\" is of kind %s, %s is needed here", path,
                       quoted, kind->text, key->target_kind);
    }
}

static void resolve_refs(const struct section *root, const struct key *key,
                         const struct place *place, struct value *value, struct findings *findings)
{
    for (int i = 0; i < value->count; i++) {
        struct value *item = &value->items[i];
        struct place inner = {place->outer, place->name, i};
        if (!item->is_set) {
            continue;
        }
        resolve(root, key, &inner, item, findings);
        value->is_bad = value->is_bad || item->is_bad;
        /* only a stage may come again later */
        for (int before = 0; key->target != ROOT_STAGES && before < i && !item->is_bad; before++) {
            if (value->items[before].integer == item->integer) {
                char path[PLACE_MAX];
                place_format(&inner, path, sizeof path);
                findings_error(findings, item->line, "%s: \"%s\" stands twice in this list", path,
                               item->text);
                item->is_bad = value->is_bad = true;
            }
        }
    }
}

static void walk(const struct section *root, const struct section *section,
                 const struct place *place, struct findings *findings)
{
    for (int i = 0; i < section->key_count; i++) {
        const struct key *key = &section->keys[i];
        struct value *value = &section->values[i];
        struct place here = {place, key->name, -1};
        if (key->type == KEY_REF && value->is_set) {
            resolve(root, key, &here, value, findings);
        } else if (key->type == KEY_REFS) {
            resolve_refs(root, key, &here, value, findings);
        }
        for (int k = 0; value->sections && k < value->count; k++) {
            here.index = key->type == KEY_LIST ? k : -1;
            walk(root, &value->sections[k], &here, findings);
        }
    }
}

void section_resolve(const struct section *root, struct findings *findings)
{
    static const int named[] = {ROOT_BUSES,    ROOT_SENSORS, ROOT_OUTPUTS,
                                ROOT_FIXTURES, ROOT_STAGES,  ROOT_SPACES};
    for (size_t i = 0; i < sizeof named / sizeof *named; i++) {
        check_unique(root, named[i], findings);
    }
    walk(root, root, NULL, findings);
}
