/* SPDX-License-Identifier: Apache-2.0 */
/* Private to sweep.c and sweep_run.c: a sweep on the lamp of a running daemon. */
#ifndef LAMPWARDEN_SWEEP_RUN_H
#define LAMPWARDEN_SWEEP_RUN_H

#include "progress.h"
#include "sweep_parts.h"

struct sweep_run {
    struct sweep_lamp lamp; /* opened */
    struct sweep_rules rules;
    struct ceilingsearch_rules ceiling_rules;
    bool seeks_ceiling, asks_watts;
    struct progress progress; /* begun */
    struct sweep *sweep;
    struct sweep_finding finding;
};

/* Minutes. 0 with the finding filled; -EINTR, -ENODATA (given up), -EDOM, or as of client.h.
 * However it ends, the plan rules again. */
int sweep_run(struct sweep_run *run, struct err *err);

#endif
