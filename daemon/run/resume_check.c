/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Whether a whole record can be true: a checksum finds torn writes and worn cells, not a program
 * that wrote nonsense. What space_resume sets afresh is not looked at.
 */
#include "resume_check.h"

#include "err.h"
#include "units.h"

#include <errno.h>
#include <stddef.h>
#include <string.h>

enum type { REAL, REAL_OR_NONE, INTEGER, LONG, TRUTH, CHOICE };

struct check {
    const char *name;
    size_t offset;
    enum type type;
    double low, high; /* TRUTH: not used */
};

/* Times may lie before the boot, after a reboot moved them; sums of three of them fit int64. */
#define NS_MAX    2.0e18 /* 63 years */
#define WALL_MAX  1.0e11
#define DAY_MAX   1.0e6
#define SPAN_MAX  1.0e12 /* s; some count from a first start */
#define MOL_MAX   1.0e6
#define COUNT_MAX 1.0e9
#define ROUNDING  (-1.0e-3) /* a sum may fall this far below 0 */

#define IN_RECORD(field)  #field, offsetof(struct resume_record, field)
#define IN_FIXTURE(field) #field, offsetof(struct fixture_state, field)

static const struct check record_checks[] = {
    {IN_RECORD(boot_ns), LONG, -NS_MAX, NS_MAX},
    {IN_RECORD(wall_s), LONG, 0, WALL_MAX},
    {IN_RECORD(clock_trusted), TRUTH, 0, 0},
    {IN_RECORD(has_sync), TRUTH, 0, 0},
    {IN_RECORD(synced_offset_ns), LONG, -5e18, 5e18},
    {IN_RECORD(hand.is_active), TRUTH, 0, 0},
    {IN_RECORD(hand.level), REAL, 0, 1},
    {IN_RECORD(hand.until_ns), LONG, -NS_MAX, NS_MAX},
    {IN_RECORD(hand.breaks_night), TRUTH, 0, 0},
    {IN_RECORD(state.is_begun), TRUTH, 0, 0},
    {IN_RECORD(state.has_ticked), TRUTH, 0, 0},
    {IN_RECORD(state.was_resumed), TRUTH, 0, 0},
    {IN_RECORD(state.boot_ns), LONG, -NS_MAX, NS_MAX},
    {IN_RECORD(state.wall_s), LONG, 0, WALL_MAX},
    {IN_RECORD(state.light_day), LONG, -DAY_MAX, DAY_MAX},
    {IN_RECORD(state.stage_index), INTEGER, -1, CONFIG_STAGES_MAX},
    {IN_RECORD(state.stage_day), INTEGER, -DAY_MAX, DAY_MAX},
    {IN_RECORD(state.stage_phase), CHOICE, STAGE_WAITING, STAGE_OVER},
    {IN_RECORD(state.day_start_s), INTEGER, 0, UNITS_S_PER_DAY - 1},
    {IN_RECORD(state.integral.lamp_mol), REAL, 0, MOL_MAX},
    {IN_RECORD(state.integral.daylight_mol), REAL, 0, MOL_MAX},
    {IN_RECORD(state.integral.bridged_mol), REAL, 0, MOL_MAX},
    {IN_RECORD(state.integral.measured_s), REAL, 0, SPAN_MAX},
    {IN_RECORD(state.integral.bridged_s), REAL, 0, SPAN_MAX},
    {IN_RECORD(state.integral.lost_s), REAL, 0, SPAN_MAX},
    {IN_RECORD(state.integral.estimating_s), REAL, 0, SPAN_MAX},
    {IN_RECORD(state.account.target_mol), REAL, 0, MOL_MAX},
    {IN_RECORD(state.account.delivered_mol), REAL, 0, MOL_MAX},
    {IN_RECORD(state.account.to_come_mol), REAL, ROUNDING, MOL_MAX},
    {IN_RECORD(state.account.surplus_mol), REAL, ROUNDING, MOL_MAX},
    {IN_RECORD(state.nightguard.dose_umol_m2), REAL, 0, 1e12},
    {IN_RECORD(state.nightguard.longest_s), REAL, 0, SPAN_MAX},
    {IN_RECORD(state.nightguard.peak_umol), REAL, 0, 1e9},
    {IN_RECORD(state.nightguard.lit_s), REAL, 0, SPAN_MAX},
    {IN_RECORD(state.nightguard.present_dose), REAL, 0, 1e12},
    {IN_RECORD(state.nightguard.is_lit), TRUTH, 0, 0},
    {IN_RECORD(state.nightguard.in_break), TRUTH, 0, 0},
    {IN_RECORD(state.nightguard.in_night), TRUTH, 0, 0},
    {IN_RECORD(state.limiter), CHOICE, 0, LIMITER_COUNT - 1},
    {IN_RECORD(state.light_gain), REAL, 0, 100},
    {IN_RECORD(state.clearness.is_broken), TRUTH, 0, 0},
    {IN_RECORD(state.lampstep.count), INTEGER, 0, LAMPSTEP_KEPT},
    {IN_RECORD(state.lampstep.next), INTEGER, 0, LAMPSTEP_KEPT - 1},
    {IN_RECORD(state.lampstep.told), REAL, 0, 100},
    {IN_RECORD(state.correction.sensor), REAL, CORRECTION_LOW, CORRECTION_HIGH},
    {IN_RECORD(state.correction.lamp), REAL, CORRECTION_LOW, CORRECTION_HIGH},
    {IN_RECORD(state.correction.sensor_basis), REAL, 0, 1e9},
    {IN_RECORD(state.correction.lamp_basis), REAL, 0, 1e9},
    {IN_RECORD(state.correction.since_s), LONG, 0, WALL_MAX},
    {IN_RECORD(state.daylight_umol), REAL_OR_NONE, 0, 1e9},
    {IN_RECORD(state.daylight_ns), LONG, -NS_MAX, NS_MAX},
    {IN_RECORD(state.clock), CHOICE, CLOCK_UNTRUSTED, CLOCK_SYNCHRONISED},
    {IN_RECORD(state.sensor_is_lost), TRUTH, 0, 0},
    {IN_RECORD(state.hand_was_active), TRUTH, 0, 0},
    {IN_RECORD(state.said_short), TRUTH, 0, 0},
    {IN_RECORD(state.said_met), TRUTH, 0, 0},
    {IN_RECORD(state.is_lit), TRUTH, 0, 0},
    {IN_RECORD(state.blame_otherwise), CHOICE, 0, LIMITER_COUNT - 1},
    {IN_RECORD(state.energy_kwh), REAL, 0, 1e6},
    {IN_RECORD(state.cost), REAL, -1e12, 1e12}, /* prices may be negative */
    {IN_RECORD(state.first_on_s), LONG, 0, WALL_MAX},
    {IN_RECORD(state.last_off_s), LONG, 0, WALL_MAX},
    {IN_RECORD(state.carried_mol), REAL, 0, MOL_MAX},
    {IN_RECORD(state.reach_static_mol), REAL, 0, MOL_MAX},
    {IN_RECORD(state.night_dose), REAL, 0, 1e12},
    {IN_RECORD(state.night_longest_s), REAL, 0, SPAN_MAX},
    {IN_RECORD(state.night_possible), REAL, 0, 1e12},
    {NULL, 0, REAL, 0, 0},
};

