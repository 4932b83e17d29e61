/* SPDX-License-Identifier: Apache-2.0 */
/* What a person types, or a rig sends: lines. */
#include "survey_live_parts.h"

#include "interrupt.h"
#include "parse.h"

#include <errno.h>
#include <poll.h>
#include <string.h>
#include <unistd.h>

#define LOOK_MS 500 /* a signal that came just before a wait is seen that late */

static char *trim(char *text)
{
    text += strspn(text, " \t\r");
    text[strcspn(text, " \t\r")] = '\0';
    return text;
}

static enum live_key meaning(struct live_keys *keys, const char *word)
{
    static const struct {
        const char *letter, *name;
        enum live_key key;
    } words[] = {
        {"", "", LIVE_ENTER},     {"b", "back", LIVE_BACK}, {"r", "repeat", LIVE_REPEAT},
        {"s", "skip", LIVE_SKIP}, {"q", "quit", LIVE_QUIT},
    };
    int64_t number = 0;
    for (size_t i = 0; i < sizeof words / sizeof words[0]; i++) {
        if (strcmp(word, words[i].letter) == 0 || strcmp(word, words[i].name) == 0) {
            return words[i].key;
        }
    }
    if (parse_int(word, 1, WALK_POINTS_MAX, &number, NULL) == 0) {
        keys->number = (int)number;
        return LIVE_GO;
    }
    return LIVE_STRANGE;
}

/* True: a line was taken out of what has come. */
static bool take_line(struct live_keys *keys, enum live_key *ret)
{
    char *end = memchr(keys->text, '\n', keys->used);
    if (!end && keys->used == sizeof keys->text) {
        keys->text[1] = '?'; /* a line too long to mean anything goes on */
        keys->used = 2;
    }
    if (!end && !(keys->is_gone && keys->used > 0)) {
        return false;
    }
    const size_t length = end ? (size_t)(end - keys->text) : keys->used;
    char line[sizeof keys->text + 1];
    memcpy(line, keys->text, length);
    line[length] = '\0';
    keys->used -= end ? length + 1 : length;
    if (keys->used > 0) {
        memmove(keys->text, keys->text + length + 1, keys->used);
    }
    *ret = strlen(line) == length ? meaning(keys, trim(line)) : LIVE_STRANGE; /* a zero byte */
    return true;
}

/* False: nothing came in that time. */
static bool receive(struct live_keys *keys, int patience_ms)
{
    struct pollfd input = {.fd = STDIN_FILENO, .events = POLLIN};
    if (poll(&input, 1, patience_ms < 0 ? LOOK_MS : patience_ms) <= 0) {
        return false;
    }
    const ssize_t got = read(STDIN_FILENO, keys->text + keys->used, sizeof keys->text - keys->used);
    if (got > 0) {
        keys->used += (size_t)got;
    } else if (got == 0 || (errno != EINTR && errno != EAGAIN)) {
        keys->is_gone = true; /* also a terminal that was closed: EIO */
    }
    return true;
}

enum live_key live_key(struct live_keys *keys, int patience_ms)
{
    enum live_key key = LIVE_NOTHING;
    while (!interrupt_came() && !take_line(keys, &key)) {
        if (keys->is_gone) {
            return LIVE_GONE;
        }
        if (!receive(keys, patience_ms) && patience_ms >= 0) {
            return interrupt_came() ? LIVE_INTERRUPTED : LIVE_NOTHING;
        }
    }
    return interrupt_came() ? LIVE_INTERRUPTED : key;
}
