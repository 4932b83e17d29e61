/* SPDX-License-Identifier: Apache-2.0 */
#include "table.h"

#include "err.h"
#include "fileio.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BYTES_MAX   ((size_t)128 << 20)
#define CELL_MAX    1e12
#define FIRST_ROWS  256
#define BYTE_ORDER8 "\xEF\xBB\xBF"

static int complain(const struct table *table, int line, int code, struct err *err)
{
    err_prefix(err, "%s:%d", table->name, line);
    return -code;
}

static char *trim(char *text)
{
    text += strspn(text, " \t");
    size_t length = strlen(text);
    while (length > 0 && strchr(" \t\r", text[length - 1])) {
        length--;
    }
    text[length] = '\0';
    return text;
}

/* "# key: value" is a note, any other comment is for people. */
static int read_note(struct table *table, char *text, int line, struct err *err)
{
    char *colon = strchr(text, ':');
    if (!colon || table->column_count > 0) {
        return 0;
    }
    *colon = '\0';
    const char *key = trim(text);
    const char *value = trim(colon + 1);
    if (strchr(key, ' ') || key[0] == '\0' || strlen(key) >= TABLE_WORD_MAX) {
        return 0; /* a sentence */
    }
    const struct table_note *earlier = table_note(table, key);
    if (earlier) {
        (void)err_fail(err, EINVAL, "%s was said on line %d already", key, earlier->line);
        return complain(table, line, EINVAL, err);
    }
    if (table->note_count == TABLE_NOTES_MAX) {
        (void)err_fail(err, EINVAL, "more than %d notes", TABLE_NOTES_MAX);
        return complain(table, line, EINVAL, err);
    }
    struct table_note *note = &table->notes[table->note_count++];
    (void)snprintf(note->key, sizeof note->key, "%s", key);
    (void)snprintf(note->value, sizeof note->value, "%s", value);
    note->line = line;
    return 0;
}

static int read_columns(struct table *table, char *text, int line, struct err *err)
{
    if (strchr(text, ';') || strchr(text, '\t')) {
        (void)err_fail(err, EINVAL, "columns are parted by commas here, with a point in numbers");
        return complain(table, line, EINVAL, err);
    }
    table->columns_line = line;
    for (char *rest = text; rest;) {
        char *word = trim(strsep(&rest, ","));
        char quoted[48];
        parse_quote(word, quoted, sizeof quoted);
        int rc = 0;
        if (table->column_count == TABLE_COLUMNS_MAX) {
            rc = err_fail(err, EINVAL, "more than %d columns", TABLE_COLUMNS_MAX);
        } else if (word[0] == '\0' || strlen(word) >= TABLE_WORD_MAX) {
            rc = err_fail(err, EINVAL, "\"%s\" is no name of a column (1 … %d letters)", quoted,
                          TABLE_WORD_MAX - 1);
        } else if (strspn(word, "+-.0123456789") == strlen(word)) {
            rc = err_fail(err, EINVAL, "a line with the names of the columns is missing before %s",
                          quoted);
        } else if (table_column(table, word) >= 0) {
            rc = err_fail(err, EINVAL, "there are two columns \"%s\"", quoted);
        }
        if (rc < 0) {
            return complain(table, line, -rc, err);
        }
        (void)snprintf(table->columns[table->column_count++], TABLE_WORD_MAX, "%s", word);
    }
    return 0;
}

static int grow(struct table *table, size_t *room, struct err *err)
{
    const size_t more = *room ? 2 * *room : FIRST_ROWS;
    const size_t width = (size_t)table->column_count;
    double *cells = realloc(table->cells, more * width * sizeof *cells);
    if (cells) {
        table->cells = cells;
    }
    int *lines = realloc(table->lines, more * sizeof *lines);
    if (lines) {
        table->lines = lines;
    }
    if (!cells || !lines) {
        return err_fail(err, ENOMEM, "no memory for %zu rows", more);
    }
    *room = more;
    return 0;
}

