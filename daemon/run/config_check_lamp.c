/* SPDX-License-Identifier: Apache-2.0 */
/* Checks of the lamps: protection that contradicts itself, outputs used twice, curves, owners. */
#include "config_check.h"

#include "config.h"
#include "dimcurve.h"
#include "findings.h"
#include "schema_parts.h"

#include <string.h>

/* One limit must stand above another; keeps silent where one of the two is unusable. */
static void check_above(const struct section *section, const char *path, int high, int low,
                        struct findings *findings)
{
    if (!section_is_usable(section, high) || !section_is_usable(section, low) ||
        section_real(section, high) > section_real(section, low)) {
        return;
    }
    const char *unit = section->keys[low].unit;
    findings_error(findings, check_line(section, high, low),
                   "%s.%s: %.10g is not above %s (%.10g %s)", path, section->keys[high].name,
                   section_real(section, high), section->keys[low].name, section_real(section, low),
                   unit ? unit : "");
}

static void check_protection(const struct section *heat, const struct section *led_driver,
                             const char *path, struct findings *findings)
{
    char inner[64];
    if (heat) {
        (void)snprintf(inner, sizeof inner, "%s.heat", path);
        check_above(heat, inner, HEAT_TO, HEAT_FROM, findings);
        check_above(heat, inner, HEAT_TRIP, HEAT_TO, findings);
        check_above(heat, inner, HEAT_FROM, HEAT_REARM, findings);
    }
    if (led_driver) {
        (void)snprintf(inner, sizeof inner, "%s.led_driver", path);
        check_above(led_driver, inner, LED_LONG_REST, LED_REST, findings);
    }
}

int section_curve(const struct section *fixture, struct dimcurve_point *ret_points)
{
    const struct value *curve = &fixture->values[FIXTURE_CURVE];
    if (!curve->is_set) {
        double watts = section_is_usable(fixture, FIXTURE_FULL_WATTS)
                           ? section_real(fixture, FIXTURE_FULL_WATTS)
                           : 0;
        ret_points[0] = (struct dimcurve_point){0, 0, 0};
        ret_points[1] = (struct dimcurve_point){1, 1, watts};
        return 2;
    }
    for (int i = 0; i < curve->count && i < DIMCURVE_POINTS_MAX; i++) {
        const struct section *point = &curve->sections[i];
        bool has_watts = section_is_usable(point, POINT_WATTS);
        ret_points[i] = (struct dimcurve_point){
            .drive = section_real(point, POINT_DRIVE),
            .level = section_real(point, POINT_LEVEL),
            .watts = has_watts ? section_real(point, POINT_WATTS) : 0,
        };
    }
    return curve->count;
}

static void report_fault(const struct value *curve, enum dimcurve_fault fault, int fixture, int bad,
                         struct findings *findings)
{
    int line = bad >= 0 ? curve->sections[bad].line : curve->line;
    char path[64];
    (void)snprintf(path, sizeof path, "fixtures[%d].curve[%d]", fixture, bad);
    switch (fault) {
    case DIMCURVE_OK:
        break;
    case DIMCURVE_TOO_FEW:
    case DIMCURVE_TOO_MANY:
        findings_error(findings, curve->line,
                       "fixtures[%d].curve: the number of points, %d, is out of range (2 … %d)",
                       fixture, curve->count, DIMCURVE_POINTS_MAX);
        break;
    case DIMCURVE_OUT_OF_RANGE:
        findings_error(findings, line, "%s: a value is out of range", path);
        break;
    case DIMCURVE_DRIVE_ORDER:
        findings_error(findings, line,
                       "%s.drive: %.10g is not above that of the point before (%.10g)", path,
                       section_real(&curve->sections[bad], POINT_DRIVE),
                       section_real(&curve->sections[bad - 1], POINT_DRIVE));
        break;
    case DIMCURVE_LEVEL_ORDER:
        findings_error(
            findings, line,
            "%s.level: %.10g is below that of the point before (%.10g): measure again or "
            "smooth the curve",
            path, section_real(&curve->sections[bad], POINT_LEVEL),
            section_real(&curve->sections[bad - 1], POINT_LEVEL));
        break;
    case DIMCURVE_NO_FULL:
        findings_error(findings, curve->sections[curve->count - 1].line,
                       "fixtures[%d].curve[%d].level: %.10g, but the last point is full light (1)",
                       fixture, curve->count - 1,
                       section_real(&curve->sections[curve->count - 1], POINT_LEVEL));
        break;
    case DIMCURVE_NEVER_LIT:
        findings_error(findings, curve->line, "fixtures[%d].curve: no point has a level above 0",
                       fixture);
        break;
    }
}

