/* SPDX-License-Identifier: Apache-2.0 */
#include "verb.h"

#include "journal_option.h"

#include "config.h"
#include "err.h"
#include "journal_read.h"

#include <stdio.h>

static int path_of_config(const char *verb, const char *config_path, char *buffer, size_t size)
{
    struct config *config = NULL;
    struct config_report report = {0};
    int result = config_load_guarded(config_path, &config, &report);
    if (result != 0) {
        (void)fputs(report.text, stderr);
        (void)verb_fail(verb, VERB_BAD_CONFIG,
                        "%s does not say where the journal is; --journal FILE does", config_path);
    } else {
        (void)snprintf(buffer, size, "%s", config->journal.path);
    }
    config_report_free(&report);
    config_free(config);
    if (result != 0) {
        return VERB_BAD_CONFIG;
    }
    return buffer[0] ? VERB_OK
                     : verb_fail(verb, VERB_FAILED, "%s keeps no journal (journal.path is empty)",
                                 config_path);
}

int journal_option_open(const char *verb, const struct journal_option *option,
                        struct journal_reader **ret)
{
    char found[sizeof((struct config_journal *)0)->path];
    const char *path = option->journal;
    if (!path) {
        const char *config = option->config ? option->config : VERB_DEFAULT_CONFIG;
        int code = path_of_config(verb, config, found, sizeof found);
        if (code != VERB_OK) {
            return code;
        }
        path = found;
    }
    struct err err;
    if (journal_reader_open(path, ret, &err) != 0) {
        return verb_fail(verb, VERB_FAILED, "%s", err.text);
    }
    const char *note = journal_reader_note(*ret);
    if (note[0]) {
        (void)verb_fail(verb, VERB_OK, "note: %s", note);
    }
    return VERB_OK;
}

int journal_option_run(const char *verb, const struct journal_option *option, journal_work *work,
                       const void *context)
{
    struct journal_reader *reader = NULL;
    struct err err = {"no memory"};
    int code = journal_option_open(verb, option, &reader);
    if (code != VERB_OK) {
        return code;
    }
    if (work(reader, context, &err) != 0) {
        code = verb_fail(verb, VERB_FAILED, "%s", err.text);
    }
    journal_reader_close(reader);
    return code;
}
