/* SPDX-License-Identifier: Apache-2.0 */
/* The lamp of a sweep: looked at by `status`, moved by `try`, under all the daemon's own rules. */
#include "client.h"
#include "err.h"
#include "field.h"
#include "sweep_parts.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <string.h>

/* Short leases: killed in the middle, the plan goes on that soon. */
#define DRIVE_S   60.0
#define CONTACT_S 120.0
#define RENEW_S   25.0 /* left: asked again */

static void copy(char *to, size_t size, const char *text)
{
    (void)snprintf(to, size, "%s", text);
}

static int ask_status(const struct sweep_lamp *lamp, json_t **ret, struct err *err)
{
    return client_ask(lamp->socket_path, "status", NULL, ret, err);
}

static void list_names(const json_t *array, const char *key, char *buffer, size_t size)
{
    size_t i = 0, used = 0;
    const json_t *object;
    buffer[0] = '\0';
    json_array_foreach(array, i, object)
    {
        const char *name = key ? field_text(object, key) : json_string_value(object);
        if (used < size) {
            used += (size_t)snprintf(buffer + used, size - used, "%s%s", i > 0 ? ", " : "",
                                     name ? name : "");
        }
    }
}

static int find_outputs(struct sweep_lamp *lamp, const json_t *status, struct err *err)
{
    char known[256];
    const json_t *space = field_find(json_object_get(status, "spaces"), "space", lamp->space);
    if (!space) {
        list_names(json_object_get(status, "spaces"), "space", known, sizeof known);
        return err_fail(err, ENOENT, "there is no space '%.40s'; there are: %s", lamp->space,
                        known);
    }
    const json_t *fixtures = json_object_get(space, "fixtures");
    if (!field_find(fixtures, "fixture", lamp->fixture)) {
        list_names(fixtures, "fixture", known, sizeof known);
        return err_fail(err, ENOENT, "%s has no fixture '%.40s'; it has: %s", lamp->space,
                        lamp->fixture, known);
    }
    size_t i = 0;
    const json_t *output;
    json_array_foreach(json_object_get(status, "outputs"), i, output)
    {
        if (strcmp(field_text(output, "fixture"), lamp->fixture) == 0) {
            const bool is_dim = strcmp(field_text(output, "kind"), "dim") == 0;
            copy(is_dim ? lamp->dim : lamp->contact, SWEEP_NAME_MAX, field_text(output, "output"));
        }
    }
    if (lamp->dim[0] == '\0') {
        return err_fail(err, ENOENT, "%s has no dimming output: there is no curve to measure",
                        lamp->fixture);
    }
    list_names(json_object_get(space, "ppfd_sensors"), NULL, lamp->sensors, sizeof lamp->sensors);
    if (lamp->sensors[0] == '\0') {
        return err_fail(err, ENOENT, "%s has no light sensor: nothing would see the lamp",
                        lamp->space);
    }
    return 0;
}

int sweep_lamp_open(struct sweep_lamp *lamp, struct err *err)
{
    json_t *status = NULL;
    int rc = ask_status(lamp, &status, err);
    if (rc == 0) {
        rc = find_outputs(lamp, status, err);
        json_decref(status);
    }
    return rc == 0 ? sweep_lamp_look(lamp, err) : rc;
}

static void see(struct sweep_lamp *lamp, const json_t *status)
{
    const json_t *outputs = json_object_get(status, "outputs");
    const json_t *space = field_find(json_object_get(status, "spaces"), "space", lamp->space);
    const json_t *fixture =
        field_find(json_object_get(space, "fixtures"), "fixture", lamp->fixture);
    const json_t *dim = field_find(outputs, "output", lamp->dim);
    const json_t *contact = field_find(outputs, "output", lamp->contact);
    const bool is_good = strcmp(field_text(space, "ppfd_quality"), "good") == 0;
    const double age_s = field_number(space, "ppfd_age_s");
    copy(lamp->limiter, sizeof lamp->limiter, field_text(fixture, "limiter"));
    copy(lamp->held, sizeof lamp->held, field_text(json_object_get(dim, "try"), "held"));
    copy(lamp->time, sizeof lamp->time, field_text(status, "time"));
    lamp->drive_cap = field_number(fixture, "drive_cap");
    const double now_s = lamp->uptime_s - lamp->paused_s;
    lamp->sight = (struct lampsight){
        .now_s = now_s,
        .umol = is_good ? field_number(space, "ppfd_umol") : UNITS_NONE,
        .taken_s = now_s - (isfinite(age_s) ? age_s : 0),
        .watts = field_number(fixture, "measured_watts"),
        .heat_c = field_number(fixture, "heat_c"),
        .drive = field_number(dim, "written"),
        .is_closed = lamp->contact[0] == '\0' || field_number(contact, "written") > 0.5,
        .has_tripped = strcmp(lamp->limiter, "driver-trip") == 0,
    };
}

