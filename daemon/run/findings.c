/* SPDX-License-Identifier: Apache-2.0 */
#include "findings.h"

#include "config_include.h"
#include "parse.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TEXT_MAX 1024

void findings_init(struct findings *findings, const char *file)
{
    memset(findings, 0, sizeof *findings);
    parse_quote(file, findings->file, sizeof findings->file);
}

void findings_finish(struct findings *findings)
{
    for (int i = 0; i < findings->count; i++) {
        free(findings->items[i].text);
    }
    free(findings->items);
    findings->items = NULL;
    findings->count = 0;
}

__attribute__((format(printf, 3, 0))) static void
add(struct findings *findings, struct finding finding, const char *format, va_list args)
{
    *(finding.is_warning ? &findings->warnings : &findings->errors) += 1;
    if (findings->count == FINDINGS_MAX) {
        return;
    }
    if (!findings->items) {
        findings->items = calloc(FINDINGS_MAX, sizeof *findings->items);
    }
    char text[TEXT_MAX];
    (void)vsnprintf(text, sizeof text, format, args);
    for (char *p = text; *p; p++) {
        if ((unsigned char)*p < 0x20 || *p == 0x7F) {
            *p = '?'; /* one finding is one line, whatever was written into the file */
        }
    }
    finding.text = findings->items ? strdup(text) : NULL;
    if (!finding.text) {
        findings->is_out_of_memory = true;
        return;
    }
    findings->items[findings->count++] = finding;
}

void findings_error(struct findings *findings, int line, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    add(findings, (struct finding){.line = line}, format, args);
    va_end(args);
}

void findings_warning(struct findings *findings, int line, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    add(findings, (struct finding){.line = line, .is_warning = true}, format, args);
    va_end(args);
}

/* A stable insertion sort: there are at most FINDINGS_MAX, and most come in order. */
static void order(const struct findings *findings, int ret_order[FINDINGS_MAX])
{
    for (int i = 0; i < findings->count; i++) {
        int place = i;
        unsigned line = (unsigned)findings->items[i].line - 1U; /* line 0 becomes the last */
        while (place > 0 && (unsigned)findings->items[ret_order[place - 1]].line - 1U > line) {
            ret_order[place] = ret_order[place - 1];
            place--;
        }
        ret_order[place] = i;
    }
}

static void tell(const struct findings *findings, FILE *out)
{
    int sequence[FINDINGS_MAX] = {0};
    order(findings, sequence);
    for (int i = 0; i < findings->count; i++) {
        const struct finding *finding = &findings->items[sequence[i]];
        int line = finding->line;
        const struct config_piece *piece =
            findings->whole ? config_whole_find(findings->whole, line, &line) : NULL;
        (void)fprintf(out, "%s:", piece ? piece->file : findings->file);
        if (line > 0) {
            (void)fprintf(out, "%d:", line);
        }
        (void)fprintf(out, "%s %s\n", finding->is_warning ? " warning:" : "", finding->text);
    }
    int total = findings->errors + findings->warnings;
    if (total > findings->count) {
        (void)fprintf(out, "%s: and %d more\n", findings->file, total - findings->count);
    }
}

int findings_report(const struct findings *findings, struct config_report *ret)
{
    char *text = NULL;
    size_t size = 0;
    memset(ret, 0, sizeof *ret);
    FILE *out = findings->is_out_of_memory ? NULL : open_memstream(&text, &size);
    if (!out) {
        return -ENOMEM;
    }
    tell(findings, out);
    if (fclose(out) != 0) {
        free(text);
        return -ENOMEM;
    }
    *ret = (struct config_report){findings->errors, findings->warnings, text};
    return 0;
}

int findings_report_one(const char *file, const char *text, struct config_report *ret)
{
    struct findings findings;
    findings_init(&findings, file);
    findings_error(&findings, 0, "%s", text);
    int r = findings_report(&findings, ret);
    findings_finish(&findings);
    return r;
}

void config_report_free(struct config_report *report)
{
    free(report->text);
    *report = (struct config_report){0, 0, NULL};
}
