/* SPDX-License-Identifier: Apache-2.0 */
#include "option_fill.h"

#include "err.h"
#include "parse.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static int64_t choice_index(const struct option *option, const char *text)
{
    char choices[128];
    (void)snprintf(choices, sizeof choices, "%s", option->choices ? option->choices : "");
    char *place;
    int64_t index = 0;
    for (char *word = strtok_r(choices, " ", &place); word; word = strtok_r(NULL, " ", &place)) {
        if (strcmp(word, text) == 0) {
            return index;
        }
        index++;
    }
    fail_msg("%s: \"%s\" is none of \"%s\"", option->name, text, option->choices);
    return -1;
}

static void fill_one(const struct option *option, const char *text, struct option_value *ret)
{
    struct err err;
    int rc = 0;
    *ret = (struct option_value){.text = text};
    switch (option->type) {
    case OPTION_TEXT:
        break;
    case OPTION_INT:
        rc = parse_int(text, (int64_t)option->low, (int64_t)option->high, &ret->integer, &err);
        break;
    case OPTION_REAL:
        rc = parse_real(text, option->low, option->high, &ret->real, &err);
        break;
    case OPTION_BOOL:
        ret->flag = strcmp(text, "true") == 0;
        break;
    case OPTION_CHOICE:
        ret->integer = choice_index(option, text);
        break;
    }
    if (rc < 0) {
        fail_msg("%s: %s", option->name, err.text);
    }
}

static int find_option(const struct option *table, const char *name)
{
    for (int i = 0; table[i].name; i++) {
        if (strcmp(table[i].name, name) == 0) {
            return i;
        }
    }
    fail_msg("no option %s", name);
    return -1;
}

const struct option_value *option_fill(struct option_fill *fill, const struct option *table,
                                       const char *text)
{
    bool is_given[OPTION_FILL_MAX] = {false};
    assert_true(option_count(table) <= OPTION_FILL_MAX);
    (void)snprintf(fill->text, sizeof fill->text, "%s", text);
    char *place;
    for (char *word = strtok_r(fill->text, " ", &place); word; word = strtok_r(NULL, " ", &place)) {
        char *value = strchr(word, '=');
        assert_non_null(value);
        *value++ = '\0';
        int index = find_option(table, word);
        fill_one(&table[index], value, &fill->values[index]);
        is_given[index] = true;
    }
    for (int i = 0; table[i].name; i++) {
        if (!is_given[i] && table[i].fallback) {
            fill_one(&table[i], table[i].fallback, &fill->values[i]);
        } else if (!is_given[i]) {
            fail_msg("%s is required", table[i].name);
        }
    }
    return fill->values;
}
