/* SPDX-License-Identifier: Apache-2.0 */
#include "commands_parts.h"

#include "parse.h"

#include <errno.h>
#include <stdio.h>

void commands_explain_night(const struct config *config, int space, const struct picture_space *its,
                            struct err *err)
{
    const struct stage_today *today = &its->verdict.stage;
    const struct config_space *of = &config->spaces[space];
    const char *what = "it is outside the stages' days";
    char until[40] = "";
    if (today->phase == STAGE_RUNNING) {
        what = of->rules.stages[today->index].protects_night
                   ? "it is night, and the stage needs it unbroken: light now can keep short-day "
                     "plants from flowering"
                   : "it is night";
    }
    if (its->verdict.place.until_on_s > 0) {
        char time[12];
        int64_t on_s = its->now.wall_s + its->verdict.place.until_on_s;
        parse_format_time_of_day(lightday_second(&of->rules.day, on_s), time, sizeof time);
        (void)snprintf(until, sizeof until, " (lights-on is at %s)", time);
    }
    (void)err_fail(err, EPERM,
                   "%s: %s%s. Not done; to light it all the same, say so with --break-night",
                   of->name, what, until);
}
