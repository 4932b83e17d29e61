/* SPDX-License-Identifier: Apache-2.0 */
/* What can be asked of a key, and keys made from the options of drivers. */
#include "schema.h"

#include <stdio.h>
#include <string.h>

int schema_count(const struct key *keys)
{
    int count = 0;
    while (keys && keys[count].name) {
        count++;
    }
    return count;
}

static enum key_type type_of(enum option_type type)
{
    switch (type) {
    case OPTION_TEXT:
        return KEY_TEXT;
    case OPTION_INT:
        return KEY_INT;
    case OPTION_REAL:
        return KEY_REAL;
    case OPTION_BOOL:
        return KEY_BOOL;
    case OPTION_CHOICE:
        return KEY_CHOICE;
    }
    return KEY_TEXT;
}

struct key schema_from_option(const struct option *option)
{
    return (struct key){
        .name = option->name,
        .type = type_of(option->type),
        .unit = option->unit && option->unit[0] ? option->unit : NULL,
        .low = option->low,
        .high = option->high,
        .choices = option->choices,
        .fallback = option->fallback,
        .help = option->help,
        .is_hardware = true,
    };
}

int schema_choice(const char *choices, const char *word)
{
    size_t length = strlen(word);
    const char *p = choices;
    for (int i = 0; *p; i++) {
        size_t span = strcspn(p, " ");
        if (span == length && span > 0 && strncmp(p, word, span) == 0) {
            return i;
        }
        p += span;
        p += strspn(p, " ");
    }
    return -1;
}

static void describe_choices(const char *choices, char *buffer, unsigned size)
{
    size_t used = (size_t)snprintf(buffer, size, "one of: ");
    for (const char *p = choices; *p && used + 4 < size; p++) {
        used += (size_t)snprintf(buffer + used, size - used, *p == ' ' ? ", " : "%c", *p);
    }
}

static void describe_text(const struct key *key, char *buffer, unsigned size)
{
    if (key->low > 0) {
        (void)snprintf(buffer, size, "text, %.0f … %.0f bytes", key->low, key->high);
    } else {
        (void)snprintf(buffer, size, "text, at most %.0f bytes", key->high);
    }
}

void schema_describe(const struct key *key, char *buffer, unsigned size)
{
    const char *comma = key->unit ? ", " : "";
    const char *unit = key->unit ? key->unit : "";
    switch (key->type) {
    case KEY_TEXT:
        describe_text(key, buffer, size);
        break;
    case KEY_NAME:
        (void)snprintf(buffer, size, "letters, digits, '_', '-', '.'; at most %.0f", key->high);
        break;
    case KEY_INT:
        (void)snprintf(buffer, size, "%.0f … %.0f%s%s", key->low, key->high, comma, unit);
        break;
    case KEY_REAL:
        (void)snprintf(buffer, size, "%.10g … %.10g%s%s", key->low, key->high, comma, unit);
        break;
    case KEY_BOOL:
        (void)snprintf(buffer, size, "true or false");
        break;
    case KEY_CHOICE:
        describe_choices(key->choices, buffer, size);
        break;
    case KEY_TIME:
        (void)snprintf(buffer, size, "\"00:00\" … \"%s\"%s%s%s",
                       key->high >= SCHEMA_DAY_END_S ? "24:00" : "23:59:59",
                       key->choices ? " or \"" : "", key->choices ? key->choices : "",
                       key->choices ? "\"" : "");
        break;
    case KEY_DATE:
        (void)snprintf(buffer, size, "\"1970-01-01\" … \"2199-12-31\"");
        break;
    case KEY_OFFSET:
        (void)snprintf(buffer, size, "\"-14:00\" … \"+14:00\"");
        break;
    case KEY_WEEKDAYS:
        (void)snprintf(buffer, size, "\"Mon\" … \"Sun\", as in \"Mon-Fri\" or \"Wed, Sat-Sun\"");
        break;
    case KEY_MONTHS:
        (void)snprintf(buffer, size, "\"Jan\" … \"Dec\", as in \"Nov-Feb\" or \"Apr, Jul-Aug\"");
        break;
    case KEY_REF:
        (void)snprintf(buffer, size, "a name of %s", schema_root[key->target].name);
        break;
    case KEY_REFS:
        (void)snprintf(buffer, size, "%.0f … %.0f names of %s", key->low, key->high,
                       schema_root[key->target].name);
        break;
    case KEY_GROUP:
        (void)snprintf(buffer, size, "a group { … }");
        break;
    case KEY_TEXTS:
    case KEY_LIST:
        (void)snprintf(buffer, size, "%.0f … %.0f %s", key->low, key->high,
                       key->type == KEY_LIST ? "entries" : "texts");
        break;
    }
}
