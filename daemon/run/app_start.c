/* SPDX-License-Identifier: Apache-2.0 */
/* Up and down: what the daemon needs before its loop, and its release in reverse. */
#include "app_parts.h"

#include "alarm.h"
#include "clock.h"
#include "crashloop.h"
#include "demonstration.h"
#include "err.h"
#include "journal_read.h"
#include "log.h"
#include "safelist.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

static const double alarms_time_s = 2; /* for what is still to be told at a stop */

const char *app_path(struct app *app, const char *name)
{
    (void)snprintf(app->path_buffer, sizeof app->path_buffer, "%.200s/%s",
                   app->options->runtime_folder, name);
    return app->path_buffer;
}

static int make_folder(const char *path, unsigned mode, struct err *err)
{
    if (mkdir(path, mode) != 0 && errno != EEXIST) {
        int code = errno;
        return err_fail(err, code, "%s: cannot be created: %s", path, err_name(code));
    }
    return 0;
}

/* Two daemons on the same hardware would undo each other's work. */
static int take_lock(struct app *app, struct err *err)
{
    const char *path = app_path(app, "lock");
    app->lock_fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (app->lock_fd < 0) {
        int code = errno;
        return err_fail(err, code, "%s: cannot be opened: %s", path, err_name(code));
    }
    if (flock(app->lock_fd, LOCK_EX | LOCK_NB) != 0) {
        return err_fail(err, EBUSY, "another lampwardend runs with %s",
                        app->options->runtime_folder);
    }
    return 0;
}

/* One list is enough for the stop step; a stale one in the first place would mislead it. Without
 * any the daemon starts all the same: it makes outputs safe when it connects, now and after a
 * crash, which one that does not start never does. */
static int write_safelists(struct app *app, const struct config *config, struct err *err)
{
    char state_path[256];
    struct err trouble = {""};
    const char *path = app_path(app, SAFELIST_FILE);
    int code = safelist_write(config, path, err);
    if (code == -EINVAL) {
        err_prefix(err, "the stop step's list of outputs");
        return code;
    }
    if (code < 0) {
        (void)unlink(path);
        log_error("%s; the stop step has to use the list in %s", err->text,
                  app->options->state_folder);
    }
    (void)snprintf(state_path, sizeof state_path, "%.200s/%s", app->options->state_folder,
                   SAFELIST_FILE);
    int state_code = make_folder(app->options->state_folder, 0750, &trouble);
    if (state_code == 0) {
        state_code = safelist_write(config, state_path, &trouble);
    }
    if (state_code < 0) {
        log_warning("%s; at the next boot outputs are made safe by the daemon alone", trouble.text);
    }
    if (code < 0 && state_code < 0) {
        log_alert("there is no list of outputs: if the daemon is killed, outputs stay as they are "
                  "until it runs again");
    }
    return 0;
}

static int64_t latest_trusted(const struct config *config)
{
    struct journal_reader *reader = NULL;
    struct err err = {""};
    int64_t latest_s = 0;
    if (!config->journal.path[0]) {
        return 0;
    }
    int code = journal_reader_open(config->journal.path, &reader, &err);
    if (code == 0) {
        latest_s = journal_read_trusted(reader);
        journal_reader_close(reader);
    } else if (code != -ENOENT) {
        log_warning("%s; going on without what it holds", err.text);
    }
    return latest_s;
}

/* A demonstration writes once a second of real time: the disk is not on the stage. */
static int open_journal(struct app *app, const struct config *config, struct err *err)
{
    const struct journal_options options = {
        .path = config->journal.path,
        .commit_s = fmax(config->journal.commit_s, app->options->pace),
        .keep_days = config->journal.keep_days,
    };
    return config->journal.path[0] ? journal_open(&options, &app->journal, err) : 0;
}

static void open_control(struct app *app, const struct config *config)
{
    struct err err = {""};
    app->commands = (struct commands){app->tick, app->options->version, app_reload, app};
    const struct control_setup setup = {config->control.socket, config->control.group,
                                        commands_answer, &app->commands};
    if (config->control.socket[0] && control_open(&setup, &app->control, &err) < 0) {
        log_error("control socket: %s; running without it", err.text);
    }
}

/* What it shows is the tick's; it never holds it up. */
static void open_page(struct app *app, const struct config *config)
{
    struct err err = {""};
    const struct page_setup setup = {.config = config->page,
                                     .snapshot = tick_snapshot(app->tick),
                                     .journal_path = config->journal.path,
                                     .version = app->options->version};
    if (page_open(&setup, &app->page, &err) < 0) {
        log_error("page: %s; the light goes on without it", err.text);
    }
}

static void open_alarms(struct app *app, const struct config *config)
{
    struct err err = {""};
    const struct alarms_setup setup = {config, app->options->pace};
    if (alarms_open(&setup, &app->alarms, &err) < 0) {
        log_error("%s; nobody outside is told of events", err.text);
    }
}

static int open_tick(struct app *app, struct config *config, int64_t latest_s, struct err *err)
{
    const struct tick_setup setup = {
        .config = config,
        .journal = app->journal,
        .alarms = app->alarms,
        .resume_path = app_path(app, "resume"),
        .build_s = app->options->build_s,
        .latest_s = latest_s,
        .now_wall_ns = clock_wall_ns(),
        .now_boot_ns = app->begun_ns,
        .sync = clock_kernel_sync(),
        .in_crash_loop = app->in_crash_loop,
        .pace = app->options->pace,
    };
    return tick_create(&setup, &app->tick, err);
}

int app_open(struct app *app, struct config *config, struct err *err)
{
    app->begun_ns = clock_boot_ns();
    app_override(app->options, config);
    int code = make_folder(app->options->runtime_folder, 0755, err);
    if (code == 0) {
        code = take_lock(app, err);
    }
    if (code == 0 && app->options->pace > 0) {
        demonstration_clear(app->options->runtime_folder);
    }
    if (code == 0) {
        code = write_safelists(app, config, err);
    }
    int64_t latest_s = 0;
    if (code == 0) {
        app->in_crash_loop = crashloop_note_start(app_path(app, "starts"), app->begun_ns);
        latest_s = latest_trusted(config);
        code = open_journal(app, config, err);
        open_alarms(app, config);
    }
    if (code == 0) {
        code = open_tick(app, config, latest_s, err);
    }
    if (code < 0) {
        config_free(config);
        return code;
    }
    open_control(app, tick_config(app->tick));
    open_page(app, tick_config(app->tick));
    return 0;
}

void app_close(struct app *app)
{
    bool was_up = app->tick != NULL;
    control_close(app->control);
    page_close(app->page); /* outputs are safe by now */
    tick_destroy(app->tick);
    journal_close(app->journal);
    alarms_close(app->alarms, alarms_time_s); /* last: nothing else waits for a foreign program */
    if (was_up) {
        crashloop_note_stop(app_path(app, "starts"));
    }
    sd_event_unref(app->loop);
    if (app->timer_fd >= 0) {
        (void)close(app->timer_fd);
    }
    if (app->lock_fd >= 0) {
        (void)close(app->lock_fd);
    }
}
