/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The ticks of a demonstration. Each is one second of stage time behind the last, to the
 * nanosecond; stage time stands still there until the tick has come and every bus worker has done
 * what was due. So a machine that is slow, or busy with something else, plays more slowly and never
 * leaves out a second, and a hiccup of it is no lost sensor. Between ticks stage time goes a little
 * faster than the pace, which leaves the workers some of each tick's real time; the ticks keep it.
 */
#include "app_parts.h"

#include "clock.h"

#include <sys/timerfd.h>

static const int64_t second_ns = CLOCK_NS_PER_S;
static const double haste = 1.25;
static const int64_t arrears_ns = 2 * CLOCK_NS_PER_S;      /* real: what is made up for, at most */
static const int64_t look_again_ns = CLOCK_NS_PER_MS / 10; /* real: whether the workers are done */
static const int64_t patience_ns = 3 * CLOCK_NS_PER_S;     /* real: then without them */

static void wake_at(const struct app *app, int64_t real_ns)
{
    const struct itimerspec when = {
        .it_value = {.tv_sec = real_ns / CLOCK_NS_PER_S, .tv_nsec = real_ns % CLOCK_NS_PER_S}};
    (void)timerfd_settime(app->timer_fd, TFD_TIMER_ABSTIME, &when, NULL); /* fd, time are good */
}

void app_pace_begin(struct app *app, int64_t boot_ns)
{
    if (app->options->pace <= 0) {
        return;
    }
    app->is_paced = true;
    app->next_ns = boot_ns + second_ns;
    app->ticked_real_ns = clock_real_ns();
    app->due_real_ns = app->ticked_real_ns;
    clock_let_go_until(app->next_ns);
    clock_set_pace(app->options->pace * haste);
    app_pace_rest(app);
}

bool app_pace_is_due(struct app *app, int64_t boot_ns)
{
    const int64_t real_ns = clock_real_ns();
    if (boot_ns < app->next_ns) {
        wake_at(app, real_ns + clock_to_real_ns(app->next_ns - boot_ns));
        return false;
    }
    if (channels_are_behind(tick_channels(app->tick), boot_ns) &&
        real_ns - app->ticked_real_ns < patience_ns) {
        wake_at(app, real_ns + look_again_ns);
        return false;
    }
    app->next_ns += second_ns;
    app->ticked_real_ns = real_ns;
    clock_let_go_until(app->next_ns);
    return true;
}

void app_pace_rest(struct app *app)
{
    const int64_t earliest_ns = app->ticked_real_ns - arrears_ns;
    app->due_real_ns = app->due_real_ns > earliest_ns ? app->due_real_ns : earliest_ns;
    app->due_real_ns += (int64_t)((double)second_ns / app->options->pace);
    wake_at(app, app->due_real_ns);
}

/* Outputs become safe, and the journal closes, in real time. */
void app_pace_end(struct app *app)
{
    app->is_paced = false;
    clock_set_pace(1);
    clock_let_go_until(INT64_MAX);
}
