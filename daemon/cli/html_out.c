/* SPDX-License-Identifier: Apache-2.0 */
#include "html_out.h"

#include "err.h"
#include "fileio.h"
#include "utf8.h"

#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define SVG_BYTES_MAX ((size_t)16 << 20)

/* Black on white in any light: it is meant for paper. Rules and weight carry what colour would. */
static const char style[] =
    ":root{color-scheme:light}"
    "*{box-sizing:border-box}"
    "body{margin:0 auto;padding:2rem 1.5rem 3rem;max-width:54rem;background:#fff;color:#111;"
    "font:1rem/1.45 Charter,'Bitstream Charter','Sitka Text',Cambria,'DejaVu Serif',serif}"
    "h1{font-size:1.9rem;line-height:1.15;margin:0 0 .3rem;font-weight:600}"
    "h2{font-size:1.15rem;margin:2.2rem 0 .6rem;padding-top:.35rem;border-top:2px solid #111}"
    "p{margin:.4rem 0;max-width:44rem}"
    "table,dl,figcaption,.note{font-family:system-ui,'Segoe UI',Roboto,'Noto Sans','DejaVu Sans',"
    "sans-serif;font-size:.86rem}"
    "table{border-collapse:collapse;margin:.6rem 0;font-variant-numeric:tabular-nums lining-nums}"
    "caption{text-align:left;font-weight:600;padding:.2rem 0}"
    "th,td{padding:.2rem .7rem .2rem 0;text-align:left;vertical-align:baseline}"
    "th{font-weight:600;border-bottom:1px solid #111;vertical-align:bottom}"
    "td{border-bottom:1px solid #ccc}"
    "th.n,td.n{text-align:right;padding:.2rem 0 .2rem .9rem}"
    "dl{display:grid;grid-template-columns:minmax(9rem,max-content) 1fr;margin:.6rem 0}"
    "dt,dd{margin:0;padding:.2rem 0;border-bottom:1px solid #ccc}"
    "dt{padding-right:1.2rem;color:#444}"
    "dd{font-variant-numeric:tabular-nums lining-nums}"
    "figure{margin:1rem 0}"
    "figure svg{display:block;width:100%;height:auto}"
    "figcaption{margin-top:.3rem;color:#333}"
    ".scroll{overflow-x:auto}"
    ".note{color:#333}"
    "@media print{"
    "body{max-width:none;padding:0;font-size:10pt}"
    "h2,caption{break-after:avoid}"
    "figure,tr,dt,dd{break-inside:avoid}"
    "thead{display:table-header-group}"
    ".scroll{overflow:visible}"
    "}"
    "@page{margin:14mm 15mm 16mm}";

static const char *entity(unsigned char letter)
{
    switch (letter) {
    case '&':
        return "&amp;";
    case '<':
        return "&lt;";
    case '>':
        return "&gt;";
    case '"':
        return "&quot;";
    case '\'':
        return "&#39;";
    default:
        return letter < ' ' || letter == 0x7F ? " " : NULL;
    }
}

void html_text(struct html *html, const char *text)
{
    while (*text) {
        const char *stand_in = entity((unsigned char)*text);
        const size_t length = utf8_sequence(text, SIZE_MAX);
        if (stand_in) {
            (void)fputs(stand_in, html->out);
        } else if (length == 0) {
            (void)fputs("\xEF\xBF\xBD", html->out);
        } else {
            (void)fwrite(text, 1, length, html->out);
        }
        text += length > 0 ? length : 1;
    }
}

static void say(struct html *html, const char *format, va_list args)
    __attribute__((format(printf, 2, 0)));

static void say(struct html *html, const char *format, va_list args)
{
    char *text = NULL;
    if (vasprintf(&text, format, args) >= 0) {
        html_text(html, text);
        free(text);
    }
}

void html_say(struct html *html, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    say(html, format, args);
    va_end(args);
}

void html_markup(struct html *html, const char *markup)
{
    (void)fputs(markup, html->out);
}

void html_begin(struct html *html, FILE *out, const char *title, const char *more_style)
{
    *html = (struct html){.out = out};
    html_markup(html, "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
                      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
                      "style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'\">\n"
                      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
                      "<title>");
    html_text(html, title);
    html_markup(html, "</title>\n<style>");
    html_markup(html, style);
    html_markup(html, more_style ? more_style : "");
    html_markup(html, "</style>\n</head>\n<body>\n");
}

void html_end(struct html *html)
{
    html_markup(html, "</body>\n</html>\n");
}

void html_element(struct html *html, const char *tag, const char *format, ...)
{
    va_list args;
    (void)fprintf(html->out, "<%s>", tag);
    va_start(args, format);
    say(html, format, args);
    va_end(args);
    (void)fprintf(html->out, "</%.*s>\n", (int)strcspn(tag, " "), tag);
}