static int read_row(struct table *table, char *text, int line, struct err *err)
{
    double *cells = table->cells + table->row_count * (size_t)table->column_count;
    int count = 0;
    for (char *rest = text; rest; count++) {
        const char *word = trim(strsep(&rest, ","));
        if (count == table->column_count) {
            count++;
            break;
        }
        cells[count] = UNITS_NONE;
        const int rc =
            word[0] == '\0' ? 0 : parse_real(word, -CELL_MAX, CELL_MAX, &cells[count], err);
        if (rc == -EINVAL) { /* its own range is the column's business, not this one's */
            char quoted[48];
            parse_quote(word, quoted, sizeof quoted);
            (void)err_fail(err, EINVAL, "\"%s\" is not a number", quoted);
        }
        if (rc < 0) {
            err_prefix(err, "%s", table->columns[count]);
            return complain(table, line, EINVAL, err);
        }
    }
    if (count != table->column_count) {
        const bool is_more = count > table->column_count;
        (void)err_fail(err, EINVAL, "%s%d cell%s; line %d names %d columns",
                       is_more ? "more than " : "", is_more ? count - 1 : count,
                       count == 1 ? "" : "s", table->columns_line, table->column_count);
        return complain(table, line, EINVAL, err);
    }
    table->lines[table->row_count++] = line;
    return 0;
}

static int read_line(struct table *table, char *text, int line, size_t *room, struct err *err)
{
    text = trim(text);
    if (text[0] == '\0') {
        return 0;
    }
    if (text[0] == '#') {
        return read_note(table, text + 1, line, err);
    }
    if (table->column_count == 0) {
        return read_columns(table, text, line, err);
    }
    if (table->row_count == TABLE_ROWS_MAX) {
        (void)err_fail(err, EFBIG, "more than %d rows", TABLE_ROWS_MAX);
        return complain(table, line, EFBIG, err);
    }
    if (table->row_count == *room && grow(table, room, err) < 0) {
        return -ENOMEM;
    }
    return read_row(table, text, line, err);
}

int table_parse(const char *name, char *text, struct table *ret, struct err *err)
{
    struct table table = {0};
    size_t room = 0;
    int rc = 0;
    int line = 1;
    parse_quote(name, table.name, sizeof table.name);
    if (strncmp(text, BYTE_ORDER8, sizeof BYTE_ORDER8 - 1) == 0) {
        text += sizeof BYTE_ORDER8 - 1;
    }
    for (char *rest = text; rest && rc == 0; line++) {
        rc = read_line(&table, strsep(&rest, "\n"), line, &room, err);
    }
    if (rc == 0 && table.row_count == 0) {
        rc = err_fail(err, EINVAL, "%s: there is no row in it", name);
    }
    if (rc < 0) {
        table_free(&table);
        return rc;
    }
    *ret = table;
    return 0;
}

int table_read(const char *path, struct table *ret, struct err *err)
{
    char *text = NULL;
    size_t size = 0;
    int rc = fileio_read(path, BYTES_MAX, &text, &size, err);
    if (rc < 0) {
        return rc;
    }
    if (strlen(text) != size) {
        rc = err_fail(err, EINVAL, "%s: not a text: there is a zero byte in it", path);
    } else {
        rc = table_parse(path, text, ret, err);
    }
    free(text);
    return rc;
}

void table_free(struct table *table)
{
    if (table) {
        free(table->cells);
        free(table->lines);
        table->cells = NULL;
        table->lines = NULL;
        table->row_count = 0;
    }
}

int table_column(const struct table *table, const char *name)
{
    for (int i = 0; i < table->column_count; i++) {
        if (strcmp(table->columns[i], name) == 0) {
            return i;
        }
    }
    return -1;
}

const struct table_note *table_note(const struct table *table, const char *key)
{
    for (int i = 0; i < table->note_count; i++) {
        if (strcmp(table->notes[i].key, key) == 0) {
            return &table->notes[i];
        }
    }
    return NULL;
}

int table_note_number(const struct table *table, const char *key, double low, double high,
                      double *ret, struct err *err)
{
    const struct table_note *note = table_note(table, key);
    if (!note || parse_real(note->value, low, high, ret, err) == 0) {
        return 0;
    }
    err_prefix(err, "%s:%d: %s", table->name, note->line, key);
    return -EINVAL;
}
