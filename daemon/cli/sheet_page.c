/* SPDX-License-Identifier: Apache-2.0 */
#include "sheet_page.h"

#include "parse.h"
#include "utf8.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

#define LINE_MOST  1024
#define NAME_WIDTH 22

/* To a width of characters, not bytes. */
static void put_wide(FILE *out, const char *text, int width, bool is_right)
{
    const int gap = width - utf8_columns(text, strlen(text));
    (void)fprintf(out, "%*s%s%*s", is_right && gap > 0 ? gap : 0, "", text,
                  !is_right && gap > 0 ? gap : 0, "");
}

static void put_line(struct sheet_page *page, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Strangers' texts are in it: no control characters reach the terminal. */
static void put_line(struct sheet_page *page, const char *format, ...)
{
    char text[LINE_MOST];
    char clean[LINE_MOST];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    parse_quote(text, clean, sizeof clean);
    (void)fprintf(page->text, "%s\n", clean);
}

void sheet_page_begin(struct sheet_page *page, FILE *out, bool is_html, const char *title,
                      const char *more_style)
{
    page->is_html = is_html;
    if (is_html) {
        html_begin(&page->html, out, title, more_style);
    } else {
        page->text = wrap_begin(&page->wrap, out);
    }
}

void sheet_page_end(struct sheet_page *page)
{
    if (page->is_html) {
        html_end(&page->html);
    } else {
        wrap_end(&page->wrap, WRAP_BY_COLUMN);
    }
}

void sheet_page_head(struct sheet_page *page, const char *kind, const char *name, const char *place)
{
    if (!page->is_html) {
        put_line(page, "%s: %s%s%s", kind, name, place[0] ? ", " : "", place);
        return;
    }
    html_markup(&page->html, "<header>\n");
    html_element(&page->html, "p class=\"kind\"", "%s", kind);
    html_element(&page->html, "h1", "%s", name);
    html_element(&page->html, "p class=\"place\"", "%s", place);
    html_markup(&page->html, "</header>\n");
}

void sheet_page_heading(struct sheet_page *page, const char *text)
{
    if (page->is_html) {
        html_element(&page->html, "h2", "%s", text);
    } else {
        (void)fputc('\n', page->text);
        put_line(page, "%s", text);
    }
}

void sheet_page_say(struct sheet_page *page, const char *format, ...)
{
    char text[LINE_MOST];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (page->is_html) {
        html_element(&page->html, "p", "%s", text);
    } else {
        put_line(page, "  %s", text);
    }
}

void sheet_page_facts(struct sheet_page *page)
{
    if (page->is_html) {
        html_facts(&page->html);
    }
}

void sheet_page_fact(struct sheet_page *page, const char *name, const char *format, ...)
{
    char text[LINE_MOST];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (page->is_html) {
        html_fact(&page->html, name, "%s", text);
    } else {
        const int gap = NAME_WIDTH - utf8_columns(name, strlen(name));
        put_line(page, "  %s%*s  %s", name, gap > 0 ? gap : 0, "", text);
    }
}

void sheet_page_facts_end(struct sheet_page *page)
{
    if (page->is_html) {
        html_facts_end(&page->html);
    }
}

void sheet_page_list(struct sheet_page *page)
{
    if (page->is_html) {
        html_markup(&page->html, "<ul>\n");
    }
}

void sheet_page_item(struct sheet_page *page, const char *text)
{
    if (page->is_html) {
        html_element(&page->html, "li", "%s", text);
    } else {
        put_line(page, "  -  %s", text);
    }
}

void sheet_page_list_end(struct sheet_page *page)
{
    if (page->is_html) {
        html_markup(&page->html, "</ul>\n");
    }
}

void sheet_page_table(struct sheet_page *page, const char *caption, int count,
                      const char *const *heads)
{
    page->column_count = count;
    page->row_count = 0;
    if (page->is_html) {
        html_table(&page->html, caption, count, heads);
        return;
    }
    put_line(page, "  %s:", caption);
    sheet_page_row(page, heads);
}

void sheet_page_row(struct sheet_page *page, const char *const *cells)
{
    if (page->is_html) {
        html_row(&page->html, page->column_count, cells);
        return;
    }
    for (int i = 0; page->row_count <= SHEET_PAGE_ROWS && i < page->column_count; i++) {
        parse_quote(cells[i] ? cells[i] : "", page->cells[page->row_count][i], SHEET_PAGE_CELL);
    }
    page->row_count += page->row_count <= SHEET_PAGE_ROWS;
}

static int width_of(const struct sheet_page *page, int column)
{
    int width = 0;
    for (int row = 0; row < page->row_count; row++) {
        const char *cell = page->cells[row][column];
        const int columns = utf8_columns(cell, strlen(cell)) - (row == 0 && cell[0] == '>');
        width = columns > width ? columns : width;
    }
    return width;
}

void sheet_page_table_end(struct sheet_page *page)
{
    if (page->is_html) {
        html_table_end(&page->html);
        return;
    }
    for (int row = 0; row < page->row_count; row++) {
        (void)fputs("   ", page->text);
        for (int i = 0; i < page->column_count; i++) {
            const bool is_right = page->cells[0][i][0] == '>';
            const char *cell = page->cells[row][i] + (row == 0 && is_right);
            const bool is_last = i + 1 == page->column_count && !is_right;
            (void)fputs("  ", page->text);
            put_wide(page->text, cell, is_last ? 0 : width_of(page, i), is_right);
        }
        (void)fputc('\n', page->text);
    }
}

void sheet_page_figure(struct sheet_page *page, const char *what, const char *caption,
                       html_draw_fn draw, const void *context)
{
    if (page->is_html) {
        (void)html_figure(&page->html, what, caption, draw, context); /* the page says why not */
    }
}

void sheet_page_pair(struct sheet_page *page)
{
    if (page->is_html) {
        html_markup(&page->html, "<div class=\"pair\">\n");
    }
}

void sheet_page_pair_end(struct sheet_page *page)
{
    if (page->is_html) {
        html_markup(&page->html, "</div>\n");
    }
}

void sheet_page_whole(struct sheet_page *page, const char *heading)
{
    if (page->is_html) {
        html_markup(&page->html, "<div class=\"whole\">\n");
    }
    sheet_page_heading(page, heading);
}

void sheet_page_whole_end(struct sheet_page *page)
{
    if (page->is_html) {
        html_markup(&page->html, "</div>\n");
    }
}

void sheet_page_signature(struct sheet_page *page, const char *role)
{
    if (!page->is_html) {
        (void)fprintf(page->text, "\n  %-34s ______________________  date __________\n", role);
        return;
    }
    html_markup(&page->html, "<div class=\"sign\"><span>");
    html_text(&page->html, role);
    html_markup(&page->html, "</span><span>name, signature</span><span>date</span></div>\n");
}