int sweep_lamp_look(struct sweep_lamp *lamp, struct err *err)
{
    json_t *status = NULL;
    const int rc = ask_status(lamp, &status, err);
    if (rc < 0) {
        return rc;
    }
    const double uptime_s = field_number(status, "uptime_s");
    const bool is_same = uptime_s >= lamp->uptime_s;
    lamp->uptime_s = uptime_s;
    see(lamp, status);
    json_decref(status);
    return is_same ? 0 : err_fail(err, EIO, "the daemon was started anew meanwhile");
}

static int try_it(const struct sweep_lamp *lamp, const char *output, json_t *value, double seconds,
                  struct err *err)
{
    json_t *result = NULL;
    json_t *params = json_pack("{s:s, s:o, s:f, s:b}", "output", output, "value", value, "seconds",
                               seconds, "break_night", (int)lamp->breaks_night);
    const int rc = client_ask(lamp->socket_path, "try", params, &result, err);
    json_decref(result);
    return rc;
}

static void end_it(const struct sweep_lamp *lamp, const char *output)
{
    json_t *result = NULL;
    struct err err;
    (void)client_ask(lamp->socket_path, "try_end", json_pack("{s:s}", "output", output), &result,
                     &err);
    json_decref(result);
}

static bool is_asked(const json_t *output, double value)
{
    const json_t *trial = json_object_get(output, "try");
    return json_is_object(trial) && fabs(field_number(trial, "value") - value) < 1e-6 &&
           field_number(trial, "left_s") > RENEW_S;
}

/* The others of the space stay dark, by their switch where they have one. */
static int darken(const struct sweep_lamp *lamp, const json_t *outputs, const json_t *output,
                  struct err *err)
{
    const bool is_dim = strcmp(field_text(output, "kind"), "dim") == 0;
    const char *fixture = field_text(output, "fixture");
    size_t i = 0;
    const json_t *other;
    json_array_foreach(outputs, i, other)
    {
        const bool is_switch_of_it = strcmp(field_text(other, "fixture"), fixture) == 0 &&
                                     strcmp(field_text(other, "kind"), "switch") == 0;
        if (is_dim && is_switch_of_it) {
            return 0;
        }
    }
    json_t *value = is_dim ? json_real(0) : json_string("open");
    return try_it(lamp, field_text(output, "output"), value, CONTACT_S, err);
}

static int obey_output(const struct sweep_lamp *lamp, const struct lampwish *wish,
                       const json_t *outputs, const json_t *output, struct err *err)
{
    const char *name = field_text(output, "output");
    if (strcmp(field_text(output, "fixture"), lamp->fixture) != 0) {
        const bool is_ours = strcmp(field_text(output, "space"), lamp->space) == 0;
        return !is_ours || lamp->keeps_others || is_asked(output, 0)
                   ? 0
                   : darken(lamp, outputs, output, err);
    }
    if (strcmp(name, lamp->contact) == 0 && !is_asked(output, wish->is_closed)) {
        return try_it(lamp, name, json_string(wish->is_closed ? "closed" : "open"), CONTACT_S, err);
    }
    if (strcmp(name, lamp->dim) == 0 && wish->is_closed && !is_asked(output, wish->drive)) {
        return try_it(lamp, name, json_real(wish->drive), DRIVE_S, err);
    }
    return 0;
}

int sweep_lamp_obey(struct sweep_lamp *lamp, const struct lampwish *wish, struct err *err)
{
    json_t *status = NULL;
    json_t *result = NULL;
    int rc = 0;
    if (wish->acknowledges) {
        rc = client_ask(lamp->socket_path, "resume", client_space(lamp->space), &result, err);
        json_decref(result);
    }
    if (rc == 0) {
        rc = ask_status(lamp, &status, err);
    }
    if (rc < 0) {
        return rc;
    }
    size_t i = 0;
    const json_t *output;
    const json_t *outputs = json_object_get(status, "outputs");
    json_array_foreach(outputs, i, output)
    {
        rc = rc == 0 ? obey_output(lamp, wish, outputs, output, err) : rc;
    }
    json_decref(status);
    return rc;
}

void sweep_lamp_release(const struct sweep_lamp *lamp)
{
    json_t *status = NULL;
    struct err err;
    if (ask_status(lamp, &status, &err) < 0) {
        return; /* nobody there: its tries are gone with it */
    }
    size_t i = 0;
    const json_t *output;
    json_array_foreach(json_object_get(status, "outputs"), i, output)
    {
        const bool is_ours = strcmp(field_text(output, "space"), lamp->space) == 0;
        if (is_ours && json_is_object(json_object_get(output, "try"))) {
            end_it(lamp, field_text(output, "output"));
        }
    }
    json_decref(status);
}
