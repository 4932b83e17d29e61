/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The mol account as bars, from the target down to what was delivered: each loss is a bar of its
 * own where the one before it ended. Names and figures stand beside the bars, hatches tell them
 * apart without colour. Drawn here, so that it is there without gnuplot.
 */
#include "day_parts.h"

#include "units.h"

#include <inttypes.h>

enum { WIDTH = 760, NAMES = 250, FIGURES = 84, ROW = 23, BAR = 15, TOP = 6 };

/* The scale: mol to pixels. */
struct scale {
    struct html *html;
    double px_per_hundredth;
    int row;
};

static void put_hundredths(int64_t hundredths, char *buffer, size_t size)
{
    (void)snprintf(buffer, size, "%s%" PRId64 ".%02d", hundredths < 0 ? "−" : "",
                   (hundredths < 0 ? -hundredths : hundredths) / 100,
                   (int)((hundredths < 0 ? -hundredths : hundredths) % 100));
}

static void put_text(const struct scale *scale, double x, const char *anchor, const char *text)
{
    const double y = TOP + scale->row * ROW + 13;
    (void)fprintf(scale->html->out, "<text x=\"%.1f\" y=\"%.1f\" text-anchor=\"%s\">", x, y,
                  anchor);
    html_text(scale->html, text);
    html_markup(scale->html, "</text>\n");
}

static void put_bar(const struct scale *scale, int64_t from, int64_t to, const char *fill)
{
    const double x = NAMES + (double)from * scale->px_per_hundredth;
    const double width = (double)(to - from) * scale->px_per_hundredth;
    (void)fprintf(scale->html->out,
                  "<rect x=\"%.2f\" y=\"%d\" width=\"%.2f\" height=\"%d\" fill=\"%s\" "
                  "stroke=\"#222\" stroke-width=\"0.8\"/>\n",
                  x, TOP + scale->row * ROW, width > 0.6 ? width : 0.6, BAR, fill);
}

/* From the end of the bar above to this one, so that the eye steps down. */
static void put_step(const struct scale *scale, int64_t at)
{
    const double x = NAMES + (double)at * scale->px_per_hundredth;
    (void)fprintf(scale->html->out,
                  "<line x1=\"%.2f\" x2=\"%.2f\" y1=\"%d\" y2=\"%d\" stroke=\"#222\" "
                  "stroke-width=\"0.8\" stroke-dasharray=\"2 2\"/>\n",
                  x, x, TOP + scale->row * ROW - (ROW - BAR), TOP + scale->row * ROW);
}

static void put_row(struct scale *scale, const char *words, int64_t figure)
{
    char text[32];
    put_hundredths(figure, text, sizeof text);
    put_text(scale, NAMES - 10, "end", words);
    put_text(scale, WIDTH - 4, "end", text);
    scale->row++;
}

static void put_patterns(struct html *html)
{
    (void)fprintf(html->out,
                  "<defs><pattern id=\"a%d-loss\" width=\"6\" height=\"6\" "
                  "patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect "
                  "width=\"6\" height=\"6\" fill=\"#f6d9c9\"/><line x1=\"0\" y1=\"0\" x2=\"0\" "
                  "y2=\"6\" stroke=\"#a83200\" stroke-width=\"2.6\"/></pattern><pattern "
                  "id=\"a%d-come\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\"><rect "
                  "width=\"6\" height=\"6\" fill=\"#fff\"/><circle cx=\"3\" cy=\"3\" r=\"1\" "
                  "fill=\"#222\"/></pattern></defs>\n",
                  html->figures, html->figures);
}

