/* SPDX-License-Identifier: Apache-2.0 */
/* The rest of the light day, as it is planned. */
#include "commands_parts.h"

#include "outlook_json.h"

enum control_code commands_plan(struct commands *commands, const json_t *params, json_t **ret,
                                struct err *err)
{
    int space = -1;
    const struct picture *picture = snapshot_take(tick_snapshot(commands->tick));
    if (!picture) {
        return commands_refuse(err, CONTROL_FAILED, "the daemon has only just started; ask again");
    }
    if (json_object_get(params, "space")) {
        space = commands_find_space(picture->config, params, err);
    }
    const bool is_known = space >= 0 || !json_object_get(params, "space");
    if (is_known) {
        *ret = outlook_json(picture, space);
    }
    snapshot_release(tick_snapshot(commands->tick), picture);
    return is_known ? CONTROL_OK : CONTROL_INVALID_PARAMS;
}
