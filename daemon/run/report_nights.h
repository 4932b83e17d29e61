/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The night check of one space: each night as the journal knows it, from its minutes, its events
 * and the sums of its light days. A night is the time outside the lit window of the stage, from one
 * window to the next, whatever the start of the light day cuts it into; a hand that lights it does
 * not end it. It is named by the light day in which it begins.
 *
 * Nothing is called dark that nobody saw: beside every night stands for how long it is recorded,
 * for how long a sensor showed the light, and whether that sensor sees the sky too (then only the
 * light that the lamps were told to give is watched). Of nights whose minutes are not kept any more
 * only the sums of their light days are told.
 */
#ifndef LAMPWARDEN_REPORT_NIGHTS_H
#define LAMPWARDEN_REPORT_NIGHTS_H

#include "journal_read.h"

#include <stdbool.h>
#include <stdio.h>

enum { NIGHT_BREAKS_MAX = 12 }; /* more are counted */

/* What the words hang on, of a night as of the night hours of a light day. Our own
 * choice. */
#define NIGHT_SEEN_SHARE       0.9 /* of its time: less is not seen, or not recorded */
#define NIGHT_POSSIBLE_UMOL_M2 0.5 /* less is 0 */
#define NIGHT_SKY_MOL          0.01 /* daylight of a day: more is no noise, the sensor sees the sky */

enum night_cause {
    NIGHT_CAUSE_HAND,   /* a hold */
    NIGHT_CAUSE_TRY,    /* an output moved by hand */
    NIGHT_CAUSE_SWITCH, /* a contact that did not open */
    NIGHT_CAUSE_LAMP,   /* lamps that were told to burn, by none of these */
    NIGHT_CAUSE_OTHER,  /* light that no lamp of the space was told to give */
};

struct night_break {
    int64_t from_s;      /* when it was confirmed */
    int64_t to_s;        /* 0: it lasted to the night's end, or still lasts */
    double peak_umol;    /* in that night, when it was confirmed */
    double dose_umol_m2; /* of this break; NaN: not known */
    enum night_cause cause;
    char text[192]; /* the cause as a sentence */
};

struct night {
    int64_t light_day;              /* in which it begins */
    int64_t last_day;               /* in which it ends */
    int64_t from_s, to_s;           /* full minutes */
    bool is_from_seen;              /* that it began there: a record of light lies before it */
    bool is_to_seen;                /* that it ended there */
    bool is_summary;                /* its minutes are gone */
    bool is_cut;                    /* to its light day */
    int64_t open_from_s, open_to_s; /* all switches open; 0: not known, or not yet */
    double recorded_s, seen_s;      /* minutes there are; with a good reading of the light */
    bool under_sky;
    double longest_s;        /* light without a pause; NaN: not known */
    double dose_umol_m2;     /* NaN: not known */
    double possible_umol_m2; /* at most, beside it, from openings not confirmed; NaN: not known */
    double most_umol_m2;     /* dose of all its light days: it was no more than that */
    double guarded_s;        /* of recorded_s, with the guard's own counters in its minutes, … */
    double guard_dose_umol_m2, guard_possible_umol_m2, guard_longest_s; /* … which came to this */
    int64_t lit_first_s, lit_last_s; /* minutes in which lamps were told to burn; 0: none */
    int unsure;                      /* openings that were not confirmed, in it or when it began */
    int break_count, breaks_left_out;
    struct night_break breaks[NIGHT_BREAKS_MAX];
};

struct report_nights {
    char space[JOURNAL_NAME_MAX];
    int32_t utc_offset_s;
    int count; /* may be 0: the space is lit around the clock, or no stage runs */
    int room;  /* for nights */
    struct night *nights;
};

/* The nights that begin in the light days from `first` to `last`, oldest first. -ENOENT: none of
 * those days is stored (the sentence names those that are); -ENOMEM; else as the reader says. */
int report_nights_create(struct journal_reader *reader, const char *space, int64_t first,
                         int64_t last, struct report_nights **ret, struct err *err);

/* Those of the newest `dates` dates, the running one with them. */
int report_nights_newest(struct journal_reader *reader, const char *space, int dates,
                         struct report_nights **ret, struct err *err);

/* The night hours within one light day, cut to it: what a finished day's report may tell. */
int report_nights_within(struct journal_reader *reader, const struct journal_day *day,
                         struct report_nights **ret, struct err *err);
void report_nights_destroy(struct report_nights *report); /* NULL is fine */

/* "broken" (a confirmed break), "possible" (an opening that was not confirmed), "unrecorded" (less
 * than nine tenths of its minutes), "unseen" (no sensor showed nine tenths of it), "unlit" (the
 * sensor sees the sky too), "dark". */
const char *night_word(const struct night *night);

/* The night in sentences: "Dark 22:00 to 06:00 (8 h 00 min). No light was seen." */
void night_text(const struct night *night, int32_t offset_s, char *buffer, size_t size);

/* "02:10 to 02:20: 200.00 µmol m⁻² s⁻¹ when noticed, dose 120000 µmol m⁻²; by hand …"; and all of
 * a night, a line each, behind two spaces. */
void night_break_text(const struct night_break *its, int32_t offset_s, char *buffer, size_t size);
void report_night_breaks(const struct night *night, int32_t offset_s, bool is_utf8, FILE *out);

/* "hand", "try", "switch", "lamp", "other" */
const char *night_cause_name(enum night_cause cause);

/*
 * One JSON object on one line:
 *   space
 *   nights  [{light_day, begin, end (of what is recorded of it), begin_seen, end_seen (a record of
 *           light lies beside that moment: else it began earlier, or goes on), length_s,
 *           summary_only (its minutes are gone), open_from, open_to (all switches of the space
 *           open; null: not known, or not yet), recorded_s, seen_s, under_daylight,
 *           longest_light_s, dose_umol_m2, most_umol_m2 (when the dose is null: it was no more),
 *           possible_umol_m2, night (the word), text,
 *           breaks [{begin, end, peak_umol, dose_umol_m2, cause, text}], breaks_left_out}]
 * Values that are not known are null. -ENOMEM. Errors of `out` stay in its error flag.
 */
int report_nights_json(const struct report_nights *report, FILE *out);

/* For people: the table of at most 80 columns, and below each broken night its breaks. */
void report_nights_text(const struct report_nights *report, bool is_utf8, FILE *out);

#endif
