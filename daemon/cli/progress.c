/* SPDX-License-Identifier: Apache-2.0 */
#include "progress.h"

#include "clock.h"
#include "parse.h"
#include "units.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum { BAR_WIDTH = 16, USUAL_COLUMNS = 80 };

static const int64_t pause_ns = CLOCK_NS_PER_S / 5;

void progress_begin(struct progress *progress, bool is_wanted)
{
    const int64_t now_ns = clock_boot_ns();
    *progress = (struct progress){.is_wanted = is_wanted && isatty(STDERR_FILENO),
                                  .begin_ns = now_ns,
                                  .last_ns = now_ns + CLOCK_NS_PER_S - pause_ns};
}

/* A line that is wider than the terminal could not be written over. */
static size_t columns(void)
{
    struct winsize size;
    return ioctl(STDERR_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col
                                                                           : USUAL_COLUMNS;
}

/* Bytes of so many characters of UTF-8 at most. */
static size_t bytes_of(const char *text, size_t characters)
{
    size_t at = 0;
    while (text[at]) {
        const bool is_begin = ((unsigned char)text[at] & 0xc0) != 0x80;
        if (is_begin && characters-- == 0) {
            break;
        }
        at++;
    }
    return at;
}

static void put_left(char *ret, size_t size, double done, int64_t spent_ns)
{
    char left[32] = "";
    if (done > 0.02) {
        const double spent_s = (double)spent_ns / (double)CLOCK_NS_PER_S;
        parse_format_duration(ceil(spent_s * (1 - done) / done), left, sizeof left);
    }
    (void)snprintf(ret, size, "%s%s", left[0] ? ", left: " : "", left);
}

void progress_show(struct progress *progress, double share, const char *words)
{
    const int64_t now_ns = progress->is_wanted ? clock_boot_ns() : 0;
    if (!progress->is_wanted || now_ns - progress->last_ns < pause_ns) {
        return;
    }
    progress->last_ns = now_ns;
    progress->is_there = true;
    const double done = units_clamp(share, 0, 1);
    char bar[BAR_WIDTH + 1] = "";
    memset(bar, '.', BAR_WIDTH);
    memset(bar, '#', (size_t)lround(done * BAR_WIDTH));
    char left[48];
    put_left(left, sizeof left, done, now_ns - progress->begin_ns);
    char line[256];
    (void)snprintf(line, sizeof line, "[%s] %3.0f %%  %s%s", bar, floor(100 * done), words, left);
    (void)fprintf(stderr, "\r%.*s\033[K", (int)bytes_of(line, columns() - 1), line);
    (void)fflush(stderr);
}

void progress_clear(struct progress *progress)
{
    if (progress->is_there) {
        progress->is_there = false;
        (void)fputs("\r\033[K", stderr);
        (void)fflush(stderr);
    }
}
