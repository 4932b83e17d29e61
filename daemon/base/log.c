/* SPDX-License-Identifier: Apache-2.0 */
#include "log.h"

#include <errno.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define LINE_MAX_BYTES 1024

/* Set once by main from its arguments; read by every thread. */
static _Atomic int least_level = LOG_LEVEL_INFO;

void log_set_level(enum log_level least)
{
    atomic_store(&least_level, (int)least);
}

static const char *prefix_of(enum log_level level)
{
    switch (level) { /* numbers of syslog (RFC 5424, table 2) as sd-daemon(3) writes them */
    case LOG_LEVEL_ALERT:
        return "<1>";
    case LOG_LEVEL_ERROR:
        return "<3>";
    case LOG_LEVEL_WARNING:
        return "<4>";
    case LOG_LEVEL_INFO:
        return "<6>";
    case LOG_LEVEL_DEBUG:
        return "<7>";
    }
    return "";
}

void log_line(enum log_level level, const char *format, ...)
{
    if ((int)level > atomic_load(&least_level)) {
        return;
    }
    int kept_errno = errno;
    char line[LINE_MAX_BYTES];
    size_t used = 0;
    if (!isatty(STDERR_FILENO)) {
        used = strlen(prefix_of(level));
        memcpy(line, prefix_of(level), used);
    }
    va_list args;
    va_start(args, format);
    int wanted = vsnprintf(line + used, sizeof line - used - 1, format, args);
    va_end(args);
    size_t end = used + strnlen(line + used, sizeof line - used - 1);
    for (size_t i = used; i < end; i++) {
        if ((unsigned char)line[i] < 0x20) {
            line[i] = ' '; /* a stranger's newline must not begin a line of its own */
        }
    }
    if (wanted >= 0) {
        line[end++] = '\n';
        /* One write a line, so that threads do not mix; nowhere to report a failure to. */
        ssize_t done = write(STDERR_FILENO, line, end);
        (void)done;
    }
    errno = kept_errno;
}
