/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What a check of a configuration has found: collected in any order, told in the order of the file.
 * Running out of memory is remembered and told at the end; nothing here fails at once.
 */
#ifndef LAMPWARDEN_FINDINGS_H
#define LAMPWARDEN_FINDINGS_H

#include <stdbool.h>

struct config_report;
struct config_whole;

#define FINDINGS_MAX 200 /* told one by one; the rest is counted */

struct finding {
    int line; /* 0: belongs to no line, told last */
    bool is_warning;
    char *text;
};

struct findings {
    char file[256];
    const struct config_whole *whole; /* lines are those of the whole; NULL: of the file */
    struct finding *items;
    int count;
    int errors, warnings; /* also those beyond FINDINGS_MAX */
    bool is_out_of_memory;
};

void findings_init(struct findings *findings, const char *file);
void findings_finish(struct findings *findings);

/* "path: what is wrong, value and range", without file and line. */
void findings_error(struct findings *findings, int line, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void findings_warning(struct findings *findings, int line, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* 0, or -ENOMEM with an empty report. */
int findings_report(const struct findings *findings, struct config_report *ret);

/* A report of one error that belongs to no line. */
int findings_report_one(const char *file, const char *text, struct config_report *ret);

#endif
