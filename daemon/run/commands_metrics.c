/* SPDX-License-Identifier: Apache-2.0 */
/* The metrics for the operator's command: the same text that the page serves. */
#include "commands_parts.h"

#include "metrics.h"

#include <stdlib.h>

enum control_code commands_metrics(struct commands *commands, const json_t *params, json_t **ret,
                                   struct err *err)
{
    struct snapshot *snapshot = tick_snapshot(commands->tick);
    const struct picture *picture = snapshot_take(snapshot);
    (void)params;
    if (!picture) {
        return commands_refuse(err, CONTROL_BUSY, "the daemon has only just started; ask again");
    }
    char *text = metrics_text(picture);
    snapshot_release(snapshot, picture);
    *ret = text ? json_pack("{s:s}", "text", text) : NULL;
    free(text);
    return *ret ? CONTROL_OK
                : commands_refuse(err, CONTROL_FAILED, "the daemon has no memory for the metrics");
}