/* The losses, one below the other from the right to the left. */
static void draw_losses(struct scale *scale, const struct report_lines *account)
{
    int64_t at = account->target;
    char fill[32];
    (void)snprintf(fill, sizeof fill, "url(#a%d-loss)", scale->html->figures);
    for (int i = 0; i < account->count; i++) {
        const struct report_line *line = &account->lines[i];
        if (line->part == REPORT_MISSING && line->hundredths > 0) {
            put_step(scale, at);
            put_bar(scale, at - line->hundredths, at, fill);
            put_row(scale, line->words, -line->hundredths);
            at -= line->hundredths;
        }
    }
}

/* What was given, each part where the one before it ended. */
static void draw_given(struct scale *scale, const struct report_lines *account)
{
    char come[32];
    int64_t at = 0;
    (void)snprintf(come, sizeof come, "url(#a%d-come)", scale->html->figures);
    const char *const fills[] = {
        [REPORT_LAMPS] = "#4a678f", [REPORT_DAYLIGHT] = "#f4cf73", [REPORT_TO_COME] = come};
    for (int i = 0; i < account->count && account->lines[i].part != REPORT_MISSING; i++) {
        const struct report_line *line = &account->lines[i];
        if (at > 0) {
            put_step(scale, at);
        }
        if (line->hundredths > 0) {
            put_bar(scale, at, at + line->hundredths, fills[line->part]);
        }
        put_row(scale, line->words, line->hundredths);
        at += line->hundredths;
    }
}

static void draw(struct scale *scale, const struct report_lines *account)
{
    const double x = NAMES + (double)account->target * scale->px_per_hundredth;
    put_patterns(scale->html);
    put_bar(scale, 0, account->target, "#fff");
    put_row(scale, "target", account->target);
    draw_losses(scale, account);
    draw_given(scale, account);
    (void)fprintf(scale->html->out,
                  "<line x1=\"%.2f\" x2=\"%.2f\" y1=\"%d\" y2=\"%d\" stroke=\"#111\" "
                  "stroke-width=\"1.6\"/>\n",
                  x, x, TOP - 4, TOP + scale->row * ROW - 4);
}

/* The same in words, for who cannot see it. */
static void put_label(struct html *html, const struct report_lines *account)
{
    char figure[32];
    put_hundredths(account->target, figure, sizeof figure);
    html_say(html, "Mol account in mol m⁻²: target %s", figure);
    for (int pass = 0; pass < 2; pass++) { /* the losses first, as they are drawn */
        for (int i = 0; i < account->count; i++) {
            const struct report_line *line = &account->lines[i];
            if ((line->part == REPORT_MISSING) == (pass == 0)) {
                put_hundredths(pass == 0 ? -line->hundredths : line->hundredths, figure,
                               sizeof figure);
                html_say(html, ", %s %s", line->words, figure);
            }
        }
    }
}

void day_account(struct html *html, const struct report *report)
{
    struct report_lines account;
    report_lines(report, &account);
    const int64_t most = account.together > account.target ? account.together : account.target;
    if (!account.adds_up || most <= 0 || account.target < 0) {
        html_element(html, "p class=\"note\"", "%s",
                     account.adds_up ? "No light was asked for and none fell."
                                     : "The account does not add up: the record of this day is "
                                       "damaged.");
        return;
    }
    const int rows = 1 + account.count;
    struct scale scale = {.html = html,
                          .px_per_hundredth = (double)(WIDTH - NAMES - FIGURES) / (double)most};
    html->figures++;
    html_markup(html, "<figure class=\"account\"><svg role=\"img\" aria-label=\"");
    put_label(html, &account);
    (void)fprintf(html->out,
                  "\" viewBox=\"0 0 %d %d\" font-family=\"sans-serif\" font-size=\"13\" "
                  "fill=\"#111\">\n",
                  (int)WIDTH, TOP + rows * ROW);
    draw(&scale, &account);
    html_markup(html, "</svg>\n");
    html_element(
        html, "figcaption",
        "From the target to what was delivered, mol m⁻²; the upright line is the target.%s",
        account.surplus > 0 ? " What reaches beyond it is surplus." : "");
    html_markup(html, "</figure>\n");
}
