/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What must not reach libconfig 1.5: an @include that is a folder makes its scanner call exit(2),
 * some 200 000 nested groups overflow the stack, a NUL byte ends the text unseen, and a hexadecimal
 * number of more than 32 bits is cut. Strings and comments are skipped as its scanner does.
 */
#include "config_node.h"

#include "findings.h"

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
                       "@include is not supported: write everything into one file");
        scan->is_good = false;
    }
}

/* Steps over one character outside of strings and comments; returns how many were taken. */
static size_t take_plain(struct scan *scan)
{
    const char *p = scan->p;
    char next = p + 1 < scan->end ? p[1] : '\0';
    if (*p == '"') {
        scan->inside = INSIDE_STRING;
    } else if (*p == '#' || (*p == '/' && next == '/')) {
        scan->inside = INSIDE_LINE_COMMENT;
    } else if (*p == '/' && next == '*') {
        scan->inside = INSIDE_COMMENT;
        return 2;
    } else if (strchr("{([", *p)) {
        scan->depth++;
        if (scan->depth > CONFIG_DEPTH_MAX && !scan->said_deep) {
            findings_error(scan->findings, scan->line,
                           "groups and lists are nested too deep (at most %d)", CONFIG_DEPTH_MAX);
            scan->is_good = false;
            scan->said_deep = true;
        }
    } else if (strchr("})]", *p)) {
        scan->depth--;
    } else if (*p == '0' && (next == 'x' || next == 'X')) {
        size_t digits = 0;
        while (p + 2 + digits < scan->end && isxdigit((unsigned char)p[2 + digits])) {
            digits++;
        }
        if (digits > 8) {
            findings_error(scan->findings, scan->line,
                           "a hexadecimal number has %zu digits (at most 8)", digits);
            scan->is_good = false;
        }
        return 2 + digits;
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

bool node_scan(const char *text, size_t size, struct findings *findings)
{
    if (size > CONFIG_BYTES_MAX) {
        findings_error(findings, 0, "the file has %zu bytes (at most %d)", size, CONFIG_BYTES_MAX);
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
