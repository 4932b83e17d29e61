/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The present state as metrics in the text exposition format 0.0.4 of Prometheus, made from one
 * snapshot. Naming after prometheus.io/docs/practices/naming (read 2025): one prefix, base units
 * (seconds, celsius, joules, moles, ratios 0 … 1), `_total` for counters alone.
 *
 * Counters count since the daemon started, an alarm command's since it was configured, and only
 * ever fall to 0; sums of the open light day are gauges, since they end with it. A state is one
 * gauge for each of its values, 0 or 1. What is not known is left out, never 0. Labels carry names
 * of the configuration and words of fixed lists, nothing that a device or a person said.
 */
#ifndef LAMPWARDEN_METRICS_H
#define LAMPWARDEN_METRICS_H

#include "snapshot.h"

#define METRICS_CONTENT_TYPE "text/plain; version=0.0.4; charset=utf-8"

/* The whole text, malloc'ed; NULL: no memory. Not for the tick's thread: it allocates. */
char *metrics_text(const struct picture *picture);

#endif
