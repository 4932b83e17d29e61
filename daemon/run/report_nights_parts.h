/* SPDX-License-Identifier: Apache-2.0 */
/* The insides of the night check, shared by the report_nights*.c files. */
#ifndef LAMPWARDEN_REPORT_NIGHTS_PARTS_H
#define LAMPWARDEN_REPORT_NIGHTS_PARTS_H

#include "report_nights.h"

/* What the summary of a light day says of its night hours. */
struct night_day {
    int64_t light_day, begin_s;
    double dose_umol_m2, longest_s, possible_umol_m2, daylight_mol;
    bool has_stage;
    int64_t lights_on_s, lights_off_s;
};

struct night_days {
    int count;
    struct night_day *days; /* rising */
};

/* NULL: not stored. */
const struct night_day *night_days_find(const struct night_days *days, int64_t light_day);

/* NULL: no memory. */
struct night *report_nights_add(struct report_nights *report, const struct night *night);

/* Adds the nights, from light day `first` on, of which the summaries alone are left: from a day's
 * last lights-off to the next one's first lights-on. They come before those with minutes. -ENOMEM.
 */
int report_nights_summaries(struct report_nights *report, const struct night_days *days,
                            int64_t first);

/* Fills dose, longest light and what is possible of night `index`. */
void report_nights_sum(const struct report_nights *report, const struct night_days *days,
                       int index);

/* Leaves out the nights that do not begin in [first, last]: they were read to know where the others
 * begin and end. */
void report_nights_keep(struct report_nights *report, int64_t first, int64_t last);

/* Reads the events from `from_s` on and gives every night its switches and its breaks. */
int report_nights_events(struct report_nights *report, struct journal_reader *reader,
                         int64_t from_s, int64_t to_s, struct err *err);

#endif