static const struct check fixture_checks[] = {
    {IN_FIXTURE(heat.max_c), REAL_OR_NONE, -1e6, 1e6},
    {IN_FIXTURE(heat.trips_today), INTEGER, 0, COUNT_MAX},
    {IN_FIXTURE(heat.is_tripped), TRUTH, 0, 0},
    {IN_FIXTURE(heat.is_latched), TRUTH, 0, 0},
    {IN_FIXTURE(ceiling.drive_cap), REAL, 0, 1},
    {IN_FIXTURE(ceiling.collapsed_s), REAL, 0, SPAN_MAX},
    {IN_FIXTURE(ceiling.lit_s), REAL, 0, SPAN_MAX},
    {IN_FIXTURE(ceiling.rest_left_s), REAL, -SPAN_MAX, SPAN_MAX},
    {IN_FIXTURE(ceiling.trips_today), INTEGER, 0, COUNT_MAX},
    {IN_FIXTURE(ceiling.trips_without_light), INTEGER, 0, COUNT_MAX},
    {IN_FIXTURE(ceiling.trip_drive), REAL_OR_NONE, 0, 1},
    {IN_FIXTURE(switching.phase), CHOICE, SWITCHING_OPEN, SWITCHING_OPENING},
    {IN_FIXTURE(switching.phase_s), REAL, 0, SPAN_MAX},
    {IN_FIXTURE(switching.since_change_s), REAL, 0, SPAN_MAX},
    {IN_FIXTURE(curvewatch.wrong_s), REAL, 0, SPAN_MAX},
    {IN_FIXTURE(curvewatch.is_said), TRUTH, 0, 0},
    {IN_FIXTURE(is_stuck), TRUTH, 0, 0},
    {IN_FIXTURE(lit_level), REAL, 0, 1},
    {IN_FIXTURE(unsure_s), REAL, 0, SPAN_MAX},
    {IN_FIXTURE(unsure_dose), REAL, 0, 1e12},
    {IN_FIXTURE(unsure_said), TRUTH, 0, 0},
    {IN_FIXTURE(limiter), CHOICE, 0, LIMITER_COUNT - 1},
    {IN_FIXTURE(told_drive_ns), LONG, -NS_MAX, NS_MAX},
    {IN_FIXTURE(told_contact_ns), LONG, -NS_MAX, NS_MAX},
    {NULL, 0, REAL, 0, 0},
};

