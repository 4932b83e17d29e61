/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden why`: the rules behind one moment. */
#include "why.h"

#include "client.h"
#include "config.h"
#include "err.h"
#include "journal_option.h"
#include "json_out.h"
#include "options.h"
#include "verb.h"
#include "why_print.h"
#include "wrap.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#define NAME "why"

enum { SPACES_MAX = 128, TIME_MAX = 64, WORDS_MAX = 2 };

struct options {
    struct journal_option journal;
    const char *socket, *space; /* space NULL: all */
    const char *time;           /* NULL: now */
    bool wants_json;
    char words[TIME_MAX]; /* "yesterday" and "14:05" as one */
};

struct names {
    int count;
    char name[SPACES_MAX][JOURNAL_NAME_MAX];
};

static void show(json_t *answer, bool wants_json, FILE *out)
{
    if (wants_json) {
        json_out_print(answer);
        return;
    }
    why_print(out, answer);
    json_decref(answer);
}

static int keep_name(const struct journal_day *day, void *context)
{
    struct names *names = context;
    for (int i = 0; i < names->count; i++) {
        if (strcmp(names->name[i], day->space) == 0) {
            return 0;
        }
    }
    if (names->count < SPACES_MAX) {
        memcpy(names->name[names->count++], day->space, JOURNAL_NAME_MAX);
    }
    return 0;
}

/* The spaces that have a light day, the latest two of all: one that was given up long ago is asked
 * for by its name. */
static int find_names(struct journal_reader *reader, const struct options *options,
                      struct names *ret, struct err *err)
{
    int64_t first = 0;
    int64_t last = 0;
    if (options->space) {
        (void)snprintf(ret->name[0], JOURNAL_NAME_MAX, "%s", options->space);
        ret->count = 1;
        return 0;
    }
    int code = journal_read_day_range(reader, NULL, &first, &last, err);
    const struct journal_range range = {NULL, options->time ? first : last - 1, last + 1};
    return code == 0 ? journal_read_days(reader, &range, keep_name, ret, err) : code;
}

/* The configuration knows the clock on the wall; NULL: there is none to ask. */
static struct config *config_of(const struct journal_option *option)
{
    struct config *config = NULL;
    struct config_report report = {0};
    if (!option->journal) {
        (void)config_load_guarded(option->config ? option->config : VERB_DEFAULT_CONFIG, &config,
                                  &report); /* journal_option_open has said what is wrong */
        config_report_free(&report);
    }
    return config;
}

/* Of several spaces one may have no such minute: it is said, and the others are explained. */
static int explain_all(struct journal_reader *reader, const struct options *options,
                       const struct civil *civil, FILE *out)
{
    struct names names = {0};
    struct err err;
    int explained = 0;
    if (find_names(reader, options, &names, &err) != 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    for (int i = 0; i < names.count; i++) {
        const struct why_ask ask = {names.name[i], options->time, civil};
        json_t *answer = NULL;
        const int code = why_at(reader, &ask, &answer, &err);
        if (code == -EINVAL || code == -ERANGE) {
            return verb_usage(NAME, "%s", err.text);
        }
        if (code != 0) {
            (void)verb_fail(NAME, VERB_FAILED, "%s", err.text);
            continue;
        }
        if (explained++ > 0 && !options->wants_json) {
            (void)fputc('\n', out);
        }
        show(answer, options->wants_json, out);
    }
    return explained > 0 ? VERB_OK : VERB_FAILED;
}

static int from_journal(const struct options *options, FILE *out)
{
    struct journal_reader *reader = NULL;
    int code = journal_option_open(NAME, &options->journal, &reader);
    if (code != VERB_OK) {
        return code;
    }
    struct config *config = config_of(&options->journal);
    code = explain_all(reader, options, config ? &config->site.tariff.civil : NULL, out);
    config_free(config);
    journal_reader_close(reader);
    return code;
}

static int from_daemon(const struct options *options, FILE *out, struct err *err)
{
    json_t *answer = NULL;
    size_t i;
    json_t *space;
    const int code = client_ask(options->socket, NAME, client_space(options->space), &answer, err);
    if (code < 0) {
        return code;
    }
    if (!json_is_true(json_object_get(answer, "is_ready"))) {
        (void)verb_fail(NAME, VERB_OK, "not ready yet: outputs are being made safe and verified");
    }
    json_array_foreach(json_object_get(answer, "spaces"), i, space)
    {
        if (i > 0 && !options->wants_json) {
            (void)fputc('\n', out);
        }
        show(json_incref(space), options->wants_json, out);
    }
    json_decref(answer);
    return 0;
}

static int explain(const struct options *options, FILE *out)
{
    struct err err;
    if (options->time || options->journal.journal) {
        return from_journal(options, out);
    }
    const int code = from_daemon(options, out, &err);
    if (code == -ECONNREFUSED || code == -ENOENT) {
        (void)verb_fail(NAME, VERB_OK, "%s; the newest minute of the journal:", err.text);
        return from_journal(options, out);
    }
    return code == 0 ? VERB_OK : verb_fail(NAME, VERB_FAILED, "%s", err.text);
}

/* Returns VERB_OK or VERB_USAGE. */
static int read_options(int argc, char **argv, struct options *ret)
{
    *ret = (struct options){.socket = CLIENT_DEFAULT_SOCKET};
    const struct verb_option table[] = {
        {"space", 's', &ret->space, NULL},           {"json", 0, NULL, &ret->wants_json},
        {"socket", 0, &ret->socket, NULL},           {"journal", 0, &ret->journal.journal, NULL},
        {"config", 'c', &ret->journal.config, NULL}, {NULL, 0, NULL, NULL},
    };
    const int words = verb_options(NAME, table, argc, argv, WORDS_MAX);
    if (words < 0) {
        return VERB_USAGE;
    }
    if (words > 0) {
        (void)snprintf(ret->words, sizeof ret->words, "%s%s%s", argv[1], words > 1 ? " " : "",
                       words > 1 ? argv[2] : "");
        ret->time = ret->words;
    }
    return VERB_OK;
}

static int run(int argc, char **argv)
{
    struct options options;
    struct wrap wrap;
    int code = read_options(argc, argv, &options);
    if (code != VERB_OK) {
        return code;
    }
    if (options.wants_json) {
        return explain(&options, stdout);
    }
    code = explain(&options, wrap_begin(&wrap, stdout));
    wrap_end(&wrap, WRAP_BY_COLUMN);
    return code;
}

const struct verb verb_why = {
    .name = NAME,
    .summary = "why the lamps burn as they do, now or in any minute of the journal",
    .help =
        "usage: lampwarden why [TIME] [OPTION...]\n"
        "\n"
        "Every rule with the level it allowed, which one won, what it saw and how old that was, "
        "and what\n"
        "the plan wanted and why. Without TIME: now, from the running daemon, or the newest minute "
        "of the\n"
        "journal when none runs. A stored minute holds the state of its last second, the means of "
        "the whole\n"
        "minute, and who ruled longest in it.\n"
        "\n"
        "TIME is the site's own time, as 'day' and 'status' show it:\n"
        "  14:05              the latest one that is stored\n"
        "  yesterday 14:05    of the day before the newest minute\n"
        "  2026-11-24T14:05   of that date; 2026-11-24T14:05+02:00 at another offset, which tells "
        "the two\n"
        "                     hours apart that a clock on the wall shows alike in autumn\n"
        "\n"
        "options:\n"
        "  -s, --space NAME    this space only\n"
        "      --socket PATH   control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "      --json          one JSON object a line and space; levels are 0 ... 1, null is what "
        "is not\n"
        "                      known; a rule that had nothing to say has allowed "
        "null\n" JOURNAL_OPTION_HELP "  -h, --help          this text\n"
        "\n"
        "examples:\n"
        "  lampwarden why --space lettuce\n"
        "  lampwarden why yesterday 14:05\n"
        "  lampwarden why 2026-11-24T14:05 --space lettuce --json\n"
        "\n"
        "exit codes: 0 done, 1 no such minute, journal or daemon, 2 wrong usage, 3 wrong "
        "configuration\n",
    .run = run,
};
