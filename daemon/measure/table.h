/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A table of numbers as people keep it: a CSV file with notes ("# height_cm: 45") above a line of
 * column names and rows of numbers. Commas between the cells, a point in the numbers, an empty cell
 * is unknown. Blank lines and line ends of any system are fine; a sign of order at the file's
 * beginning is skipped.
 */
#ifndef LAMPWARDEN_TABLE_H
#define LAMPWARDEN_TABLE_H

#include <stdbool.h>
#include <stddef.h>

#define TABLE_COLUMNS_MAX 16
#define TABLE_NOTES_MAX   32
#define TABLE_ROWS_MAX    4000000
#define TABLE_WORD_MAX    32

struct err;

struct table_note {
    char key[TABLE_WORD_MAX];
    char value[96];
    int line;
};

/* Made by table_read, freed by table_free; zeroed before. */
struct table {
    char name[128]; /* of the file, for messages */
    int note_count;
    struct table_note notes[TABLE_NOTES_MAX];
    int column_count, columns_line;
    char columns[TABLE_COLUMNS_MAX][TABLE_WORD_MAX];
    size_t row_count;
    double *cells; /* row_count × column_count; NaN: empty */
    int *lines;    /* of each row */
};

/* -EINVAL with "FILE:LINE: what is wrong"; -ENOENT, -EACCES, -EFBIG, -ENOMEM as of files. */
int table_read(const char *path, struct table *ret, struct err *err);

/* From memory; the text is taken apart. */
int table_parse(const char *name, char *text, struct table *ret, struct err *err);

void table_free(struct table *table); /* NULL and zeroed are fine */

int table_column(const struct table *table, const char *name);                   /* −1: none */
const struct table_note *table_note(const struct table *table, const char *key); /* NULL: none */

static inline double table_cell(const struct table *table, size_t row, int column)
{
    return table->cells[row * (size_t)table->column_count + (size_t)column];
}

/* A number of a note, low … high; *ret stays when there is no such note. 0 or -EINVAL with the
 * place. */
int table_note_number(const struct table *table, const char *key, double low, double high,
                      double *ret, struct err *err);

#endif
