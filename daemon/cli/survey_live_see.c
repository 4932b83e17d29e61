/* SPDX-License-Identifier: Apache-2.0 */
/* The carried sensor and the lamps above it, as the daemon sees them. */
#include "survey_live_parts.h"

#include "client.h"
#include "err.h"
#include "field.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#define SAME_DRIVE 0.005

static void list_names(const json_t *array, const char *key, const char *between, char *buffer,
                       size_t size)
{
    size_t i = 0, used = 0;
    const json_t *each;
    buffer[0] = '\0';
    json_array_foreach(array, i, each)
    {
        const char *name = key ? field_text(each, key) : json_string_value(each);
        if (used < size) {
            used += (size_t)snprintf(buffer + used, size - used, "%s%s", i > 0 ? between : "",
                                     name ? name : "");
        }
    }
}

static bool has_name(const json_t *names, const char *wanted)
{
    size_t i;
    const json_t *name;
    json_array_foreach(names, i, name)
    {
        if (strcmp(json_string_value(name), wanted) == 0) {
            return true;
        }
    }
    return false;
}

static int choose_sensor(struct live_daemon *daemon, const json_t *space, const char *wanted,
                         struct err *err)
{
    char known[256];
    const json_t *names = json_object_get(space, "ppfd_sensors");
    list_names(names, NULL, ", ", known, sizeof known);
    if (!wanted && json_array_size(names) == 0) {
        return err_fail(err, ENOENT,
                        "%s has no light sensor (ppfd_sensors): one that the daemon reads can be "
                        "named by --sensor",
                        daemon->space);
    }
    if (!wanted && json_array_size(names) > 1) {
        return err_fail(err, ENOENT,
                        "%s has several light sensors: say which one is carried, --sensor NAME "
                        "(%s)",
                        daemon->space, known);
    }
    const char *name = wanted ? wanted : json_string_value(json_array_get(names, 0));
    daemon->is_its_own = has_name(names, name);
    (void)snprintf(daemon->sensor, sizeof daemon->sensor, "%s", name);
    return 0;
}

static int check_sensor(const struct live_daemon *daemon, struct err *err)
{
    json_t *answer = NULL;
    int rc = client_ask(daemon->socket_path, "sense", NULL, &answer, err);
    if (rc < 0) {
        return rc;
    }
    const json_t *sensor = field_find(json_object_get(answer, "sensors"), "sensor", daemon->sensor);
    if (!sensor) {
        rc = err_fail(err, ENOENT, "there is no sensor '%s'; `lampwarden sense` lists them",
                      daemon->sensor);
    } else if (strcmp(field_text(sensor, "kind"), "ppfd") != 0) {
        rc = err_fail(err, EINVAL, "sensor '%s' measures %s, not ppfd", daemon->sensor,
                      field_text(sensor, "kind"));
    }
    json_decref(answer);
    return rc;
}

int live_open(struct live_daemon *daemon, const char *wanted, struct err *err)
{
    json_t *status = NULL;
    char known[256];
    int rc = client_ask(daemon->socket_path, "status", NULL, &status, err);
    if (rc < 0) {
        return rc;
    }
    const json_t *spaces = json_object_get(status, "spaces");
    const json_t *space = field_find(spaces, "space", daemon->space);
    list_names(spaces, "space", ", ", known, sizeof known);
    if (space) {
        list_names(json_object_get(space, "fixtures"), "fixture", " + ", daemon->fixtures,
                   sizeof daemon->fixtures);
        rc = choose_sensor(daemon, space, wanted, err);
    } else {
        rc =
            err_fail(err, ENOENT, "there is no space '%.40s'; there are: %s", daemon->space, known);
    }
    json_decref(status);
    if (rc == 0) {
        rc = check_sensor(daemon, err);
    }
    if (rc == 0) {
        live_look(daemon);
    }
    return rc;
}

