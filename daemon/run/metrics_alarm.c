/* SPDX-License-Identifier: Apache-2.0 */
/* Metrics of the commands that are run for events. */
#include "metrics_parts.h"

static int count(const struct picture *picture)
{
    return picture->alarm_count;
}

static void labels(const struct picture *picture, int index, FILE *out)
{
    metrics_label(out, "alarm", picture->alarms[index].name);
}

static const char *outcome_word(int word)
{
    return word < ALARM_OUTCOMES ? alarm_outcome_name((enum alarm_outcome)word) : NULL;
}

static double runs(const struct picture *picture, int index, int word)
{
    return (double)picture->alarms[index].runs[word];
}

static double held_back(const struct picture *picture, int index, int word)
{
    (void)word;
    return (double)picture->alarms[index].held_back;
}

static double failing(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->alarms[index].is_failing;
}

static const struct metric metrics[] = {
    {"alarm_runs_total", "Runs of the command since it was configured, by how they ended.",
     METRIC_COUNTER, runs, "outcome", outcome_word},
    {"alarm_held_back_total", "Events that were not told by a run of their own.", METRIC_COUNTER,
     held_back, NULL, NULL},
    {"alarm_failing", "1: its last run did not work.", METRIC_GAUGE, failing, NULL, NULL},
    {0},
};

const struct metric_table metrics_alarms = {metrics, count, labels};
