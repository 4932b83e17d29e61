/* SPDX-License-Identifier: Apache-2.0 */
#include "page_html.h"

#include "parse.h"
#include "words.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

void page_html_text(const char *text, FILE *out)
{
    for (const char *at = text; *at; at++) {
        switch (*at) {
        case '&':
            (void)fputs("&amp;", out);
            break;
        case '<':
            (void)fputs("&lt;", out);
            break;
        case '>':
            (void)fputs("&gt;", out);
            break;
        case '"':
            (void)fputs("&quot;", out);
            break;
        case '\'':
            (void)fputs("&#39;", out);
            break;
        default:
            (void)fputc((unsigned char)*at < ' ' || *at == 127 ? ' ' : *at, out);
        }
    }
}

static const char *text_of(const json_t *object, const char *key)
{
    const char *text = json_string_value(json_object_get(object, key));
    return text ? text : "";
}

static void element(const char *open, const char *text, const char *close, FILE *out)
{
    (void)fputs(open, out);
    page_html_text(text, out);
    (void)fputs(close, out);
}

static void line(const char *text, FILE *out)
{
    element("<p class=\"line\">", text, "</p>\n", out);
}

static void put_light(const json_t *space, FILE *out)
{
    char text[160];
    const json_t *target = json_object_get(space, "target_mol");
    const json_t *forecast = json_object_get(space, "forecast_mol");
    if (!json_is_number(target)) {
        return;
    }
    const int used = snprintf(text, sizeof text, "Light today: %.1f of %.1f mol per m²",
                              json_number_value(json_object_get(space, "delivered_mol")),
                              json_number_value(target));
    if (json_is_number(forecast) && used > 0 && (size_t)used < sizeof text) {
        (void)snprintf(text + used, sizeof text - (size_t)used, ", %.1f expected by the end",
                       json_number_value(forecast));
    }
    line(text, out);
}

static void put_level(const json_t *space, FILE *out)
{
    char text[200];
    const json_t *level = json_object_get(space, "level");
    if (json_is_number(level)) {
        (void)snprintf(text, sizeof text, "Lamps at %.0f %%: %s", 100 * json_number_value(level),
                       text_of(space, "limiter_words"));
        line(text, out);
    }
}

/* Nothing where the number is not known. */
static void put_number(const char *name, const json_t *value, const char *unit, FILE *out)
{
    char text[128];
    if (json_is_number(value)) {
        (void)snprintf(text, sizeof text, "%s: %.1f %s", name, json_number_value(value), unit);
        line(text, out);
    }
}

static void put_change(const char *name, const json_t *seconds, FILE *out)
{
    char length[32];
    char text[64];
    if (json_number_value(seconds) > 0) {
        parse_format_duration(json_number_value(seconds), length, sizeof length);
        (void)snprintf(text, sizeof text, "%s in %s", name, length);
        line(text, out);
    }
}

static void put_items(const json_t *faults, FILE *out)
{
    size_t i = 0;
    const json_t *fault = NULL;
    json_array_foreach(faults, i, fault)
    {
        const char *text = json_string_value(fault);
        element("<li>", text ? text : "", "</li>\n", out);
    }
}

/* Of the daemon and of every space. */
static void put_alarms(const json_t *status, FILE *out)
{
    const json_t *spaces = json_object_get(status, "spaces");
    size_t count = json_array_size(json_object_get(status, "faults"));
    for (size_t i = 0; i < json_array_size(spaces); i++) {
        count += json_array_size(json_object_get(json_array_get(spaces, i), "faults"));
    }
    if (count == 0) {
        (void)fputs("<p class=\"calm\">No alarms</p>\n", out);
        return;
    }
    (void)fputs("<ul class=\"alarms\">\n", out);
    put_items(json_object_get(status, "faults"), out);
    for (size_t i = 0; i < json_array_size(spaces); i++) {
        put_items(json_object_get(json_array_get(spaces, i), "faults"), out);
    }
    (void)fputs("</ul>\n", out);
}

