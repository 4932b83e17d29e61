/* SPDX-License-Identifier: Apache-2.0 */
/* Effective values with their origin, as text that loads again to the same values. */
#include "config.h"

#include "config_section.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

#define ORIGIN_COLUMN 64

static void indent(int depth, FILE *out)
{
    (void)fprintf(out, "%*s", depth * 2, "");
}

static void print_section(const struct config_source *source, const struct section *section,
                          int depth, FILE *out);

static void print_scalar(const struct config_source *source, const struct key *key,
                         const struct value *value, int depth, FILE *out)
{
    char *text = NULL;
    size_t size = 0;
    FILE *line = open_memstream(&text, &size);
    if (!line) {
        return; /* the caller sees a text that does not load; there is no memory for more */
    }
    value_print(key, value, line);
    (void)fclose(line);
    indent(depth, out);
    int used = depth * 2 + (int)strlen(key->name) + (int)size + 4;
    (void)fprintf(out, "%s = %s;%*s", key->name, text,
                  used < ORIGIN_COLUMN ? ORIGIN_COLUMN - used : 1, "");
    free(text);
    if (value->line > 0) {
        (void)fprintf(out, "# %s:%d\n", source->file, value->line);
    } else {
        (void)fprintf(out, "# default\n");
    }
}

static void print_list(const struct config_source *source, const struct key *key,
                       const struct value *value, int depth, FILE *out)
{
    indent(depth, out);
    (void)fprintf(out, "%s = (\n", key->name);
    for (int i = 0; i < value->count; i++) {
        indent(depth + 1, out);
        (void)fprintf(out, "{\n");
        print_section(source, &value->sections[i], depth + 2, out);
        indent(depth + 1, out);
        (void)fprintf(out, "}%s\n", i + 1 < value->count ? "," : "");
    }
    indent(depth, out);
    (void)fprintf(out, ");\n");
}

static void print_section(const struct config_source *source, const struct section *section,
                          int depth, FILE *out)
{
    for (int i = 0; i < section->key_count; i++) {
        const struct key *key = &section->keys[i];
        const struct value *value = &section->values[i];
        if (key->type == KEY_GROUP) {
            indent(depth, out);
            (void)fprintf(out, "%s = {\n", key->name);
            print_section(source, value->sections, depth + 1, out);
            indent(depth, out);
            (void)fprintf(out, "};\n");
        } else if (!value->is_set) {
            indent(depth, out);
            (void)fprintf(out, "# %s: not given\n", key->name);
        } else if (key->type == KEY_LIST) {
            print_list(source, key, value, depth, out);
        } else {
            print_scalar(source, key, value, depth, out);
        }
    }
}

int config_print(const struct config *config, FILE *out)
{
    const struct config_source *source = config->memory;
    print_section(source, &source->root, 0, out);
    return ferror(out) ? -EIO : 0;
}
