/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Lines on stderr with the severity prefix that journald reads ("<4>"), or without it on a
 * terminal. Only `run`, `cli` and the programs' main files log; base, core and drivers stay silent.
 * A line says what failed, on what, why, and what happens next. Safe in threads: one write a line.
 */
#ifndef LAMPWARDEN_LOG_H
#define LAMPWARDEN_LOG_H

enum log_level {
    LOG_LEVEL_ALERT,
    LOG_LEVEL_ERROR,
    LOG_LEVEL_WARNING,
    LOG_LEVEL_INFO,
    LOG_LEVEL_DEBUG
};

/* Lines below this level of urgency are dropped; the default is LOG_LEVEL_INFO. */
void log_set_level(enum log_level least);

void log_line(enum log_level level, const char *format, ...) __attribute__((format(printf, 2, 3)));

#define log_alert(...)   log_line(LOG_LEVEL_ALERT, __VA_ARGS__)
#define log_error(...)   log_line(LOG_LEVEL_ERROR, __VA_ARGS__)
#define log_warning(...) log_line(LOG_LEVEL_WARNING, __VA_ARGS__)
#define log_info(...)    log_line(LOG_LEVEL_INFO, __VA_ARGS__)
#define log_debug(...)   log_line(LOG_LEVEL_DEBUG, __VA_ARGS__)

#endif
