/* SPDX-License-Identifier: Apache-2.0 */
/* Pages of one file: strange texts stay texts, pictures are drawn into the page. */
#include "html_out.h"

#include "err.h"
#include "fileio.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static char *page;
static size_t page_size;
static struct html html;

static int open_page(void **state)
{
    (void)state;
    FILE *out = open_memstream(&page, &page_size);
    html = (struct html){.out = out};
    return out ? 0 : -1;
}

static int free_page(void **state)
{
    (void)state;
    free(page);
    return 0;
}

static void assert_page(const char *wanted)
{
    assert_int_equal(fclose(html.out), 0);
    assert_string_equal(page, wanted);
}

static void assert_has(const char *part)
{
    if (!strstr(page, part)) {
        fail_msg("no \"%s\" in: %s", part, page);
    }
}

/* The five characters that HTML's own rules for text and quoted attributes name (WHATWG HTML,
 * "Escaping a string"), with the apostrophe as its numeric reference. */
static void texts_are_escaped(void **state)
{
    (void)state;
    html_text(&html, "<b class=\"x\" id='y'>A & B</b>");
    assert_page("&lt;b class=&quot;x&quot; id=&#39;y&#39;&gt;A &amp; B&lt;/b&gt;");
}

static void control_characters_are_spaces(void **state)
{
    (void)state;
    html_text(&html, "a\tb\nc\x1b[0m\x7f"
                     "d");
    assert_page("a b c [0m d");
}

/* Sound sequences of two, three and four bytes stay; overlong ones, surrogates, what lies beyond
 * U+10FFFF and stray bytes do not (RFC 3629, section 3 and 4). */
static void what_is_no_utf8_is_replaced(void **state)
{
    (void)state;
    html_text(&html, "µ … 🌱|\xC0\xAF|\xED\xA0\x80|\xF4\x90\x80\x80|\x80|\xE2\x80");
    assert_page("µ … 🌱|\xEF\xBF\xBD\xEF\xBF\xBD|\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD|"
                "\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD|\xEF\xBF\xBD|"
                "\xEF\xBF\xBD\xEF\xBF\xBD");
}

static void elements_close_without_their_attributes(void **state)
{
    (void)state;
    html_element(&html, "p class=\"note\"", "%d < %d", 1, 2);
    assert_page("<p class=\"note\">1 &lt; 2</p>\n");
}

static void a_column_of_numbers_is_set_to_the_right(void **state)
{
    (void)state;
    html_table(&html, NULL, 2, (const char *const[]){"drive", ">PPFD, µmol"});
    html_row(&html, 2, (const char *const[]){"0.5 & more", NULL});
    html_table_end(&html);
    assert_int_equal(fflush(html.out), 0);
    assert_has("<th scope=\"col\">drive</th><th class=\"n\" scope=\"col\">PPFD, µmol</th>");
    assert_has("<tr><td>0.5 &amp; more</td><td class=\"n\"></td></tr>\n</tbody>");
    assert_int_equal(fclose(html.out), 0);
}

/* No script, and nothing from elsewhere: the page's own policy says so too. */
static void a_page_stands_alone(void **state)
{
    (void)state;
    FILE *out = html.out;
    html_begin(&html, out, "</title><script>", ".mine{color:#000}");
    html_end(&html);
    assert_int_equal(fclose(out), 0);
    assert_has("<!DOCTYPE html>\n<html lang=\"en\">");
    assert_has("<title>&lt;/title&gt;&lt;script&gt;</title>");
    assert_has("content=\"default-src 'none'; style-src 'unsafe-inline'");
    assert_has(".mine{color:#000}</style>");
    assert_null(strstr(page, "<script"));
    assert_null(strstr(page, "http://"));
    assert_null(strstr(page, "https://"));
    assert_null(strstr(page, "url("));
}

