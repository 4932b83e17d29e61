/* SPDX-License-Identifier: Apache-2.0 */
/* What a fixture record that was written before has kept. */
#include "err.h"
#include "parse.h"
#include "record.h"
#include "sweep_parts.h"
#include "units.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

/* The first line of a report, which names file, line, place and value. */
static int refuse(const char *path, const struct config_report *report, struct err *err)
{
    const char *text = report->text ? report->text : "";
    const int length = (int)strcspn(text, "\n");
    return err_fail(err, EINVAL, "%.*s", length > 0 ? length : (int)strlen(path),
                    length > 0 ? text : path);
}

static int load(const char *path, struct config **ret, struct err *err)
{
    struct config_report report = {0};
    int rc = record_load(path, ret, &report);
    if (rc < 0) {
        rc = refuse(path, &report, err);
    }
    config_report_free(&report);
    return rc;
}

static void take_words(const char *path, const struct measured *measured, struct sweep_finding *ret)
{
    const char *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path;
    const char *dot = strrchr(name, '.');
    const int length = dot && dot > name ? (int)(dot - name) : (int)strlen(name);
    char plain[SWEEP_NAME_MAX];
    (void)snprintf(plain, sizeof plain, "%.*s", length, name);
    parse_quote(plain, ret->fixture, sizeof ret->fixture);
    parse_quote(measured->date, ret->date, sizeof ret->date);
    parse_quote(measured->sensor, ret->sensor, sizeof ret->sensor);
}

/* The edges of the dark are found anew from the readings; the curve is that of the record. */
static int take_readings(const char *path, const struct config *config, struct sweep_finding *ret,
                         struct err *err)
{
    const struct measured *measured = &config->fixtures[0].measured;
    const struct fixture_rules *rules = &config->fixture_rules[0];
    struct sweep_result *result = &ret->result;
    if (measured->reading_count == 0) {
        return err_fail(err, ENODATA, "%s keeps no readings of which its curve was made", path);
    }
    for (int i = 0; i < measured->reading_count; i++) {
        const struct measured_reading *reading = &measured->readings[i];
        result->readings[result->count++] = (struct dimfit_reading){
            reading->drive, reading->level * rules->full_umol, reading->watts, 1};
    }
    const int rc = dimfit_of(result->readings, result->count, 1, &result->fit, err);
    if (rc < 0) {
        err_prefix(err, "%s", path);
        return rc;
    }
    result->fit.curve = rules->curve;
    result->fit.full_umol = rules->full_umol;
    result->fit.worst_level = measured->worst_level;
    result->fit.rms_level = measured->rms_level;
    result->fit.rms_w = measured->rms_w;
    return 0;
}

int sweep_recall(const char *path, struct sweep_finding *ret, struct err *err)
{
    struct config *config = NULL;
    memset(ret, 0, sizeof *ret);
    int rc = load(path, &config, err);
    if (!config) {
        return rc;
    }
    const struct measured *measured = &config->fixtures[0].measured;
    const double drive_max = config->fixture_rules[0].ceiling.drive_max;
    take_words(path, measured, ret);
    ret->cold_c = measured->heat_low_c;
    ret->hot_c = measured->heat_high_c;
    ret->ceiling = drive_max < 1 ? drive_max : UNITS_NONE;
    ret->ceiling_heat_c = measured->ceiling_heat_c;
    ret->ceiling_margin = measured->ceiling_margin;
    ret->cap_today = UNITS_NONE;
    ret->result.cold_c = measured->heat_low_c;
    ret->result.hot_c = measured->heat_high_c;
    ret->result.warm_c = config->fixtures[0].commissioned_c;
    ret->result.droop = units_known(measured->droop) ? measured->droop : 0;
    ret->result.droop_per_k = measured->droop_per_k;
    ret->result.off_drive = ret->result.on_drive = UNITS_NONE;
    ret->result.dark_least = ret->result.dark_most = UNITS_NONE;
    rc = take_readings(path, config, ret, err);
    config_free(config);
    return rc;
}
