/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The methods of the control protocol. A const table holds what each does; parameters are checked
 * here, and whatever is refused is refused with its reason.
 *
 *   status   {space?}                                → see status.h
 *   plan     {space?}                                → see outlook_json.h
 *   metrics  {}                                      → {text}: see metrics.h
 *   alarms   {}                                      → {alarms: […]}: the commands for events
 *   alarm_test {alarm}                               → {test}: its number; alarms shows when
 *            test_done is as much, and how it ended
 *   hold     {space, level, minutes, break_night?}   → {sentence}
 *   resume   {space}                                 → {sentence}: ends a hand level and trials of
 *                                                      outputs, releases latches
 *   try      {output, value, seconds?, break_night?} → {sentence, space, fixture, kind, seconds}:
 *            moves one output; value is a drive 0 … 1, or for a switch "open" or "closed"
 *   try_end  {output}                                → {sentence}: before its time
 *   gain     {space, accept?, clear?}                → {sentence, gain}: what the lamps' steps say
 *            of the light; accept is "sensor" or "lamp"
 *   reload   {}                                      → {sentence, warnings: […]}
 *   version  {}                                      → {version}
 *   sense, scan_start, scan, scan_end                → see commands_sense.h
 */
#ifndef LAMPWARDEN_COMMANDS_H
#define LAMPWARDEN_COMMANDS_H

#include "tick.h"

#define COMMANDS_HOLD_MAX_MIN 1440.0 /* a hand level ends by itself, within a day */
#define COMMANDS_TRY_S        30.0   /* a trial's usual length */
#define COMMANDS_TRY_MAX_S    600.0

struct commands {
    struct tick *tick;
    const char *version;
    /* err holds a sentence in both cases; the report, empty before, is the caller's to free */
    int (*reload)(void *context, struct config_report *ret_report, struct err *err);
    void *context;
};

/* For control_setup: context is a struct commands. */
char *commands_answer(void *commands, const char *line, size_t size);

#endif