/* Reads bytes: a bool that is neither 0 nor 1 must not even be looked at as one. */
static double value_of(const struct check *check, const unsigned char *at)
{
    double real = 0;
    int64_t large = 0;
    int integer = 0;
    switch (check->type) {
    case REAL:
    case REAL_OR_NONE:
        memcpy(&real, at, sizeof real);
        return real;
    case LONG:
        memcpy(&large, at, sizeof large);
        return (double)large;
    case INTEGER:
    case CHOICE:
        memcpy(&integer, at, sizeof integer);
        return integer;
    case TRUTH:
        break;
    }
    return *at;
}

_Static_assert(sizeof(bool) == 1 && sizeof(enum limiter) == sizeof(int), "as value_of reads them");

static int check_all(const struct check *checks, const void *data, struct err *err)
{
    for (const struct check *check = checks; check->name; check++) {
        const double value = value_of(check, (const unsigned char *)data + check->offset);
        const double high = check->type == TRUTH ? 1 : check->high;
        const bool is_none = check->type == REAL_OR_NONE && value != value;
        if (!is_none && !(value >= check->low && value <= high)) {
            return err_fail(err, EILSEQ, "a saved state that cannot be: %s is %.6g (%.6g … %.6g)",
                            check->name, value, check->low, high);
        }
    }
    return 0;
}

int resume_check(const struct resume_record *record, struct err *err)
{
    int code = check_all(record_checks, record, err);
    if (code == 0 && !clearness_is_sane(&record->state.clearness)) {
        code = err_fail(err, EILSEQ, "a saved state that cannot be: the sums of its sky");
    }
    for (int i = 0; code == 0 && i < LIMITER_COUNT; i++) {
        const double missing_mol = record->state.account.missing_mol[i];
        if (!(missing_mol >= ROUNDING && missing_mol <= MOL_MAX)) {
            code = err_fail(err, EILSEQ, "a saved state that cannot be: %.6g mol missing",
                            missing_mol);
        }
    }
    for (int i = 0; code == 0 && i < record->fixture_count; i++) {
        code = check_all(fixture_checks, &record->state.fixtures[i], err);
    }
    return code;
}
