/* SPDX-License-Identifier: Apache-2.0 */
#include "wrap.h"

#include "tint.h"
#include "utf8.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { HANG_MOST = 60, JOIN_FROM = 60, OPTION_INDENT = 10 };

static int last_column(const char *line, size_t length)
{
    int hang = 2;
    for (size_t i = 2; i < length; i++) {
        const int at = utf8_columns(line, i);
        if (at <= HANG_MOST && line[i] != ' ' && line[i - 1] == ' ' && line[i - 2] == ' ') {
            hang = at;
        }
    }
    return hang;
}

/* Bytes of the longest beginning that fits and ends before a single space; with none, the first
 * word. */
static size_t piece(const char *line, size_t length, int from, int room)
{
    size_t fits = 0;
    for (size_t i = (size_t)from; i < length; i++) {
        const bool is_gap = line[i] == ' ' && i > 0 && line[i - 1] != ' ' && line[i + 1] != ' ';
        if (is_gap && (fits == 0 || utf8_columns(line, i) <= room)) {
            fits = i;
        }
    }
    return fits > 0 ? fits : length;
}

static void put_line(FILE *out, const char *line, size_t length, int hang)
{
    const bool is_prose = hang == WRAP_HELP && length > 0 && line[0] != ' ';
    const int below = is_prose ? 0 : hang < 0 ? last_column(line, length) : hang;
    int indent = 0;
    while (utf8_columns(line, length) > WRAP_COLUMNS - indent) {
        const int from = indent == 0 ? below : 0; /* no break within the first columns */
        const size_t taken = piece(line, length, from, WRAP_COLUMNS - indent);
        if (taken == length) {
            break;
        }
        (void)fprintf(out, "%*s%.*s\n", indent, "", (int)taken, line);
        line += taken + 1;
        length -= taken + 1;
        indent = below;
    }
    (void)fprintf(out, "%*s%.*s", indent, "", (int)length, line);
}

void wrap_text(FILE *out, const char *text, int hang)
{
    while (*text) {
        const size_t length = strcspn(text, "\n");
        const enum tint tint = tint_of_line(text, length);
        tint_begin(out, tint);
        put_line(out, text, length, hang);
        tint_end(out, tint);
        text += length;
        if (*text == '\n') {
            (void)fputc('\n', out);
            text++;
        }
    }
}

FILE *wrap_begin(struct wrap *wrap, FILE *out)
{
    *wrap = (struct wrap){.out = out};
    wrap->page = open_memstream(&wrap->text, &wrap->size);
    return wrap->page ? wrap->page : out;
}

void wrap_end(struct wrap *wrap, int hang)
{
    if (wrap->page && fclose(wrap->page) == 0) {
        wrap_text(wrap->out, wrap->text, hang);
    }
    free(wrap->text);
}

static bool begins_with(const char *line, const char *word)
{
    return strncmp(line, word, strlen(word)) == 0;
}

static bool is_command(const char *line)
{
    line += strspn(line, " ");
    return begins_with(line, "lampwarden ") || begins_with(line, "usage:") ||
           begins_with(line, "example") || begins_with(line, "exit code");
}

/* Whether the next line is the rest of this one, which was broken because it was full. */
static bool goes_on(const char *line, size_t length, const char *next)
{
    const size_t indent = strspn(next, " ");
    if (length < JOIN_FROM || is_command(line) || is_command(next) || next[indent] == '\n' ||
        next[indent] == '\0') {
        return false;
    }
    return indent == 0 ? line[0] != ' ' : indent >= OPTION_INDENT;
}

void wrap_help(FILE *out, const char *text)
{
    struct wrap wrap;
    FILE *page = wrap_begin(&wrap, out);
    while (*text) {
        const size_t length = strcspn(text, "\n");
        const char *next = text + length + (text[length] == '\n');
        (void)fprintf(page, "%.*s", (int)length, text);
        if (text[length] == '\n' && goes_on(text, length, next)) {
            (void)fputc(' ', page);
            next += strspn(next, " ");
        } else if (text[length] == '\n') {
            (void)fputc('\n', page);
        }
        text = next;
    }
    wrap_end(&wrap, WRAP_HELP);
}
