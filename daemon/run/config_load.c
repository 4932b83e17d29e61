/* SPDX-License-Identifier: Apache-2.0 */
/* From a file to a configuration, or to a report of everything that is wrong with it. */
#include "config.h"

#include "arena.h"
#include "config_build.h"
#include "config_node.h"
#include "config_section.h"
#include "err.h"
#include "fileio.h"
#include "findings.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* NULL: reported, or no memory. */
static struct config *load(struct arena *arena, const char *name, const char *text, size_t size,
                           struct findings *findings)
{
    struct config_source *source = arena_take(arena, 1, sizeof *source);
    struct config *config = arena_take(arena, 1, sizeof *config);
    const struct node *node = source && config ? node_read(text, size, arena, findings) : NULL;
    if (!node) {
        findings->is_out_of_memory = findings->is_out_of_memory || findings->errors == 0;
        return NULL;
    }
    struct parser parser = {.arena = arena, .findings = findings, .root_node = node};
    if (!section_parse_root(&parser, &source->root)) {
        findings->is_out_of_memory = true;
        return NULL;
    }
    section_resolve(&source->root, findings);
    section_check(&source->root, findings);
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
    config_warn(&source->root, config, findings);
    return findings->errors > 0 ? NULL : config;
}

int config_load_text(const char *name, const char *text, size_t size, struct config **ret,
                     struct config_report *ret_report)
{
    struct findings findings;
    findings_init(&findings, name);
    struct arena *arena = arena_create();
    struct config *config = arena ? load(arena, name, text, size, &findings) : NULL;
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

int config_load(const char *path, struct config **ret, struct config_report *ret_report)
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
    r = config_load_text(path, text, size, ret, ret_report);
    free(text);
    return r;
}

void config_free(struct config *config)
{
    if (config) {
        const struct config_source *source = config->memory;
        arena_destroy(source->arena); /* the configuration itself lies in it */
    }
}
