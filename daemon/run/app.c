/* SPDX-License-Identifier: Apache-2.0 */
#include "app_parts.h"

#include "announce.h"
#include "clock.h"
#include "demonstration.h"
#include "err.h"
#include "log.h"
#include "status.h"

#include <errno.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <sys/timerfd.h>
#include <systemd/sd-daemon.h>
#include <unistd.h>

static const int64_t tick_ns = CLOCK_NS_PER_S;
static const int64_t phase_ns =
    10 * CLOCK_NS_PER_MS; /* ticks lie this far behind the wall second */
static const int64_t stop_step_ns = 50 * CLOCK_NS_PER_MS;
static const int64_t stop_limit_ns = 3 * CLOCK_NS_PER_S;
static const int64_t light_delay_ns = 2 * CLOCK_NS_PER_S;
static const int64_t crash_delay_ns = 30 * CLOCK_NS_PER_S;
static const uint64_t status_every = 60;

static void tell(struct app *app, enum journal_class class, const char *kind, const char *text)
{
    const struct announcement what = {
        .wall_s = tick_sure_s(app->tick), .class = class, .kind = kind};
    announce(app->journal, app->alarms, &what, text);
}

/* first_ns: boot time */
static void set_timer(const struct app *app, int64_t first_ns, int64_t every_ns)
{
    const int64_t real_ns = clock_real_ns() + first_ns - clock_boot_ns();
    const struct itimerspec when = {
        .it_value = {.tv_sec = real_ns / CLOCK_NS_PER_S, .tv_nsec = real_ns % CLOCK_NS_PER_S},
        .it_interval = {.tv_sec = every_ns / CLOCK_NS_PER_S, .tv_nsec = every_ns % CLOCK_NS_PER_S},
    };
    (void)timerfd_settime(app->timer_fd, TFD_TIMER_ABSTIME, &when,
                          NULL); /* the fd and times are good */
}

/* Whoever reads the journal of a demonstration is told what it is. */
static void tell_start(struct app *app)
{
    char words[DEMONSTRATION_WORDS] = "";
    char text[160];
    if (app->options->pace > 0) {
        demonstration_words(app->options->pace, words, sizeof words);
    }
    (void)snprintf(text, sizeof text,
                   "started%s%s%s; every output was verified safe or is in fault",
                   words[0] ? " as a demonstration (" : "", words, words[0] ? ")" : "");
    tell(app, JOURNAL_INFO, "started", text);
}

static void become_ready(struct app *app, int64_t boot_ns)
{
    int64_t from_ns = boot_ns + light_delay_ns;
    if (app->in_crash_loop) {
        from_ns += crash_delay_ns;
        tell(app, JOURNAL_ALARM, "crash-loop",
             "ended abnormally several times in ten minutes; contacts stay open for 30 s more");
    }
    tell_start(app);
    tick_let_light(app->tick, from_ns);
    app->phase = APP_RUNNING;
    (void)sd_notify(0, "READY=1");
    app_pace_begin(app, boot_ns);
}

static void show_status(struct app *app)
{
    char line[160];
    const struct picture *picture = snapshot_take(tick_snapshot(app->tick));
    if (picture) {
        status_line(picture, line, sizeof line);
        snapshot_release(tick_snapshot(app->tick), picture);
        (void)sd_notifyf(0, "STATUS=%s", line);
    }
}

static void stop_step(struct app *app, int64_t boot_ns)
{
    app->is_verified = tick_make_safe(app->tick, boot_ns);
    if (app->is_verified || boot_ns >= app->stop_by_ns) {
        (void)sd_event_exit(app->loop, 0);
    }
}

static void run_second(struct app *app, int64_t boot_ns, uint64_t expirations)
{
    const struct tick_time time = {
        .boot_ns = boot_ns,
        .wall_ns = clock_wall_ns(),
        .sync = clock_kernel_sync(),
        .overruns = app->is_paced ? 0 : expirations - 1,
    };
    bool is_well = tick_run(app->tick, &time);
    if (app->phase == APP_STARTING && tick_outputs_are_decided(app->tick)) {
        become_ready(app, boot_ns);
    }
    if (is_well) {
        (void)sd_notify(0, "WATCHDOG=1"); /* only here: a complete tick, and every worker in time */
    }
    if (app->seconds++ % (status_every * (uint64_t)clock_pace()) == 3) {
        show_status(app);
    }
    if (app->control) {
        control_sweep(app->control, clock_real_ns());
    }
}

static int on_timer(sd_event_source *source, int fd, uint32_t events, void *context)
{
    struct app *app = context;
    uint64_t expirations = 0;
    (void)source;
    (void)events;
    if (read(fd, &expirations, sizeof expirations) != (ssize_t)sizeof expirations) {
        return 0; /* woken for nothing */
    }
    int64_t boot_ns = clock_boot_ns();
    if (app->phase == APP_STOPPING) {
        stop_step(app, boot_ns);
    } else if (!app->is_paced) {
        run_second(app, boot_ns, expirations);
    } else if (app_pace_is_due(app, boot_ns)) {
        run_second(app, boot_ns, expirations);
        app_pace_rest(app);
    }
    return 0;
}

