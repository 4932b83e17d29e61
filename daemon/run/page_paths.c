/* SPDX-License-Identifier: Apache-2.0 */
#include "page_paths.h"

#include "err.h"
#include "parse.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

enum { VALUE_MAX = 64, QUOTE_MAX = 48 };

/* Of a KEY_NAME. */
static const char name_letters[] =
    "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_-.";

const struct page_path page_paths[] = {
    {"/", PAGE_INDEX, " ", false},
    {"/status.json", PAGE_STATUS, " ", false},
    {"/plan.json", PAGE_PLAN, " space ", true},
    {"/day.json", PAGE_DAY, " space day ", true},
    {"/minutes.json", PAGE_MINUTES, " space day ", true},
    {"/days.json", PAGE_DAYS, " space count ", true},
    {"/events.json", PAGE_EVENTS, " space day ", false},
    {"/nights.json", PAGE_NIGHTS, " space count ", true},
    {"/why.json", PAGE_WHY, " space time ", true},
    {"/live", PAGE_LIVE, " ", false},
    {"/metrics", PAGE_METRICS, " ", false},
    {NULL, PAGE_INDEX, NULL, false},
};

static const struct page_path file_path = {"/NAME.css or /NAME.js", PAGE_FILE, " ", false};

/* "/page.css": the name of a file, whether there is one or not. */
static bool take_file(const char *target, size_t length, char ret[PAGE_NAME_MAX])
{
    const char *name = target + 1;
    const size_t stem = target[0] == '/' ? strspn(name, "abcdefghijklmnopqrstuvwxyz_") : 0;
    const size_t rest = length - stem - 1;
    const bool is_known = (rest == 3 && memcmp(name + stem, ".js", 3) == 0) ||
                          (rest == 4 && memcmp(name + stem, ".css", 4) == 0);
    if (stem == 0 || !is_known || length > PAGE_NAME_MAX) {
        return false;
    }
    memcpy(ret, name, length - 1);
    ret[length - 1] = '\0';
    return true;
}

static const struct page_path *find_path(const char *target, size_t length)
{
    for (const struct page_path *path = page_paths; path->path; path++) {
        if (strlen(path->path) == length && memcmp(path->path, target, length) == 0) {
            return path;
        }
    }
    return NULL;
}

static int hex(char digit)
{
    static const char digits[] = "0123456789abcdef";
    const char lower = (char)(digit >= 'A' && digit <= 'F' ? digit - 'A' + 'a' : digit);
    const char *at = digit ? strchr(digits, lower) : NULL;
    return at ? (int)(at - digits) : -1;
}

/* %41 and + as in a form (WHATWG URL, 5.1); control characters are nothing that a value holds. */
static bool decode(const char *text, size_t length, char ret[VALUE_MAX])
{
    size_t used = 0;
    for (size_t i = 0; i < length; i++) {
        int one = text[i] == '+' ? ' ' : (unsigned char)text[i];
        if (text[i] == '%') {
            const int high = i + 2 < length ? hex(text[i + 1]) : -1;
            const int low = i + 2 < length ? hex(text[i + 2]) : -1;
            one = high < 0 || low < 0 ? 0 : high * 16 + low;
            i += 2;
        }
        if (one < ' ' || one == 127 || used + 1 >= VALUE_MAX) {
            return false;
        }
        ret[used++] = (char)one;
    }
    ret[used] = '\0';
    return true;
}

static int refuse(struct err *err, const char *name, const char *value, const char *allowed)
{
    char quoted[QUOTE_MAX];
    parse_quote(value, quoted, sizeof quoted);
    return err_fail(err, EINVAL, "%s: \"%s\" is not %s", name, quoted, allowed);
}

