/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One account of a thing, written as text for a terminal or as a page for a printer: whoever writes
 * it says headings, facts, tables and lists, and does not ask which of both it becomes. Pictures
 * are in the page alone.
 */
#ifndef LAMPWARDEN_SHEET_PAGE_H
#define LAMPWARDEN_SHEET_PAGE_H

#include "html_out.h"
#include "wrap.h"

#define SHEET_PAGE_COLUMNS 8
#define SHEET_PAGE_ROWS    40
#define SHEET_PAGE_CELL    40

struct sheet_page {
    bool is_html;
    struct html html;
    struct wrap wrap;
    FILE *text;
    int column_count, row_count; /* of the open table, of text; row 0 has the heads */
    char cells[SHEET_PAGE_ROWS + 1][SHEET_PAGE_COLUMNS][SHEET_PAGE_CELL];
};

void sheet_page_begin(struct sheet_page *page, FILE *out, bool is_html, const char *title,
                      const char *more_style);
void sheet_page_end(struct sheet_page *page);

void sheet_page_head(struct sheet_page *page, const char *kind, const char *name,
                     const char *place);
void sheet_page_heading(struct sheet_page *page, const char *text);
void sheet_page_say(struct sheet_page *page, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Between begin and end of facts; the name at most 22 characters wide in text. */
void sheet_page_facts(struct sheet_page *page);
void sheet_page_fact(struct sheet_page *page, const char *name, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void sheet_page_facts_end(struct sheet_page *page);

void sheet_page_list(struct sheet_page *page);
void sheet_page_item(struct sheet_page *page, const char *text);
void sheet_page_list_end(struct sheet_page *page);

/* heads as of html_table; at most SHEET_PAGE_COLUMNS. Rows beyond SHEET_PAGE_ROWS are left out. */
void sheet_page_table(struct sheet_page *page, const char *caption, int count,
                      const char *const *heads);
void sheet_page_row(struct sheet_page *page, const char *const *cells);
void sheet_page_table_end(struct sheet_page *page);

void sheet_page_figure(struct sheet_page *page, const char *what, const char *caption,
                       html_draw_fn draw, const void *context);

/* Two things side by side where the page is wide enough. */
void sheet_page_pair(struct sheet_page *page);
void sheet_page_pair_end(struct sheet_page *page);

/* A heading with what belongs to it, never broken over two pages. */
void sheet_page_whole(struct sheet_page *page, const char *heading);
void sheet_page_whole_end(struct sheet_page *page);

/* A line to sign on. */
void sheet_page_signature(struct sheet_page *page, const char *role);

#endif
