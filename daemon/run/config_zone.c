/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The last line of a TZif file (RFC 8536, 3.3: the footer) states in the form of POSIX TZ which
 * offsets rule after its table: "CET-1CEST,M3.5.0,M10.5.0/3". Read directly, because mktime answers
 * by the history of calls and the environment variable TZ belongs to the whole process.
 */
#include "config_zone_parts.h"

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
#define NO_RULE         "%s says nothing about the time from now on (no TZif rule)"

struct zone_file {
    char path[PATH_MAX];
    char *bytes;
    size_t size;
    struct zone_rule rule;
};

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

/* The whole file and the rule at its end; free bytes. */
static int read_zone(const char *folder, const char *name, struct zone_file *ret, struct err *err)
{
    char quoted[72];
    parse_quote(name, quoted, sizeof quoted);
    if (!is_zone_name(name)) {
        return err_fail(err, EINVAL, "\"%s\" is not the name of a time zone (\"Europe/Berlin\")",
                        quoted);
    }
    int length = snprintf(ret->path, sizeof ret->path, "%s/%s", folder, name);
    if (length < 0 || (size_t)length >= sizeof ret->path) {
        return err_fail(err, EINVAL, "\"%s\" is too long for a time zone", quoted);
    }
    int r = fileio_read(ret->path, TABLE_BYTES_MAX, &ret->bytes, &ret->size, NULL);
    if (r < 0) {
        return err_fail(err, -r, "there is no time zone \"%s\": cannot read %s (%s)", quoted,
                        ret->path, err_name(r));
    }
    const char *rule = footer_of(ret->bytes, ret->size);
    if (!rule || !zone_rule_parse(rule, &ret->rule)) {
        free(ret->bytes);
        return err_fail(err, EINVAL, NO_RULE, ret->path);
    }
    return 0;
}

int zone_standard_offset(const char *folder, const char *name, int32_t *ret_s, struct err *err)
{
    struct zone_file file = {.bytes = NULL};
    int r = read_zone(folder, name, &file, err);
    if (r < 0) {
        return r;
    }
    free(file.bytes);
    const struct zone_rule *rule = &file.rule;
    int32_t offset_s = rule->other_s < rule->standard_s ? rule->other_s : rule->standard_s;
    if (offset_s < -OFFSET_MAX_S || offset_s > OFFSET_MAX_S) {
        return err_fail(err, EINVAL, NO_RULE, file.path);
    }
    *ret_s = offset_s;
    return 0;
}

int zone_changes(const char *folder, const char *name, struct zone_table *ret, struct err *err)
{
    struct zone_file file = {.bytes = NULL};
    struct zone_table table;
    int r = read_zone(folder, name, &file, err);
    if (r < 0) {
        return r;
    }
    bool is_good =
        zone_table_fill((const unsigned char *)file.bytes, file.size, &file.rule, &table);
    free(file.bytes);
    if (!is_good) {
        return err_fail(err, EINVAL, "%s is not a table of a time zone without leap seconds (TZif)",
                        file.path);
    }
    *ret = table;
    return 0;
}
