/* SPDX-License-Identifier: Apache-2.0 */
/* Private to power*.c: what was found of a space, and the two ways to print it. */
#ifndef LAMPWARDEN_POWER_PARTS_H
#define LAMPWARDEN_POWER_PARTS_H

#include "config.h"
#include "efficacy.h"
#include "mains.h"
#include "stagecost.h"

struct err;

#define POWER_MONTH_DAYS 30
#define POWER_YEAR_DAYS  365
#define POWER_REMARKS    4

struct power_stage {
    const struct stage *stage;
    struct stagecost day, month, year; /* from the first day on */
};

struct power_report {
    const struct config *config;
    const struct config_space *space;
    int row_count, best; /* best: the row with most light for its watts */
    struct efficacy_row rows[EFFICACY_ROWS_MAX];
    double ppf_umol_s;    /* of all fixtures at full light; NaN: not known */
    double canopy_umol_s; /* of that, landing on the canopy; NaN */
    double area_m2;       /* of the canopy; NaN */
    bool has_mains;
    struct mains mains;
    bool has_terms;
    struct stagecost_terms terms;
    int64_t day; /* the first light day */
    int stage_count;
    struct power_stage stages[CONFIG_STAGES_MAX];
    int remark_count;
    char remarks[POWER_REMARKS][256];
};

/* µmol/J of a row, of so many photons a second at full light; NaN when they are not known. */
static inline double power_umol_per_j(const struct efficacy_row *row, double full_umol_s)
{
    return full_umol_s * row->share / row->watts;
}

/* "1.2x0.6m", "1.2m x 60cm" of --area: a side without a unit has that of the other. VERB_OK, or
 * VERB_USAGE after saying what is wrong. */
int power_read_area(const char *verb, const char *text, double *ret_m2);

/* --volts, --power-factor and --thd of one phase into has_mains and mains; a NULL was not given.
 * VERB_OK, or VERB_USAGE after saying what is wrong. */
int power_read_mains(const char *verb, const char *volts, const char *factor, const char *thd,
                     struct power_report *report);

/* A map of all fixtures together: its photons, at its own level, stand for the space's at full
 * light. Looks whether both agree. */
struct lightmap;
void power_take_map(struct power_report *report, const struct lightmap *map);

/* Levels and stages (`only`: that one; NULL: all), from day, light and mains that stand in the
 * report already. -EINVAL: watts are missing; -EDOM: more light than physics allows; -ENOENT: no
 * such stage. */
int power_reckon(struct power_report *report, const char *only, struct err *err);

/* What a mol costs at one level, mean of the year, in the site's currency; NaN: not known. */
struct power_mol {
    double per_m2;     /* a mol m⁻² over the whole canopy */
    double on_canopy;  /* a mol that lands on it */
    double from_lamps; /* a mol that leaves the fixtures */
};
struct power_mol power_mol_of(const struct power_report *report, const struct power_stage *stage);

/* A picture as gnuplot.h says. context: a struct power_report. */
int power_plot(const void *context, const char *path, struct err *err);

void power_text(const struct power_report *report);
void power_json(const struct power_report *report);

#endif
