/* SPDX-License-Identifier: Apache-2.0 */
/* The inside of the daemon, shared by app.c, app_start.c and app_reload.c alone. */
#ifndef LAMPWARDEN_APP_PARTS_H
#define LAMPWARDEN_APP_PARTS_H

#include "app.h"
#include "commands.h"
#include "control.h"
#include "page.h"
#include "tick.h"

#include <stdbool.h>
#include <systemd/sd-event.h>

enum app_phase { APP_STARTING, APP_RUNNING, APP_STOPPING };

struct app {
    const struct app_options *options;
    struct journal *journal;
    struct tick *tick;
    struct alarms *alarms;   /* NULL: no memory, or no thread for them */
    struct control *control; /* NULL: none could be opened */
    struct page *page;       /* NULL: no memory, or no thread for it */
    struct commands commands;
    sd_event *loop;
    int timer_fd;
    int lock_fd;
    char path_buffer[256];
    enum app_phase phase;
    bool in_crash_loop, is_verified;
    int64_t begun_ns, stop_by_ns; /* boot times */
    uint64_t seconds;             /* ticks while running, for what is done now and then */
    /* of a demonstration */
    bool is_paced;
    int64_t next_ns;        /* boot time of the next tick */
    int64_t ticked_real_ns; /* real time of the last */
    int64_t due_real_ns;    /* when the next should come by the pace */
};

/* "FOLDER/NAME" in the app's buffer, valid until the next call. */
const char *app_path(struct app *app, const char *name);

/* app_start.c: everything that may fail before READY. */
int app_open(struct app *app, struct config *config, struct err *err);
void app_close(struct app *app); /* any half-opened app is fine */

/* app_reload.c: 0 with a sentence of what was done, or negative with the reason; the old
 * configuration stays. What was found in the file is the caller's (config_report_free). */
int app_reload(void *app, struct config_report *ret_report, struct err *err);
void app_override(const struct app_options *options, struct config *config);

/* app_pace.c: the ticks of a demonstration; in earnest it does nothing. */
void app_pace_begin(struct app *app, int64_t boot_ns);
bool app_pace_is_due(struct app *app, int64_t boot_ns); /* else it comes back by itself */
void app_pace_rest(struct app *app);                    /* until the next tick */
void app_pace_end(struct app *app);

#endif