static int on_control(sd_event_source *source, int fd, uint32_t events, void *context)
{
    struct app *app = context;
    (void)source;
    (void)fd;
    (void)events;
    control_dispatch(app->control, clock_real_ns());
    return 0;
}

static int on_stop(sd_event_source *source, const struct signalfd_siginfo *info, void *context)
{
    struct app *app = context;
    (void)source;
    if (app->phase == APP_STOPPING) {
        return 0;
    }
    log_info("stopping after %s", info->ssi_signo == SIGTERM ? "SIGTERM" : "SIGINT");
    (void)sd_notify(0, "STOPPING=1");
    app->phase = APP_STOPPING;
    app_pace_end(app);
    int64_t now_ns = clock_boot_ns();
    app->stop_by_ns = now_ns + stop_limit_ns;
    set_timer(app, now_ns + 1, stop_step_ns);
    return 0;
}

static int on_reload(sd_event_source *source, const struct signalfd_siginfo *info, void *context)
{
    struct err err = {""};
    struct config_report report = {0};
    (void)source;
    (void)info;
    (void)app_reload(context, &report, &err); /* it logs what it did */
    config_report_free(&report);
    return 0;
}

/* The timer comes first: a busy client never holds up a tick by more than one answer. */
static int fill_loop(struct app *app)
{
    sd_event_source *timer = NULL;
    int code = sd_event_add_io(app->loop, &timer, app->timer_fd, EPOLLIN, on_timer, app);
    if (code >= 0) {
        code = sd_event_source_set_priority(timer, SD_EVENT_PRIORITY_IMPORTANT);
        (void)sd_event_source_set_floating(timer, 1);
        sd_event_source_unref(timer);
    }
    if (code >= 0) {
        code = sd_event_add_signal(app->loop, NULL, SIGTERM, on_stop, app);
    }
    if (code >= 0) {
        code = sd_event_add_signal(app->loop, NULL, SIGINT, on_stop, app);
    }
    if (code >= 0) {
        code = sd_event_add_signal(app->loop, NULL, SIGHUP, on_reload, app);
    }
    if (code >= 0 && app->control) {
        code = sd_event_add_io(app->loop, NULL, control_fd(app->control), EPOLLIN, on_control, app);
    }
    return code;
}

static void block_signals(void)
{
    sigset_t signals;
    sigemptyset(&signals);
    sigaddset(&signals, SIGTERM);
    sigaddset(&signals, SIGINT);
    sigaddset(&signals, SIGHUP);
    (void)sigprocmask(SIG_BLOCK, &signals, NULL);
    (void)signal(SIGPIPE, SIG_IGN); /* a peer that left is an errno */
    (void)signal(SIGXFSZ, SIG_IGN); /* so is a file that may not grow */
}

/* Ticks fall just behind the full second of wall time, so that "06:00" is 06:00:00. */
static void start_ticking(const struct app *app)
{
    int64_t wall_ns = clock_wall_ns();
    int64_t boot_ns = clock_boot_ns();
    int64_t into_second_ns = wall_ns % CLOCK_NS_PER_S;
    set_timer(app, boot_ns + tick_ns - into_second_ns + phase_ns, tick_ns);
}

static int loop(struct app *app, struct err *err)
{
    app->timer_fd = timerfd_create(CLOCK_BOOTTIME, TFD_CLOEXEC | TFD_NONBLOCK);
    int code = app->timer_fd < 0 ? -errno : sd_event_new(&app->loop);
    if (code >= 0) {
        code = fill_loop(app);
    }
    if (code < 0) {
        return err_fail(err, -code, "the main loop cannot be made: %s", err_name(code));
    }
    start_ticking(app);
    code = sd_event_loop(app->loop);
    return code < 0 ? err_fail(err, -code, "the main loop failed: %s", err_name(code)) : 0;
}

static void say_goodbye(struct app *app)
{
    if (!app->is_verified) {
        tell(app, JOURNAL_ALARM, "stop-unverified",
             "not every output was seen to be safe within 3 s; the stop step tries again");
    }
    tick_finish_records(app->tick);
    tell(app, JOURNAL_INFO, "stopped", "stopped");
}

int app_run(const struct app_options *options, struct config *config, struct err *err)
{
    struct app app = {.options = options, .timer_fd = -1, .lock_fd = -1};
    struct demonstration demonstration;
    block_signals();
    int code = 0;
    if (options->pace > 0) {
        code = demonstration_check(config, options->pace, err);
        if (code == 0) {
            code = demonstration_begin(&demonstration, options, config, err);
        }
        if (code < 0) {
            config_free(config);
            return code;
        }
        app.options = &demonstration.options;
    }
    code = app_open(&app, config, err);
    if (code == 0) {
        code = loop(&app, err);
        say_goodbye(&app);
    }
    app_close(&app);
    return code;
}
