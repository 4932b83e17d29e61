/* SPDX-License-Identifier: Apache-2.0 */
#include "config_include.h"

#include "err.h"
#include "fileio.h"
#include "findings.h"
#include "parse.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PATH_SIZE 512

static const char word[] = "@include";

struct joining {
    const char *name;
    struct config_whole *whole;
    struct findings *findings;
    size_t room;
    int line, whole_line;       /* of the configuration, and of the whole */
    bool in_comment, in_string; /* where the line at hand begins */
};

static bool add(struct joining *joining, const char *text, size_t size)
{
    struct config_whole *whole = joining->whole;
    if (whole->size + size + 2 > joining->room) {
        joining->room = 2 * (whole->size + size + 2);
        char *grown = realloc(whole->text, joining->room);
        if (!grown) {
            joining->findings->is_out_of_memory = true;
            return false;
        }
        whole->text = grown;
    }
    memcpy(whole->text + whole->size, text, size);
    whole->size += size;
    whole->text[whole->size] = '\0';
    return true;
}

static void begin_piece(struct joining *joining, const char *file, int line)
{
    struct config_whole *whole = joining->whole;
    struct config_piece *piece = &whole->pieces[whole->piece_count++];
    piece->first = joining->whole_line;
    piece->line = line;
    parse_quote(file, piece->file, sizeof piece->file);
}

/* Follows strings and comments through a line, as libconfig's scanner does. */
static void pass_line(struct joining *joining, const char *p, const char *end)
{
    for (; p < end; p++) {
        const char next = p + 1 < end ? p[1] : '\0';
        if (joining->in_comment) {
            joining->in_comment = !(*p == '*' && next == '/');
            p += !joining->in_comment;
        } else if (joining->in_string) {
            joining->in_string = *p != '"';
            p += *p == '\\' && (next == '"' || next == '\\');
        } else if (*p == '#' || (*p == '/' && next == '/')) {
            return;
        } else if (*p == '/' && next == '*') {
            joining->in_comment = true;
            p++;
        } else {
            joining->in_string = *p == '"';
        }
    }
}

/* The name in quotes behind the word; false: reported. */
static bool take_name(const struct joining *joining, const char *p, const char *end,
                      char ret_name[PATH_SIZE])
{
    while (p < end && strchr(" \t", *p)) {
        p++;
    }
    const char *close = p < end && *p == '"' ? memchr(p + 1, '"', (size_t)(end - p - 1)) : NULL;
    const char *rest = close ? close + 1 : end;
    while (rest < end && strchr(" \t\r\n", *rest)) {
        rest++;
    }
    if (!close || rest < end || close == p + 1 || close - p >= PATH_SIZE) {
        findings_error(joining->findings, joining->line,
                       "@include wants the name of a file in quotes, and nothing behind it");
        return false;
    }
    (void)snprintf(ret_name, PATH_SIZE, "%.*s", (int)(close - p - 1), p + 1);
    return true;
}

static bool add_fragment(struct joining *joining, const char *path, const char *text, size_t size)
{
    if (joining->whole->piece_count + 2 > CONFIG_INCLUDE_PIECES) {
        findings_error(joining->findings, joining->line, "more than %d files to include",
                       CONFIG_INCLUDES_MAX);
        return true;
    }
    begin_piece(joining, path, 1);
    const bool has_end = size > 0 && text[size - 1] == '\n';
    if (!add(joining, text, size) || !add(joining, "\n", has_end ? 0 : 1)) {
        return false;
    }
    for (size_t i = 0; i < size; i++) {
        joining->whole_line += text[i] == '\n';
    }
    joining->whole_line += has_end ? 0 : 1;
    joining->line++;
    begin_piece(joining, joining->name, joining->line);
    return true;
}

/* False: no memory. */
static bool include(struct joining *joining, const char *p, const char *end)
{
    char name[PATH_SIZE];
    char path[2 * PATH_SIZE];
    char *text = NULL;
    size_t size = 0;
    struct err err;
    if (!take_name(joining, p, end, name)) {
        joining->line++;
        return true;
    }
    const char *slash = strrchr(joining->name, '/');
    const int folder = name[0] != '/' && slash ? (int)(slash + 1 - joining->name) : 0;
    const int length = snprintf(path, sizeof path, "%.*s%s", folder, joining->name, name);
    if (length >= (int)sizeof path) {
        findings_error(joining->findings, joining->line, "@include: the path is too long");
        joining->line++;
        return true;
    }
    if (fileio_read(path, CONFIG_INCLUDE_BYTES, &text, &size, &err) < 0) {
        findings_error(joining->findings, joining->line, "@include: %s", err.text);
        joining->line++;
        return true;
    }
    const bool is_good = add_fragment(joining, path, text, size);
    free(text);
    return is_good;
}

static bool join_line(struct joining *joining, const char *p, const char *end)
{
    const char *first = p;
    while (first < end && strchr(" \t", *first)) {
        first++;
    }
    const bool has_word =
        (size_t)(end - first) >= sizeof word - 1 && memcmp(first, word, sizeof word - 1) == 0;
    if (has_word && !joining->in_comment && !joining->in_string) {
        return include(joining, first + sizeof word - 1, end);
    }
    pass_line(joining, p, end);
    joining->line++;
    joining->whole_line++;
    return add(joining, p, (size_t)(end - p));
}

int config_whole_read(const char *name, const char *text, size_t size, struct config_whole *ret,
                      struct findings *findings)
{
    struct joining joining = {
        .name = name, .whole = ret, .findings = findings, .line = 1, .whole_line = 1};
    *ret = (struct config_whole){0};
    begin_piece(&joining, name, 1);
    bool is_good = add(&joining, "", 0);
    for (const char *p = text; is_good && p < text + size;) {
        const char *newline = memchr(p, '\n', (size_t)(text + size - p));
        const char *end = newline ? newline + 1 : text + size;
        is_good = join_line(&joining, p, end);
        p = end;
    }
    return !is_good ? -ENOMEM : findings->errors > 0 ? -EINVAL : 0;
}

void config_whole_free(struct config_whole *whole)
{
    free(whole->text);
    *whole = (struct config_whole){0};
}

const struct config_piece *config_whole_find(const struct config_whole *whole, int line,
                                             int *ret_line)
{
    int i = whole->piece_count - 1;
    while (i > 0 && whole->pieces[i].first > line) {
        i--;
    }
    if (line <= 0 || i < 0) {
        return NULL;
    }
    *ret_line = line - whole->pieces[i].first + whole->pieces[i].line;
    return &whole->pieces[i];
}
