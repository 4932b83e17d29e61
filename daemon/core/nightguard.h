/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The guarded night of one space: whether a lamp may be lit, and the dose of light that fell in it.
 *
 * The plant measures the uninterrupted dark. 1000–4000 µmol m⁻² in one night keep a chrysanthemum
 * from flowering ("How Much Light Is Needed for the Prevention of Flowering of Cut Chrysanthemums
 * When Using High Intensity HPS Lighting as a Night Break?": gradient of 0.02–3.5 µmol after 8 h of
 * dark).
 */
#ifndef LAMPWARDEN_NIGHTGUARD_H
#define LAMPWARDEN_NIGHTGUARD_H

#include <stdbool.h>
#include <stdint.h>

struct nightguard_rules {
    double
        threshold_umol; /* light above this counts as light; usual 0.2 (0.05 with a fine sensor) */
    double confirm_s;   /* … when it lasts this long; usual 10 */
};

struct nightguard {
    double dose_umol_m2; /* µmol m⁻² since the night began, of light above the threshold */
    double longest_s;    /* longest unbroken light in this night */
    double peak_umol;
    double lit_s;        /* length of the present light, else of the last */
    double present_dose; /* its dose */
    uint32_t breaks;     /* confirmed breaks in this night */
    bool is_lit;
    bool in_break;
    bool in_night;
};

struct nightguard_light {
    bool is_night;         /* the protected dark part, now */
    double seen_umol;      /* from a good PPFD reading; NaN: none */
    double commanded_umol; /* what closed switches and applied levels give by the curve */
    bool
        under_daylight; /* the space sees the sun: seen_umol does not count, commanded light does */
};

enum nightguard_event {
    NIGHTGUARD_NOTHING,
    NIGHTGUARD_BREAK_BEGINS,
    NIGHTGUARD_BREAK_ENDS,
    NIGHTGUARD_NIGHT_ENDS
};

void nightguard_reset(struct nightguard *guard);
/* Uses the larger of seen and commanded light. A night begins with is_night becoming true (counters
 * cleared) and ends with false; after NIGHT_ENDS the counters still hold the night's sums. The step
 * that begins the night adds nothing: its dt lies before the night. A break still going on when
 * the night ends ends with it, without an event of its own. */
enum nightguard_event nightguard_step(const struct nightguard_rules *rules,
                                      struct nightguard *guard,
                                      const struct nightguard_light *light, double dt_s);

/* Seconds until a dose is reached at a given light; INFINITY in the dark. */
double nightguard_seconds_to(double dose_umol_m2, double light_umol);

#endif
