/* SPDX-License-Identifier: Apache-2.0 */
#include "options.h"

#include "err.h"
#include "level_word.h"
#include "parse.h"
#include "verb.h"

#include <string.h>

static const struct verb_option *find(const struct verb_option *table, const char *word,
                                      size_t length)
{
    bool is_long = word[1] == '-';
    for (; table->name; table++) {
        bool is_name = is_long && strlen(table->name) == length - 2 &&
                       strncmp(table->name, word + 2, length - 2) == 0;
        bool is_letter = !is_long && length == 2 && table->letter && table->letter == word[1];
        if (is_name || is_letter) {
            return table;
        }
    }
    return NULL;
}

/* One option at argv[*at]; moves *at to its value when that is the next word. */
static int take(const char *verb, const struct verb_option *table, int argc, char **argv, int *at)
{
    const char *word = argv[*at];
    const char *equals = word[1] == '-' ? strchr(word, '=') : NULL;
    size_t length = equals ? (size_t)(equals - word) : strlen(word);
    const struct verb_option *option = find(table, word, length);
    if (!option) {
        return verb_usage(verb, "there is no option %.*s", (int)length, word);
    }
    if (option->flag) {
        *option->flag = true;
        return equals ? verb_usage(verb, "--%s takes no value", option->name) : VERB_OK;
    }
    if (equals) {
        *option->text = equals + 1;
    } else if (*at + 1 < argc) {
        *option->text = argv[++*at];
    } else {
        return verb_usage(verb, "--%s needs a value", option->name);
    }
    return VERB_OK;
}

int verb_options(const char *verb, const struct verb_option *table, int argc, char **argv,
                 int words_max)
{
    int words = 0;
    bool is_over = false; /* "--" was seen: the rest are words */
    for (int at = 1; at < argc; at++) {
        char *word = argv[at];
        if (!is_over && strcmp(word, "--") == 0) {
            is_over = true;
        } else if (!is_over && word[0] == '-' && word[1] != '\0') {
            if (take(verb, table, argc, argv, &at) != VERB_OK) {
                return -1;
            }
        } else if (words == words_max) {
            (void)verb_usage(verb, "'%s' is one word too many", word);
            return -1;
        } else {
            argv[1 + words++] = word;
        }
    }
    return words;
}

int verb_number(const char *verb, const char *option, const char *text, double low, double high,
                double *ret)
{
    struct err err;
    if (text && parse_real(text, low, high, ret, &err) < 0) {
        return verb_usage(verb, "--%s: %s", option, err.text);
    }
    return VERB_OK;
}

int verb_int(const char *verb, const char *option, const char *text, int64_t low, int64_t high,
             int64_t *ret)
{
    struct err err;
    if (text && parse_int(text, low, high, ret, &err) < 0) {
        return verb_usage(verb, "--%s: %s", option, err.text);
    }
    return VERB_OK;
}

int verb_share(const char *verb, const char *option, const char *text, double *ret)
{
    struct err err;
    if (text && level_word(text, ret, &err) < 0) {
        return verb_usage(verb, "--%s: %s", option, err.text);
    }
    return VERB_OK;
}