static void put_space(const json_t *space, FILE *out)
{
    const json_t *fixtures = json_object_get(space, "fixtures");
    element("<article class=\"strip\"><h2>", text_of(space, "space"), "</h2>\n", out);
    element("<p class=\"state\">", text_of(space, "state"), "</p>\n", out);
    put_light(space, out);
    put_level(space, out);
    put_number("PPFD", json_object_get(space, "ppfd_umol"), "µmol/m²/s", out);
    put_change("Lights on", json_object_get(space, "until_on_s"), out);
    put_change("Lights off", json_object_get(space, "until_off_s"), out);
    put_number("Air", json_object_get(space, "air_c"), "°C", out);
    for (size_t i = 0; i < json_array_size(fixtures); i++) {
        const json_t *fixture = json_array_get(fixtures, i);
        char name[80];
        (void)snprintf(name, sizeof name, "Heatsink of %s", text_of(fixture, "fixture"));
        put_number(name, json_object_get(fixture, "heat_c"), "°C", out);
    }
    (void)fputs("</article>\n", out);
}

/* "2026-11-02T12:00:00+01:00" as "2026-11-02 12:00:00 (UTC+01:00)"; another text as it is. */
static void put_moment(const char *time, FILE *out)
{
    char text[64];
    if (strlen(time) == 25 && time[10] == 'T') {
        (void)snprintf(text, sizeof text, "%.10s %.8s (UTC%s)", time, time + 11, time + 19);
        time = text;
    }
    element("<p class=\"moment\">", time, "", out);
}

static void put_summary(const json_t *status, FILE *out)
{
    const json_t *spaces = json_object_get(status, "spaces");
    if (json_array_size(spaces) == 0) {
        (void)fputs("<p class=\"moment\">The daemon has only just started and makes every output "
                    "safe.</p>\n",
                    out);
    } else {
        put_moment(text_of(status, "time"), out);
        element(", clock ", words_clock(text_of(status, "clock")), "</p>\n", out);
    }
    if (status) {
        put_alarms(status, out);
    }
    for (size_t i = 0; i < json_array_size(spaces); i++) {
        put_space(json_array_get(spaces, i), out);
    }
}

static void put_site(const json_t *status, FILE *out)
{
    const char *site = text_of(status, "site");
    page_html_text(site[0] ? site : "Lampwarden", out);
}

static void put_mark(const json_t *status, FILE *out)
{
    const char *words = text_of(status, "demonstration");
    if (words[0]) {
        element("Demonstration: ", words, "", out);
    }
}

static const struct {
    const char *mark;
    void (*put)(const json_t *status, FILE *out);
} marks[] = {{"@SITE@", put_site}, {"@MARK@", put_mark}, {"@SUMMARY@", put_summary}};

/* The length of what was replaced or left out; 0: nothing here. */
static size_t replace(const char *at, const json_t *status, FILE *out)
{
    const char *end = strncmp(at, "<!--", 4) == 0 ? strstr(at, "-->") : NULL;
    if (end) {
        return (size_t)(end - at) + strlen("-->");
    }
    for (size_t i = 0; i < sizeof marks / sizeof marks[0]; i++) {
        const size_t length = strlen(marks[i].mark);
        if (strncmp(at, marks[i].mark, length) == 0) {
            marks[i].put(status, out);
            return length;
        }
    }
    return 0;
}

char *page_html(const char *index_html, const json_t *status)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) {
        return NULL;
    }
    for (const char *at = index_html; *at;) {
        const size_t length = replace(at, status, out);
        if (length == 0) {
            (void)fputc(*at, out);
        }
        at += length > 0 ? length : 1;
    }
    const bool is_bad = ferror(out) != 0;
    if (fclose(out) != 0 || is_bad) {
        free(text);
        return NULL;
    }
    return text;
}
