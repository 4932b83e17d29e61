/* SPDX-License-Identifier: Apache-2.0 */
/* A new configuration while the lamps burn: whole or not at all. */
#include "app_parts.h"

#include "alarm.h"
#include "announce.h"
#include "err.h"
#include "log.h"
#include "parse.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

void app_override(const struct app_options *options, struct config *config)
{
    if (options->journal_path) {
        (void)snprintf(config->journal.path, sizeof config->journal.path, "%s",
                       options->journal_path);
    }
    if (options->socket_path) {
        (void)snprintf(config->control.socket, sizeof config->control.socket, "%s",
                       options->socket_path);
    }
}

/* Each finding is a line of its own in the log. */
static void log_findings(const struct config_report *report)
{
    for (const char *line = report->text; line && *line;) {
        int length = (int)strcspn(line, "\n");
        log_warning("%.*s", length, line);
        line += length + (line[length] == '\n');
    }
}

static int load(struct app *app, struct config **ret, struct config_report *ret_report,
                struct err *err)
{
    const char *what = "";
    struct config *config = NULL;
    const struct config *present = tick_config(app->tick);
    int code = config_load_guarded(app->options->config_path, &config, ret_report);
    if (code < 0) {
        log_findings(ret_report);
        return err_fail(err, -code, "%d error%s, the old configuration stays; %.*s",
                        ret_report->errors, ret_report->errors == 1 ? "" : "s",
                        (int)strcspn(ret_report->text, "\n"), ret_report->text);
    }
    app_override(app->options, config);
    if (!config_same_hardware(present, config, &what)) {
        config_free(config);
        return err_fail(err, EINVAL,
                        "needs a restart (systemctl restart lampwardend): %s differs; the old "
                        "configuration stays",
                        what);
    }
    *ret = config;
    return 0;
}

/* What the loop opened once and keeps to its end. */
static const char *kept_until_restart(const struct config *a, const struct config *b)
{
    bool same_journal = strcmp(a->journal.path, b->journal.path) == 0 &&
                        a->journal.keep_days == b->journal.keep_days &&
                        a->journal.commit_s == b->journal.commit_s;
    bool same_control = strcmp(a->control.socket, b->control.socket) == 0 &&
                        strcmp(a->control.group, b->control.group) == 0;
    if (!same_journal) {
        return "; the journal's settings take effect with the next start";
    }
    return same_control ? "" : "; the control socket's settings take effect with the next start";
}

/* "; lettuce: …" of the first space whose light day starts at another time than before. */
static void tell_moved_start(const struct config *before, const struct config *after, char *buffer,
                             size_t size)
{
    buffer[0] = '\0';
    for (int i = 0; i < after->space_count; i++) {
        const struct config_space *now = &after->spaces[i];
        for (int k = 0; k < before->space_count; k++) {
            const struct config_space *old = &before->spaces[k];
            const int32_t start_s = now->rules.day.start_s;
            if (strcmp(now->name, old->name) == 0 && old->rules.day.start_s != start_s) {
                char from[16];
                char to[16];
                parse_format_time_of_day(old->rules.day.start_s, from, sizeof from);
                parse_format_time_of_day(start_s, to, sizeof to);
                (void)snprintf(buffer, size,
                               "; %s: its light days start at %s from the next one on, not at %s",
                               now->name, to, from);
                return;
            }
        }
    }
}

/* Each warning of what rules now, as an event that outlives the log. */
static void announce_warnings(struct app *app, const struct config_report *report)
{
    const struct announcement what = {
        .wall_s = tick_sure_s(app->tick), .class = JOURNAL_NOTICE, .kind = "reload-warning"};
    for (const char *line = report->text; line && *line;) {
        const int length = (int)strcspn(line, "\n");
        char text[512];
        (void)snprintf(text, sizeof text, "%.*s", length, line);
        const char *folder = strrchr(app->options->config_path, '/');
        const size_t skip = folder ? (size_t)(folder + 1 - app->options->config_path) : 0;
        announce(app->journal, app->alarms, &what, text + (skip < (size_t)length ? skip : 0));
        line += length + (line[length] == '\n');
    }
}

static void change_alarms(struct app *app, const struct config *config)
{
    struct err err = {""};
    const struct alarms_setup setup = {config, app->options->pace};
    if (app->alarms && alarms_change(app->alarms, &setup, &err) < 0) {
        log_error("%s; the old ones go on", err.text);
    }
}

int app_reload(void *context, struct config_report *ret_report, struct err *err)
{
    struct app *app = context;
    struct config *config = NULL;
    int code = app->phase == APP_RUNNING
                   ? load(app, &config, ret_report, err)
                   : err_fail(err, EBUSY, "not while the daemon starts or stops");
    if (config) {
        const char *note = kept_until_restart(tick_config(app->tick), config);
        char moved[192];
        tell_moved_start(tick_config(app->tick), config, moved, sizeof moved);
        code = tick_reload(app->tick, config, err);
        if (code < 0) {
            config_free(config);
        } else {
            (void)err_fail(err, 0, "the configuration was reloaded%s%s", note, moved);
            change_alarms(app, config);
            if (app->page) {
                page_change(app->page, &config->page);
            }
        }
    }
    const struct announcement what = {
        .wall_s = tick_sure_s(app->tick),
        .class = code < 0 ? JOURNAL_NOTICE : JOURNAL_INFO,
        .kind = code < 0 ? "reload-refused" : "reload",
    };
    announce(app->journal, app->alarms, &what, err->text);
    if (code == 0) {
        announce_warnings(app, ret_report);
    }
    return code;
}
