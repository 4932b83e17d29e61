/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The installer's methods: what the sensors say, and who answers on a bus. Parts of the table in
 * commands.c.
 *
 *   sense       {}                → {uptime_s, sensors}: see sense.h; their ages count at uptime_s
 *   scan_start  {bus, from?, to?}  → the answer of scan; its `scan` is the number of this scan
 *   scan        {bus, scan, seen?} → {scan, running, from, to, next, found, reason}: news; `found`
 *               holds {address, garbled, words} behind the first `seen`. Unasked for 5 s it ends
 *   scan_end    {bus, scan, seen?} → the same, the last time
 */
#ifndef LAMPWARDEN_COMMANDS_SENSE_H
#define LAMPWARDEN_COMMANDS_SENSE_H

#include "commands.h"
#include "control_proto.h"

#include <jansson.h>

enum control_code commands_sense(struct commands *commands, const json_t *params, json_t **ret,
                                 struct err *err);
enum control_code commands_scan_start(struct commands *commands, const json_t *params, json_t **ret,
                                      struct err *err);
enum control_code commands_scan(struct commands *commands, const json_t *params, json_t **ret,
                                struct err *err);
enum control_code commands_scan_end(struct commands *commands, const json_t *params, json_t **ret,
                                    struct err *err);

#endif
