/* SPDX-License-Identifier: Apache-2.0 */
#include "tickrun.h"

#include "err.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

struct tick *tickrun_begin(struct config *config, const char *resume_path, int64_t wall_s)
{
    struct err err = {""};
    struct tick *tick = NULL;
    const struct tick_setup setup = {
        .config = config,
        .resume_path = resume_path,
        .build_s = 1790000000,
        .now_boot_ns = clock_boot_ns(),
        .now_wall_ns = wall_s * CLOCK_NS_PER_S,
        .sync = CLOCK_SYNC_YES,
    };
    if (tick_create(&setup, &tick, &err) < 0) {
        fail_msg("%s", err.text);
    }
    tick_let_light(tick, clock_boot_ns());
    return tick;
}

void tickrun_at(struct tick *tick, int64_t wall_s, enum clock_sync sync)
{
    const struct tick_time time = {
        .boot_ns = clock_boot_ns(), .wall_ns = wall_s * CLOCK_NS_PER_S, .sync = sync};
    assert_true(tick_run(tick, &time));
}