static int take_value(const char *name, const char *value, struct page_request *ret,
                      struct err *err)
{
    int64_t number = 0;
    if (strcmp(name, "day") == 0) {
        if (parse_date(value, &ret->day, NULL) != 0) {
            return refuse(err, name, value, "a date (2026-11-02, 1970 … 2199)");
        }
        ret->has_day = true;
    } else if (strcmp(name, "count") == 0) {
        if (parse_int(value, 1, PAGE_COUNT_MAX, &number, NULL) != 0) {
            return refuse(err, name, value, "a number of days (1 … 400)");
        }
        ret->count = (int)number;
    } else if (strcmp(name, "time") == 0) {
        if (value[0] == '\0' || strlen(value) >= sizeof ret->time) {
            return refuse(err, name, value, "a moment (14:05, yesterday 14:05, 2026-11-02T14:05)");
        }
        memcpy(ret->time, value, strlen(value) + 1);
    } else {
        const size_t length = strspn(value, name_letters);
        if (length == 0 || value[length] != '\0' || length >= sizeof ret->space) {
            return refuse(err, name, value,
                          "the name of a space (1 … 31 letters, digits, '_', '-', '.')");
        }
        memcpy(ret->space, value, strlen(value) + 1);
    }
    return 0;
}

/* Marks the parameter in `seen`: the bit of its place in the path's list. */
static int take_parameter(const char *text, size_t length, uint32_t *seen, struct page_request *ret,
                          struct err *err)
{
    char name[VALUE_MAX];
    char value[VALUE_MAX];
    char word[VALUE_MAX + 2];
    const char *equals = memchr(text, '=', length);
    const size_t name_length = equals ? (size_t)(equals - text) : length;
    const size_t skipped = name_length + (equals != NULL);
    if (!decode(text, name_length, name) || !decode(text + skipped, length - skipped, value)) {
        return err_fail(err, EINVAL, "a parameter is no text of at most %d letters", VALUE_MAX - 1);
    }
    (void)snprintf(word, sizeof word, " %s ", name);
    const char *known = strstr(ret->path->params, word);
    if (strchr(name, ' ') || name[0] == '\0' || !known) {
        char quoted[QUOTE_MAX];
        parse_quote(name, quoted, sizeof quoted);
        return err_fail(err, EINVAL, "%s has no parameter \"%s\"; it has:%s", ret->path->path,
                        quoted, ret->path->params[1] ? ret->path->params : " none");
    }
    const uint32_t bit = UINT32_C(1) << (known - ret->path->params);
    if (*seen & bit) {
        return err_fail(err, EINVAL, "%s: given twice", name);
    }
    *seen |= bit;
    return take_value(name, value, ret, err);
}

static int take_query(const char *query, struct page_request *ret, struct err *err)
{
    uint32_t seen = 0;
    while (*query) {
        const size_t length = strcspn(query, "&");
        const int code = length > 0 ? take_parameter(query, length, &seen, ret, err) : 0;
        if (code < 0) {
            return code;
        }
        query += length + (query[length] == '&');
    }
    if (ret->path->needs_space && ret->space[0] == '\0') {
        return err_fail(err, EINVAL, "%s: missing parameter space (the name of a space)",
                        ret->path->path);
    }
    return 0;
}

int page_parse(const char *target, struct page_request *ret, struct err *err)
{
    const size_t length = strcspn(target, "?");
    *ret = (struct page_request){.count = PAGE_COUNT_USUAL};
    if (strnlen(target, PAGE_TARGET_MAX + 1) > PAGE_TARGET_MAX) {
        return err_fail(err, ENOENT, "there is no path of more than %d letters here",
                        PAGE_TARGET_MAX);
    }
    ret->path = take_file(target, length, ret->file) ? &file_path : find_path(target, length);
    if (!ret->path) {
        char quoted[QUOTE_MAX];
        parse_quote(target, quoted, sizeof quoted);
        return err_fail(err, ENOENT, "there is no %s here; the page is at /", quoted);
    }
    return take_query(target + length + (target[length] == '?'), ret, err);
}
