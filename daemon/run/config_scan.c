/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What must not reach libconfig 1.5: an @include (config_include.c has taken those that may be)
 * that is a folder makes its scanner call exit(2), some 200 000 nested groups overflow the stack, a
 * NUL byte ends the text unseen, and a hexadecimal number of more than 32 bits is cut. Strings and
 * comments are skipped as its scanner does.
 */
#include "config_node.h"

#include "findings.h"
#include "utf8.h"

#include <ctype.h>
#include <string.h>

enum inside { INSIDE_NOTHING, INSIDE_STRING, INSIDE_LINE_COMMENT, INSIDE_COMMENT };

struct scan {
    const char *p, *end;
    struct findings *findings;
    enum inside inside;
    int line, depth;
    bool is_good, said_deep;
};

static void refuse_include(struct scan *scan)
{
    static const char word[] = "@include";
    const char *p = scan->p;
    while (p < scan->end && (*p == ' ' || *p == '\t')) {
        p++;
    }
    if ((size_t)(scan->end - p) >= sizeof word - 1 && memcmp(p, word, sizeof word - 1) == 0) {
        findings_error(scan->findings, scan->line,
                       "@include is read in the configuration alone, outside of comments");
        scan->is_good = false;
    }
}

static bool is_letter_of_name(char c)
{
    return isalnum((unsigned char)c) || c == '_' || c == '-' || c == '*';
}

static size_t span(const struct scan *scan, size_t from, bool (*is_member)(char c))
{
    size_t length = from;
    while (scan->p + length < scan->end && is_member(scan->p[length])) {
        length++;
    }
    return length;
}

static bool is_hex_digit(char c)
{
    return isxdigit((unsigned char)c);
}

static bool is_digit(char c)
{
    return isdigit((unsigned char)c);
}

static bool is_rest_of_real(char c)
{
    return isdigit((unsigned char)c) || c == '.' || c == 'e' || c == 'E' || c == '+' || c == '-';
}

static void refuse_number(struct scan *scan, size_t length)
{
    findings_error(
        scan->findings, scan->line,
        "the whole number %.*s%s has more than 32 bits (at most 2147483647 or 0xFFFFFFFF)",
        (int)(length < 24 ? length : 24), scan->p, length < 24 ? "" : "…");
    scan->is_good = false;
}

/* A number from its first digit on. */
static size_t take_number(struct scan *scan)
{
    const char *p = scan->p;
    size_t digits = span(scan, 0, is_digit);
    char next = p + digits < scan->end ? p[digits] : '\0';
    if (digits == 1 && *p == '0' && (next == 'x' || next == 'X')) {
        size_t length = span(scan, 2, is_hex_digit);
        char behind = p + length < scan->end ? p[length] : '\0';
        if (length - 2 > 8 && behind != 'L') {
            refuse_number(scan, length);
        }
        return length;
    }
    if (next == '.' || next == 'e' || next == 'E') {
        return span(scan, digits, is_rest_of_real);
    }
    size_t zeros = 0;
    while (zeros + 1 < digits && p[zeros] == '0') {
        zeros++;
    }
    bool is_long =
        digits - zeros > 10 || (digits - zeros == 10 && memcmp(p + zeros, "2147483647", 10) > 0);
    if (is_long && next != 'L') {
        refuse_number(scan, digits);
    }
    return digits;
}

static void go_deeper(struct scan *scan)
{
    scan->depth++;
    if (scan->depth > CONFIG_DEPTH_MAX && !scan->said_deep) {
        findings_error(scan->findings, scan->line,
                       "groups and lists are nested too deep (at most %d)", CONFIG_DEPTH_MAX);
        scan->is_good = false;
        scan->said_deep = true;
    }
}

/* Steps over one piece outside of strings and comments; returns its length. */
static size_t take_plain(struct scan *scan)
{
    const char *p = scan->p;
    char next = p + 1 < scan->end ? p[1] : '\0';
    if (isalpha((unsigned char)*p) || *p == '*') {
        return span(scan, 1, is_letter_of_name);
    }
    if (isdigit((unsigned char)*p)) {
        return take_number(scan);
    }
    if (*p == '.' && isdigit((unsigned char)next)) {
        return span(scan, 1, is_rest_of_real);
    }
    if (*p == '"') {
        scan->inside = INSIDE_STRING;
    } else if (*p == '#' || (*p == '/' && next == '/')) {
        scan->inside = INSIDE_LINE_COMMENT;
    } else if (*p == '/' && next == '*') {
        scan->inside = INSIDE_COMMENT;
        return 2;
    } else if (strchr("{([", *p)) {
        go_deeper(scan);
    } else if (strchr("})]", *p)) {
        scan->depth--;
    }
    return 1;
}

static size_t take_one(struct scan *scan)
{
    const char *p = scan->p;
    bool has_next = p + 1 < scan->end;
    switch (scan->inside) {
    case INSIDE_NOTHING:
        return take_plain(scan);
    case INSIDE_STRING:
        if (*p == '\\' && has_next && (p[1] == '"' || p[1] == '\\')) {
            return 2;
        }
        if (*p == '"') {
            scan->inside = INSIDE_NOTHING;
        }
        return 1;
    case INSIDE_LINE_COMMENT:
        if (*p == '\n') {
            scan->inside = INSIDE_NOTHING;
        }
        return 1;
    case INSIDE_COMMENT:
        if (*p == '*' && has_next && p[1] == '/') {
            scan->inside = INSIDE_NOTHING;
            return 2;
        }
        return 1;
    }
    return 1;
}

/* Names go into JSON. */
static bool refuse_other_encodings(const char *text, size_t size, struct findings *findings)
{
    int line = 1;
    for (const char *p = text; p < text + size;) {
        const size_t length = utf8_sequence(p, (size_t)(text + size - p));
        if (length == 0) {
            findings_error(findings, line, "a byte of value 0x%02X: this is not UTF-8 text",
                           (unsigned)(unsigned char)*p);
            return false;
        }
        line += *p == '\n';
        p += length;
    }
    return true;
}

bool node_scan(const char *text, size_t size, struct findings *findings)
{
    if (size > CONFIG_BYTES_MAX) {
        findings_error(findings, 0, "the file has %zu bytes (at most %d)", size, CONFIG_BYTES_MAX);
        return false;
    }
    if (!refuse_other_encodings(text, size, findings)) {
        return false;
    }
    struct scan scan = {text, text + size, findings, INSIDE_NOTHING, 1, 0, true, false};
    refuse_include(&scan);
    while (scan.p < scan.end) {
        if (*scan.p == '\0') {
            findings_error(findings, scan.line, "a byte of value 0: this is not a text file");
            return false;
        }
        bool is_line_end = *scan.p == '\n';
        scan.p += take_one(&scan);
        if (is_line_end) {
            scan.line++;
            refuse_include(&scan);
        }
    }
    return scan.is_good;
}
