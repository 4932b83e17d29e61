/* SPDX-License-Identifier: Apache-2.0 */
/* The options with which a verb finds the journal: --journal FILE, else --config FILE's
 * journal.path. */
#ifndef LAMPWARDEN_JOURNAL_OPTION_H
#define LAMPWARDEN_JOURNAL_OPTION_H

struct err;
struct journal_reader;

struct journal_option {
    const char *journal; /* NULL: as the configuration says */
    const char *config;  /* NULL: the usual one */
};

#define JOURNAL_OPTION_HELP                                                                        \
    "      --journal FILE  the journal to read, whatever a configuration says\n"                   \
    "      --config FILE   the configuration that names the journal\n"                             \
    "                      (default " VERB_DEFAULT_CONFIG ")\n"

/* Opens it for reading. Returns VERB_OK, or another exit code after it said why on stderr. */
int journal_option_open(const char *verb, const struct journal_option *option,
                        struct journal_reader **ret);

/* 0, or a negative errno with a sentence. */
typedef int journal_work(struct journal_reader *reader, const void *context, struct err *err);

/* Opens it, has the work done and closes it. Returns an exit code, after it said what went wrong.
 */
int journal_option_run(const char *verb, const struct journal_option *option, journal_work *work,
                       const void *context);

#endif
