/* SPDX-License-Identifier: Apache-2.0 */
/* From a file to a configuration, or to a report of everything that is wrong with it. */
#include "config.h"

#include "arena.h"
#include "config_build.h"
#include "config_include.h"
#include "config_node.h"
#include "config_section.h"
#include "err.h"
#include "fileio.h"
#include "findings.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* Buses and sensors alone, whatever else is there or still missing. */
static bool parse_points(struct parser *parser, struct section *ret)
{
    static const int kept[] = {ROOT_BUSES, ROOT_SENSORS};
    const struct node *all = parser->root_node;
    const int count = schema_count(schema_root);
    struct key *keys = arena_take(parser->arena, (size_t)count + 1, sizeof *keys);
    struct node *some = arena_take(parser->arena, 1, sizeof *some);
    struct node *children = arena_take(parser->arena, 2, sizeof *children);
    if (!keys || !some || !children) {
        return false;
    }
    for (int i = 0; i < count; i++) {
        keys[i] = schema_root[i];
        if (keys[i].type == KEY_LIST && i != ROOT_BUSES) {
            keys[i].fallback = "";
        }
    }
    *some = *all;
    some->children = children;
    some->count = 0;
    for (size_t i = 0; i < sizeof kept / sizeof kept[0]; i++) {
        const struct node *node = node_find(all, schema_root[kept[i]].name);
        if (node) {
            children[some->count++] = *node;
        }
    }
    parser->root_node = some;
    return section_parse(parser, keys, ret);
}

static bool parse_and_check(struct parser *parser, bool only_points, struct section *ret)
{
    bool is_parsed =
        only_points ? parse_points(parser, ret) : section_parse(parser, schema_root, ret);
    if (is_parsed) {
        section_resolve(ret, parser->findings);
        section_check_points(ret, parser->findings);
    }
    if (is_parsed && !only_points) {
        section_check(ret, parser->findings);
    }
    return is_parsed;
}

/* NULL: reported, or no memory. */
static struct config *load(struct arena *arena, const char *name, const char *text, size_t size,
                           bool only_points, struct findings *findings)
{
    struct config_source *source = arena_take(arena, 1, sizeof *source);
    struct config *config = arena_take(arena, 1, sizeof *config);
    const struct node *node = source && config ? node_read(text, size, arena, findings) : NULL;
    if (!node) {
        findings->is_out_of_memory = findings->is_out_of_memory || findings->errors == 0;
        return NULL;
    }
    struct parser parser = {.arena = arena, .findings = findings, .root_node = node};
    if (!parse_and_check(&parser, only_points, &source->root)) {
        findings->is_out_of_memory = true;
        return NULL;
    }
    if (!only_points && !build_tariff(&source->root, name, arena, findings, &config->site.tariff)) {
        findings->is_out_of_memory = true;
        return NULL;
    }
    if (findings->errors > 0) {
        return NULL;
    }
    source->arena = arena;
    source->file = arena_text(arena, name);
    if (!source->file || !build_config(&source->root, arena, config)) {
        findings->is_out_of_memory = true;
        return NULL;
    }
    (void)snprintf(config->path, sizeof config->path, "%s", name);
    config->memory = source;
    config_try_drivers(&source->root, config, findings);
    if (!only_points) {
        config_warn(&source->root, config, findings);
    }
    return findings->errors > 0 ? NULL : config;
}

static int load_whole(const char *name, const struct config_whole *whole, bool only_points,
                      struct config **ret, struct config_report *ret_report)
{
    struct findings findings;
    findings_init(&findings, name);
    findings.whole = whole;
    struct arena *arena = arena_create();
    struct config *config =
        arena ? load(arena, name, whole->text, whole->size, only_points, &findings) : NULL;
    findings.is_out_of_memory = findings.is_out_of_memory || !arena;
    int r = findings_report(&findings, ret_report);
    findings_finish(&findings);
    if (r == 0 && config) {
        *ret = config;
        return 0;
    }
    arena_destroy(arena);
    *ret = NULL;
    return r < 0 ? r : -EINVAL;
}

int config_load_whole(const char *name, const struct config_whole *whole, struct config **ret,
                      struct config_report *ret_report)
{
    return load_whole(name, whole, false, ret, ret_report);
}

int config_join(const char *name, const char *text, size_t size, struct config_whole *ret,
                struct config_report *ret_report)
{
    struct findings findings;
    findings_init(&findings, name);
    int r = config_whole_read(name, text, size, ret, &findings);
    if (r < 0) {
        const int code = findings_report(&findings, ret_report);
        r = code < 0 ? code : r;
        config_whole_free(ret);
    }
    findings_finish(&findings);
    return r;
}

static int load_text(const char *name, const char *text, size_t size, bool only_points,
                     struct config **ret, struct config_report *ret_report)
{
    struct config_whole whole;
    *ret = NULL;
    int r = config_join(name, text, size, &whole, ret_report);
    if (r == 0) {
        r = load_whole(name, &whole, only_points, ret, ret_report);
        config_whole_free(&whole);
    }
    return r;
}

int config_load_text(const char *name, const char *text, size_t size, struct config **ret,
                     struct config_report *ret_report)
{
    return load_text(name, text, size, false, ret, ret_report);
}

static int load_file(const char *path, bool only_points, struct config **ret,
                     struct config_report *ret_report)
{
    char *text = NULL;
    size_t size = 0;
    struct err err;
    int r = fileio_read(path, CONFIG_BYTES_MAX, &text, &size, &err);
    if (r < 0) {
        *ret = NULL;
        (void)findings_report_one(path, err.text, ret_report); /* r says more than no memory */
        return r;
    }
    r = load_text(path, text, size, only_points, ret, ret_report);
    free(text);
    return r;
}

int config_load(const char *path, struct config **ret, struct config_report *ret_report)
{
    return load_file(path, false, ret, ret_report);
}

int config_load_points(const char *path, struct config **ret, struct config_report *ret_report)
{
    return load_file(path, true, ret, ret_report);
}

void config_free(struct config *config)
{
    if (config) {
        const struct config_source *source = config->memory;
        arena_destroy(source->arena); /* the configuration itself lies in it */
    }
}
