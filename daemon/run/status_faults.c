/* SPDX-License-Identifier: Apache-2.0 */
/* What is wrong now, in sentences. */
#include "status_parts.h"

#include "control_proto.h"
#include "parse.h"
#include "units.h"
#include "words.h"

#include <stdarg.h>
#include <stdio.h>

static void add(json_t *faults, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void add(json_t *faults, const char *format, ...)
{
    char text[320];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    json_array_append_new(faults, control_text(text));
}

/* Without a reading, and the last that was seen had cooled: the lost reading is what holds it. */
static bool is_blind(const struct fixture_rules *rules, const struct heat *heat)
{
    return heat->blind_s > 0 && !(heat->filtered_c >= rules->heat.rearm_c) &&
           !(heat->last_c >= rules->heat.rearm_c);
}

static void add_fixture(json_t *faults, const struct picture *picture, int space, int place)
{
    const struct config_space *its = &picture->config->spaces[space];
    const struct fixture_state *state = &picture->spaces[space].state.fixtures[place];
    const char *name = picture->config->fixtures[its->fixtures[place]].name;
    if (state->heat.is_latched) {
        add(faults,
            "fixture %s was too hot too often and stays off; when the cause is gone: "
            "lampwarden resume %s",
            name, its->name);
    } else if (state->heat.is_tripped && is_blind(&its->rules.fixtures[place], &state->heat)) {
        add(faults, "fixture %s is off: no heat reading", name);
    } else if (state->heat.is_tripped) {
        add(faults, "fixture %s is off: too hot, or no heat reading", name);
    }
    if (ceiling_is_resting(&state->ceiling)) {
        add(faults, "fixture %s: its LED driver tripped; next try in %.0f s", name,
            state->ceiling.rest_left_s);
    }
    if (state->is_stuck) {
        add(faults, "fixture %s gives light with its switch open: the contact is stuck closed",
            name);
    }
}

static void add_curve(json_t *faults, const struct picture *picture, int space, int place)
{
    const struct config_space *its = &picture->config->spaces[space];
    const struct fixture_rules *rules = &its->rules.fixtures[place];
    const struct fixture_verdict *verdict = &picture->spaces[space].verdict.fixtures[place];
    const struct reading *power = &picture->spaces[space].now.fixtures[place].power;
    const char *name = picture->config->fixtures[its->fixtures[place]].name;
    if (rules->has_power && !rules->power_is_shared && verdict->closed && reading_is_good(power)) {
        add(faults, "fixture %s gives %.0f W at drive %.2f, its curve says %.0f W", name,
            power->value, verdict->drive, dimcurve_watts(&rules->curve, verdict->drive));
    } else {
        add(faults, "fixture %s does not give what its curve says; see its events", name);
    }
}

/* What is commanded and what is known of the lamp are two things. */
static void add_observed(json_t *faults, const struct picture *picture, int space, int place)
{
    char since[12];
    const struct config_space *its = &picture->config->spaces[space];
    const char *name = picture->config->fixtures[its->fixtures[place]].name;
    const struct fixture_state *state = &picture->spaces[space].state.fixtures[place];
    const struct fixture_verdict *verdict = &picture->spaces[space].verdict.fixtures[place];
    const int64_t told_s = picture->wall_ns / UNITS_NS_PER_S - (int64_t)verdict->unsure_s;
    if (verdict->unsure_s > 0) {
        parse_format_time_of_day(lightday_second(&its->rules.day, told_s), since, sizeof since);
        add(faults,
            "fixture %s: open asked, not confirmed since %s; it may still be lit at %.0f %%", name,
            since, state->lit_level * 100);
    } else if (verdict->is_unknown) {
        add(faults, "fixture %s: its switch is not known: open asked, never confirmed; may be lit",
            name);
    }
    if (state->curvewatch.is_said && state->curvewatch.wrong_s >= CURVEWATCH_CONFIRM_S) {
        add_curve(faults, picture, space, place);
    }
}

static void add_sensors(json_t *faults, const struct picture *picture, int space)
{
    const struct config_space *its = &picture->config->spaces[space];
    for (int i = 0; i < its->ppfd_sensor_count; i++) {
        const struct picture_sensor *sensor = &picture->sensors[its->ppfd_sensors[i]];
        if (!reading_is_good(&sensor->reading)) {
            add(faults, "light sensor %s: %s (%s)",
                picture->config->sensors[its->ppfd_sensors[i]].name,
                journal_quality_name(sensor->reading.quality), quality_fault_name(sensor->fault));
        }
    }
    for (int place = 0; place < its->rules.fixture_count; place++) {
        const struct config_fixture *fixture = &picture->config->fixtures[its->fixtures[place]];
        for (int i = 0; i < fixture->heat_sensor_count; i++) {
            const struct picture_sensor *sensor = &picture->sensors[fixture->heat_sensors[i]];
            if (!reading_is_good(&sensor->reading)) {
                add(faults, "heat sensor %s: %s (%s)",
                    picture->config->sensors[fixture->heat_sensors[i]].name,
                    journal_quality_name(sensor->reading.quality),
                    quality_fault_name(sensor->fault));
            }
        }
    }
}

static void add_output(json_t *faults, const struct picture *picture, int output)
{
    if (output >= 0 && picture->outputs[output].is_fault) {
        add(faults, "output %s does not obey: %s", picture->config->outputs[output].name,
            picture->outputs[output].reason);
    }
}

json_t *status_space_faults(const struct picture *picture, int space)
{
    const struct config_space *its = &picture->config->spaces[space];
    json_t *faults = json_array();
    for (int place = 0; place < its->rules.fixture_count; place++) {
        const struct config_fixture *fixture = &picture->config->fixtures[its->fixtures[place]];
        add_output(faults, picture, fixture->dim_output);
        add_output(faults, picture, fixture->switch_output);
        add_fixture(faults, picture, space, place);
        add_observed(faults, picture, space, place);
    }
    add_sensors(faults, picture, space);
    return faults;
}

json_t *status_faults(const struct picture *picture)
{
    json_t *faults = json_array();
    if (picture->clock.trust == CLOCK_UNTRUSTED) {
        add(faults, "the time of day is not known: the clock is %s", picture->clock.reason);
    }
    if (picture->in_crash_loop) {
        add(faults, "the daemon ended abnormally several times in ten minutes");
    }
    for (int i = 0; i < picture->config->bus_count; i++) {
        const struct mailbox_health *health = &picture->buses[i];
        if (!health->is_connected) {
            add(faults, "bus %s is not connected: %s", picture->config->buses[i].name,
                health->reason[0] ? health->reason : "no answer yet");
        }
    }
    for (int i = 0; i < picture->alarm_count; i++) {
        if (picture->alarms[i].is_failing) {
            add(faults, "the command of alarm %s does not work: %s", picture->alarms[i].name,
                picture->alarms[i].last.reason);
        }
    }
    if (picture->has_journal && picture->journal.health != JOURNAL_HEALTHY) {
        add(faults, "the journal %s: %s",
            picture->journal.health == JOURNAL_OFF ? "is off" : "waits", picture->journal.reason);
    }
    return faults;
}

static int count_of(json_t *faults)
{
    int count = (int)json_array_size(faults);
    json_decref(faults);
    return count;
}

void status_line(const struct picture *picture, char *buffer, size_t size)
{
    if (!picture->is_ready) {
        (void)snprintf(buffer, size, "making the outputs safe");
        return;
    }
    double watts = 0;
    int faults = count_of(status_faults(picture));
    int spaces = picture->config->space_count;
    for (int i = 0; i < spaces; i++) {
        double its = picture->spaces[i].verdict.watts;
        watts += units_known(its) ? its : 0;
        faults += count_of(status_space_faults(picture, i));
    }
    int used =
        snprintf(buffer, size, "%d space%s, %.0f W, clock %s", spaces, spaces == 1 ? "" : "s",
                 watts, words_clock(clocktrust_name(picture->clock.trust)));
    if (faults > 0 && used > 0 && (size_t)used < size) {
        (void)snprintf(buffer + used, size - (size_t)used, "; %d fault%s", faults,
                       faults == 1 ? "" : "s");
    }
}
