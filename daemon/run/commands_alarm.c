/* SPDX-License-Identifier: Apache-2.0 */
/* The commands that are run for events, and a test of one. */
#include "commands_parts.h"

#include "alarm.h"

#include <errno.h>

static json_t *result_json(const struct alarm_result *result)
{
    return json_pack("{s:s,s:f,s:o}", "outcome", alarm_outcome_name(result->outcome), "seconds",
                     result->seconds, "reason", control_text(result->reason));
}

enum control_code commands_alarms(struct commands *commands, const json_t *params, json_t **ret,
                                  struct err *err)
{
    struct alarms *alarms = tick_alarms(commands->tick);
    const struct config *config = tick_config(commands->tick);
    json_t *array = json_array();
    (void)params;
    (void)err;
    for (int i = 0; i < alarms_count(alarms); i++) {
        struct alarm_view view;
        alarms_look(alarms, i, &view);
        json_t *runs = json_object();
        uint64_t all = 0;
        for (int k = 0; k < ALARM_OUTCOMES; k++) {
            all += view.runs[k];
            json_object_set_new(runs, alarm_outcome_name((enum alarm_outcome)k),
                                json_integer((json_int_t)view.runs[k]));
        }
        json_array_append_new(
            array, json_pack("{s:s,s:f,s:o,s:I,s:o,s:I,s:o}", "alarm", view.name, "time_limit_s",
                             config->alarms[i].limit_s, "runs", runs, "held_back",
                             (json_int_t)view.held_back, "last",
                             all > 0 ? result_json(&view.last) : json_null(), "test_done",
                             (json_int_t)view.test_done, "test",
                             view.test_done > 0 ? result_json(&view.test) : json_null()));
    }
    *ret = json_pack("{s:o}", "alarms", array);
    return CONTROL_OK;
}

enum control_code commands_alarm_test(struct commands *commands, const json_t *params, json_t **ret,
                                      struct err *err)
{
    const char *name = json_string_value(json_object_get(params, "alarm"));
    const int64_t number = name ? alarms_test(tick_alarms(commands->tick), name) : -1;
    if (number < 0) {
        (void)err_fail(err, ENOENT, "there is no alarm '%.64s'; lampwarden alarm lists them",
                       name ? name : "");
        return CONTROL_INVALID_PARAMS;
    }
    *ret = json_pack("{s:I}", "test", (json_int_t)number);
    return CONTROL_OK;
}
