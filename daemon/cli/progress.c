/* SPDX-License-Identifier: Apache-2.0 */
#include "progress.h"

#include "clock.h"
#include "parse.h"
#include "units.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { BAR_WIDTH = 24 };

static const int64_t pause_ns = CLOCK_NS_PER_S / 5;

void progress_begin(struct progress *progress, bool is_wanted)
{
    const int64_t now_ns = clock_boot_ns();
    *progress = (struct progress){.is_wanted = is_wanted && isatty(STDERR_FILENO),
                                  .begin_ns = now_ns,
                                  .last_ns = now_ns + CLOCK_NS_PER_S - pause_ns};
}

void progress_show(struct progress *progress, double share, const char *words)
{
    if (!progress->is_wanted) {
        return;
    }
    const int64_t now_ns = clock_boot_ns();
    if (now_ns - progress->last_ns < pause_ns) {
        return;
    }
    progress->last_ns = now_ns;
    const double done = units_clamp(share, 0, 1);
    const double spent_s = (double)(now_ns - progress->begin_ns) / (double)CLOCK_NS_PER_S;
    char bar[BAR_WIDTH + 1] = "";
    memset(bar, '.', BAR_WIDTH);
    memset(bar, '#', (size_t)lround(done * BAR_WIDTH));
    char left[32] = "";
    if (done > 0.02) {
        parse_format_duration(ceil(spent_s * (1 - done) / done), left, sizeof left);
    }
    (void)fprintf(stderr, "\r[%s] %3.0f %%  %s%s%s\033[K", bar, floor(100 * done), words,
                  left[0] ? ", left: " : "", left);
    (void)fflush(stderr);
    progress->is_there = true;
}

void progress_clear(struct progress *progress)
{
    if (progress->is_there) {
        progress->is_there = false;
        (void)fputs("\r\033[K", stderr);
        (void)fflush(stderr);
    }
}
