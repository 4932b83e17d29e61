/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A page in one file: no script, no font and no picture from elsewhere, so it works offline and for
 * as long as there are browsers; on A4 and on letter paper, and without colour. Its own policy
 * forbids scripts and the network even if an escape were wrong.
 *
 * Every text is escaped here: callers hand over texts, and markup only where the name says so.
 * Nothing that changes by itself (time, temporary names) gets into a page.
 */
#ifndef LAMPWARDEN_HTML_OUT_H
#define LAMPWARDEN_HTML_OUT_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

struct err;

struct html {
    FILE *out;               /* its errors are the caller's to look for, at the end */
    int figures;             /* so far; keeps the names inside of the pictures apart */
    uint32_t number_columns; /* of the open table, a bit each */
};

/* Head, style and the beginning of the body. more_style: CSS of the caller behind the common one,
 * which must be constant text; NULL: none. */
void html_begin(struct html *html, FILE *out, const char *title, const char *more_style);
void html_end(struct html *html);

/* Markup as it is: constant text of the program. */
void html_markup(struct html *html, const char *markup);

/* A text, escaped for content and for quoted attributes. Control characters become spaces, what is
 * no UTF-8 becomes U+FFFD. */
void html_text(struct html *html, const char *text);
void html_say(struct html *html, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* <tag>the text, escaped</tag>; tag may carry attributes: "p class=\"note\"". */
void html_element(struct html *html, const char *tag, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* A table of at most 32 columns. heads[count]: one that begins with '>' heads a column of numbers,
 * set to the right; '>' is not shown. caption NULL: none. Row by row, cells[count]; NULL is an
 * empty cell. */
void html_table(struct html *html, const char *caption, int count, const char *const *heads);
void html_row(struct html *html, int count, const char *const *cells);
void html_table_end(struct html *html);

/* A list of facts: name and value side by side, as on a data sheet. */
void html_facts(struct html *html);
void html_fact(struct html *html, const char *name, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void html_facts_end(struct html *html);

/* Draws into the .svg file of that name: the function behind a verb's --plot. */
typedef int (*html_draw_fn)(const void *context, const char *path, struct err *err);

/* A picture as part of the page, its caption below; `what` describes it to who cannot see it. When
 * it cannot be drawn the page says why in its place, and the return value tells it. */
int html_figure(struct html *html, const char *what, const char *caption, html_draw_fn draw,
                const void *context);

/* Writes the page of `fill` into the file of that name, or to standard output for "-": whole, or
 * not at all. fill returns 0 or a negative errno with *err. */
int html_write(const char *path, int (*fill)(FILE *out, const void *context, struct err *err),
               const void *context, struct err *err);

#endif