/* True when *ret_curve can be asked. */
static bool check_curve(const struct section *fixture, int index, struct dimcurve *ret_curve,
                        struct findings *findings)
{
    const struct value *curve = &fixture->values[FIXTURE_CURVE];
    int with_watts = 0;
    if (curve->is_bad) {
        return false;
    }
    if (!curve->is_set && section_is_usable(fixture, FIXTURE_DIM)) {
        findings_error(findings, fixture->line,
                       "fixtures[%d].curve: missing (2 … %d points; needed with a dimming output)",
                       index, DIMCURVE_POINTS_MAX);
        return false;
    }
    if (curve->is_set && fixture->values[FIXTURE_FULL_WATTS].is_set) {
        findings_error(findings, fixture->values[FIXTURE_FULL_WATTS].line,
                       "fixtures[%d].full_watts: the curve has the watts, give one of them", index);
    }
    for (int i = 0; i < curve->count; i++) {
        const struct section *point = &curve->sections[i];
        if (!section_is_usable(point, POINT_DRIVE) || !section_is_usable(point, POINT_LEVEL) ||
            point->values[POINT_WATTS].is_bad) {
            return false;
        }
        with_watts += point->values[POINT_WATTS].is_set;
    }
    if (with_watts != 0 && with_watts != curve->count) {
        findings_error(findings, curve->line,
                       "fixtures[%d].curve: %d of %d points have watts: give all or none", index,
                       with_watts, curve->count);
    }
    struct dimcurve_point points[DIMCURVE_POINTS_MAX] = {{0, 0, 0}};
    int bad = -1;
    enum dimcurve_fault fault =
        dimcurve_init(ret_curve, points, section_curve(fixture, points), &bad);
    report_fault(curve, fault, index, bad, findings);
    return fault == DIMCURVE_OK;
}

static void check_drives(const struct section *fixture, int index, const struct dimcurve *curve,
                         struct findings *findings)
{
    double ceiling = section_real(fixture, FIXTURE_DRIVE_CEILING);
    bool has_dim = fixture->values[FIXTURE_DIM].is_set;
    if (!has_dim && ceiling < 1) {
        findings_error(findings, fixture->values[FIXTURE_DRIVE_CEILING].line,
                       "fixtures[%d].drive_ceiling: %.10g needs a dimming output", index, ceiling);
    } else if (ceiling < dimcurve_min_drive(curve)) {
        findings_error(
            findings, check_line(fixture, FIXTURE_DRIVE_CEILING, FIXTURE_CURVE),
            "fixtures[%d].drive_ceiling: %.10g is below the lowest drive with light in the "
            "curve (%.10g)",
            index, ceiling, dimcurve_min_drive(curve));
    }
    if (fixture->values[FIXTURE_SWITCH].is_set) {
        return;
    }
    /* Nothing but the dimming line makes it dark. */
    double safe = section_real(fixture, FIXTURE_SAFE_DRIVE);
    if (curve->points[0].level > 0) {
        findings_error(
            findings, fixture->values[FIXTURE_CURVE].line,
            "fixtures[%d].curve: without a switch it needs a point with level 0: the lamp "
            "would never be dark",
            index);
    } else if (dimcurve_level(curve, safe) > 0) {
        findings_error(findings, check_line(fixture, FIXTURE_SAFE_DRIVE, FIXTURE_CURVE),
                       "fixtures[%d].safe_drive: %.10g gives light, and there is no switch to open "
                       "(below %.10g)",
                       index, safe, dimcurve_min_drive(curve));
    }
}

