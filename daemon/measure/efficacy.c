/* SPDX-License-Identifier: Apache-2.0 */
#include "efficacy.h"

#include "units.h"

#define TENTHS 10
#define SAME   1e-4 /* levels as near as this are one */
#define AT_CAP 1e-9

static const struct efficacy_mark marks[] = {
    {"high-pressure sodium, best double-ended", "Nelson and Bugbee, PLoS ONE 9(6): e99010, 2014",
     1.70},
    {"qualification limit of the first version of a utility list (1.81 with its tolerance of 5 %)",
     "as quoted by E. Runkle, A Closer Look at LED Efficacy, Greenhouse Product News", 1.9},
    {"qualification limit of that list since 31 March 2023",
     "DesignLights Consortium, Horticultural Technical Requirements V3.0", 2.30},
    {"best expected of a fixture of white and red LEDs",
     "Kusuma, Pattison, Bugbee, Horticulture Research, 2020", 3.4},
    {"best expected of a fixture of blue and red LEDs",
     "Kusuma, Pattison, Bugbee, Horticulture Research, 2020", 4.1},
};

const struct efficacy_mark *efficacy_marks(int *ret_count)
{
    *ret_count = sizeof marks / sizeof marks[0];
    return marks;
}

double efficacy_cap(const struct space_rules *rules)
{
    double umol = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        const struct fixture_rules *fixture = &rules->fixtures[i];
        umol += fixture->full_umol * dimcurve_level(&fixture->curve, fixture->ceiling.drive_max);
    }
    return umol / space_configured_umol(rules);
}

double efficacy_standby_w(const struct space_rules *rules)
{
    double watts = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        const struct fixture_rules *fixture = &rules->fixtures[i];
        if (!fixture->has_switch && fixture->curve.first_lit > 0) {
            watts += fixture->curve.points[0].watts;
        }
    }
    return watts;
}

/* Rising, each level once; a measured one makes the place measured. */
static int insert(struct efficacy_row *rows, int count, double level, bool is_measured)
{
    int place = 0;
    while (place < count && rows[place].level < level - SAME) {
        place++;
    }
    if (place < count && rows[place].level <= level + SAME) {
        rows[place].is_measured = rows[place].is_measured || is_measured;
        return count;
    }
    if (count == EFFICACY_ROWS_MAX) {
        return count;
    }
    for (int i = count; i > place; i--) {
        rows[i] = rows[i - 1];
    }
    rows[place] = (struct efficacy_row){.level = level, .is_measured = is_measured};
    return count + 1;
}

static void fill(const struct space_rules *rules, struct efficacy_row *row)
{
    double umol = 0;
    for (int i = 0; i < rules->fixture_count; i++) {
        const struct fixture_rules *fixture = &rules->fixtures[i];
        const double level = fmax(row->level, dimcurve_min_level(&fixture->curve));
        const double top = dimcurve_level(&fixture->curve, fixture->ceiling.drive_max);
        row->watts += dimcurve_watts(&fixture->curve, dimcurve_drive(&fixture->curve, level));
        row->above_ceiling = row->above_ceiling || level > top + AT_CAP;
        umol += fixture->full_umol * level;
    }
    row->share = umol / space_configured_umol(rules);
}

static double least_level(const struct space_rules *rules)
{
    double least = 1;
    for (int i = 0; i < rules->fixture_count; i++) {
        least = fmin(least, dimcurve_min_level(&rules->fixtures[i].curve));
    }
    return least;
}

int efficacy_rows(const struct space_rules *rules, struct efficacy_row ret[EFFICACY_ROWS_MAX])
{
    const double least = least_level(rules) - SAME;
    int count = 0;
    for (int i = 1; i <= TENTHS; i++) {
        if (i / (double)TENTHS >= least) {
            count = insert(ret, count, i / (double)TENTHS, false);
        }
    }
    for (int f = 0; f < rules->fixture_count; f++) {
        const struct dimcurve *curve = &rules->fixtures[f].curve;
        for (int i = curve->first_lit; i < curve->count; i++) {
            count = insert(ret, count, curve->points[i].level, true);
        }
    }
    for (int i = 0; i < count; i++) {
        fill(rules, &ret[i]);
    }
    return count;
}
