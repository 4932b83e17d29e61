/* SPDX-License-Identifier: Apache-2.0 */
#include "alarm_words.h"

#include "parse.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

/* The parts of a message by name: in braces in an argument, in capitals in the environment. */
enum part { TEXT, KIND, CLASS, SPACE, FIXTURE, TIME, SITE, PARTS };

static const char *const part_names[PARTS] = {"text",    "kind", "class", "space",
                                              "fixture", "time", "site"};

struct parts {
    const char *values[PARTS];
    char time[32];
};

static void take_apart(const struct alarm_message *message, struct parts *ret)
{
    const struct journal_event *event = message->event;
    ret->time[0] = '\0';
    if (event->wall_s > 0) {
        parse_format_datetime(event->wall_s, message->utc_offset_s, ret->time, sizeof ret->time);
    }
    ret->values[TEXT] = event->text;
    ret->values[KIND] = event->kind;
    ret->values[CLASS] = journal_class_name(event->class);
    ret->values[SPACE] = event->space;
    ret->values[FIXTURE] = event->fixture;
    ret->values[TIME] = ret->time;
    ret->values[SITE] = message->site;
}

static void write_sentence(const struct alarm_message *message, const struct parts *parts,
                           struct alarm_words *ret)
{
    char held[64] = "";
    const struct journal_event *event = message->event;
    if (message->held_back > 0) {
        (void)snprintf(held, sizeof held, "\n(%llu before it were held back)",
                       (unsigned long long)message->held_back);
    }
    (void)snprintf(
        ret->sentence, sizeof ret->sentence, "%s%s%s%s: %.63s%s%s\n%.31s%s%.31s%s%.191s%s\n",
        message->demonstration ? "DEMONSTRATION (" : "",
        message->demonstration ? message->demonstration : "", message->demonstration ? ")\n" : "",
        parts->values[CLASS], message->site, message->site[0] ? ", " : "", parts->time,
        event->space, event->fixture[0] ? ", " : "", event->fixture, event->space[0] ? ": " : "",
        event->text, held);
}

static bool put(struct alarm_words *words, const char *text, size_t length)
{
    if (words->used + length >= sizeof words->bytes) {
        return false;
    }
    memcpy(words->bytes + words->used, text, length);
    words->used += length;
    words->bytes[words->used] = '\0';
    return true;
}

/* The length of "{text}" and the like at the start of a text, and which it is; 0: something else.
 */
static size_t find_part(const char *text, enum part *ret)
{
    for (int i = 0; i < PARTS && text[0] == '{'; i++) {
        const size_t length = strlen(part_names[i]);
        if (strncmp(text + 1, part_names[i], length) == 0 && text[1 + length] == '}') {
            *ret = (enum part)i;
            return length + 2;
        }
    }
    return 0;
}

static bool put_argument(struct alarm_words *words, const char *pattern, const struct parts *parts)
{
    bool fits = true;
    while (fits && *pattern) {
        enum part part = TEXT;
        const size_t length = find_part(pattern, &part);
        fits = length > 0 ? put(words, parts->values[part], strlen(parts->values[part]))
                          : put(words, pattern, 1);
        pattern += length > 0 ? length : 1;
    }
    return fits && put(words, "", 1); /* its NUL */
}

/* Returns NULL when it does not fit. */
static char *put_variable(struct alarm_words *words, const char *name, const char *value)
{
    char *at = words->bytes + words->used;
    const bool fits = put(words, name, strlen(name)) && put(words, "=", 1) &&
                      put(words, value, strlen(value)) && put(words, "", 1);
    return fits ? at : NULL;
}

static int fill_environment(const struct alarm_message *message, const struct parts *parts,
                            struct alarm_words *ret)
{
    static const char *const names[PARTS] = {
        "LAMPWARDEN_TEXT",    "LAMPWARDEN_EVENT", "LAMPWARDEN_CLASS", "LAMPWARDEN_SPACE",
        "LAMPWARDEN_FIXTURE", "LAMPWARDEN_TIME",  "LAMPWARDEN_SITE"};
    char held[24];
    int count = 0;
    (void)snprintf(held, sizeof held, "%llu", (unsigned long long)message->held_back);
    ret->environment[count++] =
        put_variable(ret, "PATH", "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin");
    ret->environment[count++] = put_variable(ret, "LANG", "C.UTF-8");
    ret->environment[count++] = put_variable(ret, "LAMPWARDEN_ALARM", message->alarm);
    ret->environment[count++] = put_variable(ret, "LAMPWARDEN_HELD_BACK", held);
    for (int i = 0; i < PARTS; i++) {
        ret->environment[count++] = put_variable(ret, names[i], parts->values[i]);
    }
    if (message->demonstration) {
        ret->environment[count++] =
            put_variable(ret, "LAMPWARDEN_DEMONSTRATION", message->demonstration);
    }
    for (int i = 0; i < count; i++) {
        if (!ret->environment[i]) {
            return -E2BIG;
        }
    }
    ret->environment[count] = NULL;
    return 0;
}

int alarm_words_fill(const char *const *command, const struct alarm_message *message,
                     struct alarm_words *ret)
{
    struct parts parts;
    ret->used = 0;
    take_apart(message, &parts);
    write_sentence(message, &parts, ret);
    int count = 0;
    for (; command[count]; count++) {
        if (count == ALARM_WORDS_COUNT) {
            return -E2BIG;
        }
        ret->arguments[count] = ret->bytes + ret->used;
        if (!put_argument(ret, command[count], &parts)) {
            return -E2BIG;
        }
    }
    ret->arguments[count] = NULL;
    return fill_environment(message, &parts, ret);
}