static void check_fixture(const struct section *fixture, int index, struct findings *findings)
{
    char path[32];
    (void)snprintf(path, sizeof path, "fixtures[%d]", index);
    const struct value *values = fixture->values;
    /* Groups that are not written repeat what was said of `limits`. */
    check_protection(values[FIXTURE_HEAT].line ? section_group(fixture, FIXTURE_HEAT) : NULL,
                     values[FIXTURE_LED_DRIVER].line ? section_group(fixture, FIXTURE_LED_DRIVER)
                                                     : NULL,
                     path, findings);
    if (values[FIXTURE_DIM].is_bad || values[FIXTURE_SWITCH].is_bad) {
        return;
    }
    if (!values[FIXTURE_DIM].is_set && !values[FIXTURE_SWITCH].is_set) {
        findings_error(findings, fixture->line,
                       "fixtures[%d]: neither dim nor switch: nothing can light it", index);
        return;
    }
    struct dimcurve curve;
    if (check_curve(fixture, index, &curve, findings) &&
        section_is_usable(fixture, FIXTURE_DRIVE_CEILING) &&
        section_is_usable(fixture, FIXTURE_SAFE_DRIVE)) {
        check_drives(fixture, index, &curve, findings);
    }
}

static void check_outputs_once(const struct section *root, struct findings *findings)
{
    int users[CONFIG_OUTPUTS_MAX] = {0}; /* fixture + 1 */
    static const int keys[] = {FIXTURE_DIM, FIXTURE_SWITCH};
    const struct value *fixtures = &root->values[ROOT_FIXTURES];
    for (int i = 0; i < fixtures->count; i++) {
        for (size_t k = 0; k < sizeof keys / sizeof *keys; k++) {
            const struct value *output = &fixtures->sections[i].values[keys[k]];
            if (!output->is_set || output->is_bad) {
                continue;
            }
            int *user = &users[output->integer];
            if (*user) {
                findings_error(findings, output->line,
                               "fixtures[%d].%s: \"%s\" is used by fixtures[%d] already", i,
                               schema_fixture[keys[k]].name, output->text, *user - 1);
            } else {
                *user = i + 1;
            }
        }
    }
}

static void check_fixtures_once(const struct section *root, struct findings *findings)
{
    int users[CONFIG_FIXTURES_MAX] = {0}; /* space + 1 */
    const struct value *spaces = &root->values[ROOT_SPACES];
    for (int i = 0; i < spaces->count; i++) {
        const struct value *lamps = &spaces->sections[i].values[SPACE_FIXTURES];
        for (int k = 0; k < lamps->count; k++) {
            const struct value *lamp = &lamps->items[k];
            if (!lamp->is_set || lamp->is_bad) {
                continue;
            }
            int *user = &users[lamp->integer];
            if (*user) {
                findings_error(findings, lamp->line,
                               "spaces[%d].fixtures[%d]: \"%s\" belongs to spaces[%d] already", i,
                               k, lamp->text, *user - 1);
            } else {
                *user = i + 1;
            }
        }
    }
}

void check_lamps(const struct section *root, struct findings *findings)
{
    const struct section *limits = section_group(root, ROOT_LIMITS);
    check_protection(section_group(limits, LIMITS_HEAT), section_group(limits, LIMITS_LED_DRIVER),
                     "limits", findings);
    for (int i = 0; i < root->values[ROOT_FIXTURES].count; i++) {
        check_fixture(&root->values[ROOT_FIXTURES].sections[i], i, findings);
    }
    check_outputs_once(root, findings);
    check_fixtures_once(root, findings);
}