static int draw(const void *context, const char *path, struct err *err)
{
    const char *svg = context;
    assert_string_equal(path + strlen(path) - 4, ".svg");
    return svg ? fileio_replace(path, svg, strlen(svg), 0600, err)
               : err_fail(err, ENOENT, "gnuplot is not installed");
}

static void pictures_do_not_share_names(void **state)
{
    (void)state;
    static const char svg[] =
        "<?xml version=\"1.0\"?>\n<svg \n width=\"4\" viewBox=\"0 0 4 "
        "3\"\n>\n<title>Maker</title>\n"
        "<desc>Made by</desc>\n<path id='dot'/><g id=\"part\" clip-path=\"url(#dot)\">"
        "<use xlink:href='#dot'/><text> id='t' &lt;</text></g></svg>\n";
    assert_int_equal(html_figure(&html, "light \"A\"", "One", draw, svg), 0);
    assert_int_equal(html_figure(&html, "heat", "Two", draw, svg), 0);
    assert_int_equal(fclose(html.out), 0);
    assert_has("<figure>\n<svg role=\"img\" aria-label=\"light &quot;A&quot;\" \n width=\"4\" "
               "viewBox=\"0 0 4 3\"\n>\n<path id='f1-dot'/><g id=\"f1-part\" "
               "clip-path=\"url(#f1-dot)\"><use xlink:href='#f1-dot'/><text> id='t' &lt;</text>");
    assert_has("<use xlink:href='#f2-dot'/>");
    assert_has("<figcaption>Two</figcaption>\n</figure>\n");
    assert_null(strstr(page, "Maker"));
    assert_null(strstr(page, "<?xml"));
    assert_null(strstr(page, "/tmp"));
}

static void a_missing_picture_is_said(void **state)
{
    (void)state;
    assert_int_equal(html_figure(&html, "light", "One", draw, NULL), -ENOENT);
    assert_int_equal(html_figure(&html, "light", "Two", draw, "<html></html>"), -EINVAL);
    assert_int_equal(fclose(html.out), 0);
    assert_has("<p class=\"note\">No picture: gnuplot is not installed.</p>\n"
               "<figcaption>One</figcaption>");
    assert_has("No picture: the picture is no SVG.");
}

static int fill(FILE *out, const void *context, struct err *err)
{
    (void)fputs("half a page", out);
    return context ? 0 : err_fail(err, EIO, "the other half is lost");
}

static void a_page_is_written_whole_or_not_at_all(void **state)
{
    (void)state;
    char path[] = "/tmp/lampwarden-test-XXXXXX";
    struct err err;
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    assert_int_equal(write(fd, "old", 3), 3);
    assert_int_equal(close(fd), 0);
    assert_int_equal(html_write(path, fill, NULL, &err), -EIO);
    char *text = NULL;
    assert_int_equal(fileio_read(path, 100, &text, NULL, &err), 0);
    assert_string_equal(text, "old");
    free(text);
    assert_int_equal(html_write(path, fill, "", &err), 0);
    assert_int_equal(fileio_read(path, 100, &text, NULL, &err), 0);
    assert_string_equal(text, "half a page");
    free(text);
    assert_int_equal(unlink(path), 0);
    assert_int_equal(fclose(html.out), 0);
}

#define PAGE_TEST(name) cmocka_unit_test_setup_teardown(name, open_page, free_page)

int main(void)
{
    const struct CMUnitTest tests[] = {
        PAGE_TEST(texts_are_escaped),
        PAGE_TEST(control_characters_are_spaces),
        PAGE_TEST(what_is_no_utf8_is_replaced),
        PAGE_TEST(elements_close_without_their_attributes),
        PAGE_TEST(a_column_of_numbers_is_set_to_the_right),
        PAGE_TEST(a_page_stands_alone),
        PAGE_TEST(pictures_do_not_share_names),
        PAGE_TEST(a_missing_picture_is_said),
        PAGE_TEST(a_page_is_written_whole_or_not_at_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