/* Share of full light that the fixtures give by their own levels; one drive if they have it. */
static void see_fixtures(struct live_sight *sight, const json_t *space)
{
    size_t i;
    const json_t *fixture;
    double umol = 0;
    double metered_w = 0;
    double promised_w = 0;
    sight->drive = UNITS_NONE;
    json_array_foreach(json_object_get(space, "fixtures"), i, fixture)
    {
        const double drive = field_number(fixture, "drive");
        const bool is_lit = field_true(fixture, "closed") && field_number(fixture, "level") > 0;
        metered_w += field_number(fixture, "measured_watts");
        promised_w += field_number(fixture, "expected_watts");
        umol += is_lit ? field_number(fixture, "expected_umol") : 0;
        if (is_lit && isnan(sight->drive)) {
            sight->drive = drive;
        } else if (is_lit && !(fabs(sight->drive - drive) <= SAME_DRIVE)) {
            sight->drive = (double)INFINITY; /* no other is near that */
        }
    }
    sight->drive = isfinite(sight->drive) ? sight->drive : UNITS_NONE;
    sight->is_metered = units_known(metered_w);
    sight->is_blind = !sight->is_metered;
    sight->watts = sight->is_metered ? metered_w : promised_w;
    const double full_umol = field_number(space, "full_umol");
    sight->stand.level = full_umol > 0 ? umol / full_umol : UNITS_NONE;
}

static void see_space(struct live_sight *sight, const json_t *status, const json_t *space)
{
    const json_t *hand = json_object_get(space, "hand");
    const double factor = field_number(json_object_get(space, "gain"), "sensor_factor");
    see_fixtures(sight, space);
    sight->is_night = strcmp(field_text(space, "phase"), "night") == 0;
    sight->aim = field_number(space, "asked_level");
    sight->is_held = json_is_object(hand);
    sight->held_level = field_number(hand, "level");
    sight->hold_left_s = field_number(hand, "left_s");
    sight->daylight_umol = field_number(space, "daylight_umol");
    sight->sensor_factor = factor > 0 ? factor : 1;
    (void)snprintf(sight->limiter, sizeof sight->limiter, "%s", field_text(space, "limiter_words"));
    (void)snprintf(sight->state, sizeof sight->state, "%s", field_text(space, "state"));
    (void)snprintf(sight->time, sizeof sight->time, "%s", field_text(status, "time"));
}

static void see_sensor(struct live_daemon *daemon, const json_t *answer)
{
    struct live_sight *sight = &daemon->sight;
    const json_t *sensor = field_find(json_object_get(answer, "sensors"), "sensor", daemon->sensor);
    const double factor = daemon->is_its_own ? sight->sensor_factor : 1;
    const char *reason = field_text(sensor, "reason");
    (void)snprintf(sight->quality, sizeof sight->quality, "%s", field_text(sensor, "quality"));
    sight->stand.now_s = field_number(answer, "uptime_s");
    sight->stand.umol = field_number(sensor, "value") / factor;
    sight->stand.taken_s = sight->stand.now_s - field_number(sensor, "age_s");
    sight->unusable[0] = '\0';
    if (!sensor) {
        (void)snprintf(sight->unusable, sizeof sight->unusable,
                       "the daemon knows no sensor %s any more", daemon->sensor);
    } else if (strcmp(sight->quality, "good") != 0) {
        (void)snprintf(sight->unusable, sizeof sight->unusable, "%s is %s%s%s", daemon->sensor,
                       sight->quality, reason[0] ? ": " : "", reason);
    } else if (!units_known(sight->stand.umol) || !units_known(sight->stand.taken_s)) {
        (void)snprintf(sight->unusable, sizeof sight->unusable, "%s has no reading",
                       daemon->sensor);
    }
}

static int look(struct live_daemon *daemon, struct err *err)
{
    json_t *status = NULL;
    json_t *answer = NULL;
    struct live_sight *sight = &daemon->sight;
    int rc = client_ask(daemon->socket_path, "status", NULL, &status, err);
    const json_t *space =
        rc == 0 ? field_find(json_object_get(status, "spaces"), "space", daemon->space) : NULL;
    if (rc == 0 && !space) {
        rc = err_fail(err, ENOENT, "the daemon knows no space %s at the moment", daemon->space);
    }
    if (rc == 0) {
        rc = client_ask(daemon->socket_path, "sense", NULL, &answer, err);
    }
    if (rc == 0) {
        see_space(sight, status, space);
        see_sensor(daemon, answer);
    }
    json_decref(answer);
    json_decref(status);
    return rc;
}

void live_look(struct live_daemon *daemon)
{
    struct err err;
    struct live_sight *sight = &daemon->sight;
    sight->is_answered = look(daemon, &err) == 0;
    if (!sight->is_answered) {
        sight->quality[0] = '\0';
        (void)snprintf(sight->unusable, sizeof sight->unusable, "%s", err.text);
    }
    if (sight->unusable[0]) {
        sight->stand.umol = UNITS_NONE;
    } else if (!units_known(sight->stand.level)) {
        (void)snprintf(sight->unusable, sizeof sight->unusable,
                       "the daemon does not know yet what the lamps give");
    }
}
