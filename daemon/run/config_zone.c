/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The last line of a TZif file (RFC 8536, 3.3: the footer) states in the form of POSIX TZ which
 * offsets rule after its table: "CET-1CEST,M3.5.0,M10.5.0/3". Read directly, because mktime answers
 * by the history of calls and the environment variable TZ belongs to the whole process.
 */
#include "config_zone.h"

#include "err.h"
#include "fileio.h"
#include "parse.h"

#include <ctype.h>
#include <errno.h>
#include <limits.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TABLE_BYTES_MAX 262144
#define OFFSET_MAX_S    50400 /* as of a utc_offset */

static bool is_zone_name(const char *name)
{
    if (!isalpha((unsigned char)name[0]) || strstr(name, "..")) {
        return false;
    }
    for (const char *p = name; *p; p++) {
        if (!isalnum((unsigned char)*p) && !strchr("_-+/.", *p)) {
            return false;
        }
    }
    return true;
}

/* "CET" or "<+1030>". */
static bool skip_name(const char **p)
{
    const char *start = *p;
    if (**p == '<') {
        *p += strcspn(*p, ">");
        if (**p != '>') {
            return false;
        }
        (*p)++;
        return true;
    }
    while (isalpha((unsigned char)**p)) {
        (*p)++;
    }
    return *p - start >= 3;
}

/* [+-]hh[:mm[:ss]], west positive: POSIX.1-2017, 8.3. */
static bool take_offset(const char **p, int32_t *ret_east_s)
{
    bool is_east = **p == '-';
    *p += **p == '-' || **p == '+';
    long parts[3] = {0, 0, 0};
    for (int i = 0; i < 3; i++) {
        if (!isdigit((unsigned char)**p)) {
            return false;
        }
        char *end = NULL;
        parts[i] = strtol(*p, &end, 10);
        *p = end;
        if (parts[i] > 59 || **p != ':') {
            break;
        }
        (*p)++;
    }
    if (parts[0] > 24 || parts[1] > 59 || parts[2] > 59) {
        return false;
    }
    int32_t west_s = (int32_t)(parts[0] * 3600 + parts[1] * 60 + parts[2]);
    *ret_east_s = is_east ? west_s : -west_s;
    return true;
}

static bool winter_of(const char *rule, int32_t *ret_s)
{
    const char *p = rule;
    int32_t standard_s = 0;
    if (!skip_name(&p) || !take_offset(&p, &standard_s)) {
        return false;
    }
    int32_t other_s = standard_s;
    if (*p != '\0' && *p != ',') {
        if (!skip_name(&p)) {
            return false;
        }
        other_s = standard_s + 3600;
        if (*p != '\0' && *p != ',' && !take_offset(&p, &other_s)) {
            return false;
        }
    }
    *ret_s = other_s < standard_s ? other_s : standard_s;
    return *ret_s >= -OFFSET_MAX_S && *ret_s <= OFFSET_MAX_S;
}

/* The text between the last two newlines; NULL when the file has no such footer. */
static const char *footer_of(char *table, size_t size)
{
    if (size < 44 || memcmp(table, "TZif", 4) != 0 || table[size - 1] != '\n') {
        return NULL;
    }
    table[size - 1] = '\0';
    char *start = memrchr(table, '\n', size - 1);
    return start && strlen(start + 1) == size - 2 - (size_t)(start - table) ? start + 1 : NULL;
}

int zone_standard_offset(const char *folder, const char *name, int32_t *ret_s, struct err *err)
{
    char quoted[72];
    char path[PATH_MAX];
    char *table = NULL;
    size_t size = 0;
    parse_quote(name, quoted, sizeof quoted);
    if (!is_zone_name(name)) {
        return err_fail(err, EINVAL, "\"%s\" is not the name of a time zone (\"Europe/Berlin\")",
                        quoted);
    }
    int length = snprintf(path, sizeof path, "%s/%s", folder, name);
    if (length < 0 || (size_t)length >= sizeof path) {
        return err_fail(err, EINVAL, "\"%s\" is too long for a time zone", quoted);
    }
    int r = fileio_read(path, TABLE_BYTES_MAX, &table, &size, NULL);
    if (r < 0) {
        return err_fail(err, -r, "there is no time zone \"%s\": cannot read %s (%s)", quoted, path,
                        err_name(r));
    }
    const char *rule = footer_of(table, size);
    int32_t offset_s = 0;
    bool is_good = rule && winter_of(rule, &offset_s);
    free(table);
    if (!is_good) {
        return err_fail(err, EINVAL, "%s says nothing about the time from now on (no TZif rule)",
                        path);
    }
    *ret_s = offset_s;
    return 0;
}
