/* SPDX-License-Identifier: Apache-2.0 */
/* Shared by the files that hold the methods of commands.h, and by them alone. */
#ifndef LAMPWARDEN_COMMANDS_PARTS_H
#define LAMPWARDEN_COMMANDS_PARTS_H

#include "commands.h"
#include "control_proto.h"
#include "err.h"

/* Puts the sentence into err; returns code, so that a method can end with it. */
enum control_code commands_refuse(struct err *err, enum control_code code, const char *sentence);
json_t *commands_sentence(const char *text); /* {"sentence": text} */

/* → an index, or −1 with a sentence that names the spaces there are. */
int commands_find_space(const struct config *config, const json_t *params, struct err *err);

/* What light now would do to a night, for someone who may not have thought of it. */
void commands_explain_night(const struct config *config, int space, const struct picture_space *its,
                            struct err *err);

/* commands_gain.c */
enum control_code commands_gain(struct commands *commands, const json_t *params, json_t **ret,
                                struct err *err);

/* commands_metrics.c */
enum control_code commands_metrics(struct commands *commands, const json_t *params, json_t **ret,
                                   struct err *err);

/* commands_alarm.c */
enum control_code commands_alarms(struct commands *commands, const json_t *params, json_t **ret,
                                  struct err *err);
enum control_code commands_alarm_test(struct commands *commands, const json_t *params, json_t **ret,
                                      struct err *err);

/* commands_try.c: one output moved by hand. */
enum control_code commands_try(struct commands *commands, const json_t *params, json_t **ret,
                               struct err *err);
enum control_code commands_try_end(struct commands *commands, const json_t *params, json_t **ret,
                                   struct err *err);
void commands_end_trials(struct commands *commands, int space); /* of all its fixtures */

#endif
