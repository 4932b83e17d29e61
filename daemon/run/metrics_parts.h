/* SPDX-License-Identifier: Apache-2.0 */
/* The inside of metrics.h: families in tables, one table for each kind of thing they belong to. */
#ifndef LAMPWARDEN_METRICS_PARTS_H
#define LAMPWARDEN_METRICS_PARTS_H

#include "metrics.h"

enum metric_type { METRIC_GAUGE, METRIC_COUNTER };

/* One sample is of a thing (by its index) and, with `words`, of one word of a fixed list. */
struct metric {
    const char *name; /* without "lampwarden_" */
    const char *help;
    enum metric_type type;
    double (*value)(const struct picture *picture, int index, int word); /* NaN: left out */
    const char *label;              /* of the word; NULL: no list */
    const char *(*words)(int word); /* NULL behind the last one */
};

struct metric_table {
    const struct metric *metrics;                /* ended by a row without a name */
    int (*count)(const struct picture *picture); /* things; 1 for the daemon itself */
    /* Writes 'space="lettuce"' and the like; NULL: the daemon itself, no labels. */
    void (*labels)(const struct picture *picture, int index, FILE *out);
};

/* name="value" with the value escaped as the format asks, and in UTF-8. */
void metrics_label(FILE *out, const char *name, const char *value);

extern const struct metric_table metrics_daemon, metrics_alarms, metrics_buses, metrics_sensors,
    metrics_outputs, metrics_spaces, metrics_fixtures;

#endif