/* A wide table scrolls by itself on a narrow screen; each column knows its side by its head. */
void html_table(struct html *html, const char *caption, int count, const char *const *heads)
{
    html_markup(html, "<div class=\"scroll\"><table>\n");
    if (caption) {
        html_element(html, "caption", "%s", caption);
    }
    html->number_columns = 0;
    html_markup(html, "<thead><tr>");
    for (int i = 0; i < count; i++) {
        const bool is_number = heads[i][0] == '>';
        html->number_columns |= (uint32_t)is_number << i;
        html_markup(html, is_number ? "<th class=\"n\" scope=\"col\">" : "<th scope=\"col\">");
        html_text(html, heads[i] + is_number);
        html_markup(html, "</th>");
    }
    html_markup(html, "</tr></thead>\n<tbody>\n");
}

void html_row(struct html *html, int count, const char *const *cells)
{
    html_markup(html, "<tr>");
    for (int i = 0; i < count; i++) {
        html_markup(html, html->number_columns >> i & 1 ? "<td class=\"n\">" : "<td>");
        html_text(html, cells[i] ? cells[i] : "");
        html_markup(html, "</td>");
    }
    html_markup(html, "</tr>\n");
}

void html_table_end(struct html *html)
{
    html_markup(html, "</tbody>\n</table></div>\n");
}

void html_facts(struct html *html)
{
    html_markup(html, "<dl>\n");
}

void html_fact(struct html *html, const char *name, const char *format, ...)
{
    va_list args;
    html_markup(html, "<dt>");
    html_text(html, name);
    html_markup(html, "</dt><dd>");
    va_start(args, format);
    say(html, format, args);
    va_end(args);
    html_markup(html, "</dd>\n");
}

void html_facts_end(struct html *html)
{
    html_markup(html, "</dl>\n");
}

/* Between a tag's < and its > stands id='…', id="…", xlink:href='#…' or url(#…): each name gets the
 * number of the figure, so that two pictures on one page do not find each other's parts. */
static void put_apart(struct html *html, const char *svg)
{
    static const char *const starts[] = {" id='", " id=\"", "href='#", "href=\"#", "url(#"};
    bool is_inside = false;
    while (*svg) {
        size_t length = 1;
        is_inside = *svg == '<' || (is_inside && *svg != '>');
        for (size_t i = 0; is_inside && i < sizeof starts / sizeof starts[0]; i++) {
            if (strncmp(svg, starts[i], strlen(starts[i])) == 0) {
                length = strlen(starts[i]);
            }
        }
        (void)fwrite(svg, 1, length, html->out);
        if (length > 1) {
            (void)fprintf(html->out, "f%d-", html->figures);
        }
        svg += length;
    }
}

/* The svg element alone, named by what it shows instead of by the program that drew it. */
static int put_svg(struct html *html, const char *what, const char *svg, struct err *err)
{
    const char *start = strstr(svg, "<svg");
    const char *inside = start ? strchr(start, '>') : NULL;
    const char *body = inside ? strstr(inside, "</desc>") : NULL;
    const char *end = inside ? strstr(inside, "</svg>") : NULL;
    if (!end) {
        return err_fail(err, EINVAL, "the picture is no SVG");
    }
    html_markup(html, "<svg role=\"img\" aria-label=\"");
    html_text(html, what);
    (void)fprintf(html->out, "\"%.*s>", (int)(inside - start - 4), start + 4);
    put_apart(html, body ? body + strlen("</desc>") : inside + 1);
    return 0;
}

static int draw_svg(html_draw_fn draw, const void *context, char **ret, struct err *err)
{
    char path[] = "/tmp/lampwarden-figure-XXXXXX.svg";
    const int fd = mkostemps(path, 4, O_CLOEXEC);
    if (fd < 0) {
        return err_fail(err, errno, "a file for a picture: %s", err_name(errno));
    }
    (void)close(fd);
    int rc = draw(context, path, err);
    if (rc == 0) {
        rc = fileio_read(path, SVG_BYTES_MAX, ret, NULL, err);
    }
    (void)unlink(path);
    return rc;
}

int html_figure(struct html *html, const char *what, const char *caption, html_draw_fn draw,
                const void *context)
{
    struct err err;
    char *svg = NULL;
    html->figures++;
    html_markup(html, "<figure>\n");
    int rc = draw_svg(draw, context, &svg, &err);
    if (svg) {
        rc = put_svg(html, what, svg, &err);
    }
    if (rc < 0) {
        html_element(html, "p class=\"note\"", "No picture: %s.", err.text);
    }
    html_element(html, "figcaption", "%s", caption);
    html_markup(html, "</figure>\n");
    free(svg);
    return rc;
}

int html_write(const char *path, int (*fill)(FILE *out, const void *context, struct err *err),
               const void *context, struct err *err)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) {
        return err_fail(err, ENOMEM, "no memory for the page");
    }
    int rc = fill(out, context, err);
    const bool is_whole = !ferror(out);
    if ((fclose(out) != 0 || !is_whole) && rc == 0) {
        rc = err_fail(err, ENOMEM, "no memory for the page");
    }
    if (rc == 0 && strcmp(path, "-") == 0) {
        rc = fwrite(text, 1, size, stdout) == size
                 ? 0
                 : err_fail(err, EIO, "the page could not be written");
    } else if (rc == 0) {
        rc = fileio_put(path, text, size, err);
    }
    free(text);
    return rc;
}
