/* SPDX-License-Identifier: Apache-2.0 */
#include "status.h"

#include "air.h"
#include "control_proto.h"
#include "demonstration.h"
#include "outlook.h"
#include "parse.h"
#include "power_words.h"
#include "status_parts.h"
#include "units.h"
#include "words.h"

#include <stdio.h>

static json_t *status_reading(const struct reading *reading)
{
    return control_real(reading->value);
}

const char *status_phase(const struct space_rules *rules, const struct verdict *verdict)
{
    switch (verdict->stage.phase) {
    case STAGE_WAITING:
        return "waiting";
    case STAGE_OVER:
        return "over";
    case STAGE_RUNNING:
        break;
    }
    if (!verdict->place.is_lit) {
        return "night";
    }
    const struct ramp *ramp = &rules->stages[verdict->stage.index].ramp;
    if (verdict->place.since_on_s < ramp->dawn_s) {
        return "dawn";
    }
    return verdict->place.until_off_s <= ramp->dusk_s ? "dusk" : "day";
}

static json_t *date_text(int64_t day)
{
    char text[16];
    parse_format_date(day, text, sizeof text);
    return json_string(text);
}

static json_t *seconds_or_null(int64_t seconds)
{
    return seconds >= 0 ? json_integer(seconds) : json_null();
}

json_t *status_missing(const struct account *account)
{
    json_t *object = json_object();
    for (int i = 0; i < LIMITER_COUNT; i++) {
        if (account->missing_mol[i] > 0.0005) {
            json_object_set_new(object, limiter_name((enum limiter)i),
                                json_real(account->missing_mol[i]));
        }
    }
    return object;
}

static void put_stage(json_t *object, const struct config_space *space,
                      const struct picture_space *its)
{
    const struct stage_today *today = &its->verdict.stage;
    bool is_running = today->phase == STAGE_RUNNING;
    const struct stage none = {0};
    const struct stage *stage = is_running ? &space->rules.stages[today->index] : &none;
    json_object_set_new(object, "stage", is_running ? json_string(stage->name) : json_null());
    json_object_set_new(object, "stage_day", json_integer(today->day));
    json_object_set_new(object, "stage_days",
                        stage->days > 0 ? json_integer(stage->days) : json_null());
    json_object_set_new(object, "night_is_protected", json_boolean(stage->protects_night));
    json_object_set_new(object, "phase", json_string(status_phase(&space->rules, &its->verdict)));
    json_object_set_new(object, "light_day",
                        its->state.is_begun ? date_text(its->state.light_day) : json_null());
    const struct lightday_place *place = &its->verdict.place;
    const bool has_off = place->is_lit && !place->is_always;
    json_object_set_new(object, "until_on_s",
                        is_running ? seconds_or_null(place->until_on_s) : json_null());
    json_object_set_new(object, "until_off_s",
                        has_off ? seconds_or_null(place->until_off_s) : json_null());
}

/* What the space's light is read by, and how long ago it was. */
static void put_sensors(json_t *object, const struct config *config,
                        const struct config_space *space, const struct picture_space *its)
{
    json_t *names = json_array();
    for (int i = 0; i < space->ppfd_sensor_count; i++) {
        json_array_append_new(names, json_string(config->sensors[space->ppfd_sensors[i]].name));
    }
    json_object_set_new(object, "ppfd_sensors", names);
    json_object_set_new(object, "ppfd_age_s",
                        its->now.ppfd.taken_ns > 0
                            ? json_real(units_seconds(its->now.boot_ns - its->now.ppfd.taken_ns))
                            : json_null());
}

static void put_light(json_t *object, const struct config_space *space,
                      const struct picture_space *its)
{
    const struct verdict *verdict = &its->verdict;
    json_object_set_new(object, "level", control_real(verdict->level));
    json_object_set_new(object, "asked_level", control_real(verdict->asked));
    json_object_set_new(object, "limiter", json_string(limiter_name(verdict->limiter)));
    json_object_set_new(object, "limiter_words", json_string(words_limiter(verdict->limiter)));
    json_object_set_new(object, "ppfd_umol", status_reading(&its->now.ppfd));
    json_object_set_new(object, "ppfd_quality",
                        json_string(journal_quality_name(its->now.ppfd.quality)));
    json_object_set_new(object, "lamp_umol", control_real(verdict->lamp_umol));
    json_object_set_new(object, "daylight_umol", control_real(verdict->daylight_umol));
    json_object_set_new(object, "full_umol", control_real(verdict->full_umol));
    json_object_set_new(object, "light_is_measured", json_boolean(verdict->light_is_measured));
    json_object_set_new(object, "gain", status_gain(&its->state));
    json_object_set_new(object, "ageing", status_ageing(space, &its->state));
}

json_t *status_out_of_reach(const struct reach *reach)
{
    char text[256];
    if (!reach->is_short) {
        return json_null();
    }
    words_reach(reach, text, sizeof text);
    return json_string(text);
}

/* What one even level through the whole window would have given by now. */
static double even_pace_mol(const struct space_rules *rules, const struct verdict *verdict,
                            int64_t wall_s)
{
    const struct stage_today *today = &verdict->stage;
    if (today->phase != STAGE_RUNNING) {
        return UNITS_NONE;
    }
    struct lightday_piece pieces[2];
    const struct lightday_window *window = &rules->stages[today->index].window;
    const int count = lightday_pieces(&rules->day, window, wall_s, pieces);
    double left_s = 0;
    for (int i = 0; i < count; i++) {
        left_s += (double)(pieces[i].to_s - pieces[i].from_s);
    }
    return window->length_s > 0 ? verdict->account.target_mol * (1 - left_s / window->length_s)
                                : UNITS_NONE;
}

static void put_day(json_t *object, const struct config *config, const struct config_space *space,
                    const struct picture_space *its)
{
    struct day_summary day;
    decide_summary(&space->rules, &its->state, &day);
    const struct account *account = &its->verdict.account;
    json_object_set_new(object, "delivered_mol", control_real(account->delivered_mol));
    json_object_set_new(object, "target_mol", control_real(account->target_mol));
    json_object_set_new(object, "even_pace_mol",
                        control_real(even_pace_mol(&space->rules, &its->verdict, its->now.wall_s)));
    json_object_set_new(
        object, "forecast_mol",
        control_real(outlook_expected_mol(&space->rules, &its->state, &its->now, &its->verdict)));
    json_object_set_new(object, "missing_mol", status_missing(account));
    json_object_set_new(object, "out_of_reach", status_out_of_reach(&its->verdict.reach));
    json_object_set_new(object, "lamp_mol", control_real(day.integral.lamp_mol));
    json_object_set_new(object, "daylight_mol", control_real(day.integral.daylight_mol));
    json_object_set_new(object, "lost_s", control_real(day.integral.lost_s));
    json_object_set_new(object, "watts", control_real(its->verdict.watts));
    json_object_set_new(object, "energy_kwh", control_real(day.energy_kwh));
    json_object_set_new(object, "cost", control_real(day.cost));
    json_object_set_new(object, "currency", control_text(config->site.currency));
    json_object_set_new(object, "switch_operations", json_integer(day.switch_operations));
    json_object_set_new(object, "night_dose_umol_m2", control_real(day.night_dose_umol_m2));
    json_object_set_new(object, "night_possible_umol_m2", control_real(its->state.night_possible));
    json_object_set_new(object, "night_breaks", json_integer(day.night_breaks));
}

static void put_air(json_t *object, const struct recorder_air *air)
{
    double celsius = air->temperature.value;
    double percent = air->humidity.value;
    json_object_set_new(object, "air_c", control_real(celsius));
    json_object_set_new(object, "humidity_percent", control_real(percent));
    json_object_set_new(object, "vpd_kpa", control_real(air_vpd_kpa(celsius, percent)));
    json_object_set_new(object, "dew_point_c", control_real(air_dew_point_c(celsius, percent)));
}

static json_t *hand_json(const struct now *now)
{
    if (!now->hand.is_active) {
        return json_null();
    }
    return json_pack("{s:f,s:f,s:b}", "level", now->hand.level, "left_s",
                     units_seconds(now->hand.until_ns - now->boot_ns), "breaks_night",
                     (int)now->hand.breaks_night);
}

static json_t *fixture_json(const struct config_fixture *fixture, const struct fixture_rules *rules,
                            const struct picture_space *its, int place)
{
    const struct fixture_verdict *verdict = &its->verdict.fixtures[place];
    const struct fixture_state *state = &its->state.fixtures[place];
    const struct fixture_now *now = &its->now.fixtures[place];
    json_t *object = json_object();
    json_object_set_new(object, "fixture", json_string(fixture->name));
    json_object_set_new(object, "level", control_real(verdict->level));
    json_object_set_new(object, "drive", control_real(verdict->drive));
    json_object_set_new(object, "closed", json_boolean(verdict->closed));
    json_object_set_new(object, "seen_closed",
                        now->switch_is_seen ? json_boolean(now->switch_seen_closed) : json_null());
    json_object_set_new(object, "watts", control_real(verdict->watts));
    json_object_set_new(object, "unconfirmed_s",
                        verdict->unsure_s > 0 ? json_real(verdict->unsure_s) : json_null());
    json_object_set_new(object, "switch_is_known",
                        json_boolean(!verdict->is_unknown && !(verdict->unsure_s > 0)));
    status_put_observed(object, rules, its, place);
    json_object_set_new(object, "limiter", json_string(limiter_name(verdict->limiter)));
    json_object_set_new(object, "heat_c", status_reading(&now->heat));
    json_object_set_new(object, "heat_max_c", control_real(state->heat.max_c));
    json_object_set_new(object, "heat_from_c", control_real(rules->heat.from_c));
    json_object_set_new(object, "heat_trip_c", control_real(rules->heat.trip_c));
    json_object_set_new(object, "heat_is_latched", json_boolean(state->heat.is_latched));
    json_object_set_new(object, "drive_cap", control_real(state->ceiling.drive_cap));
    json_object_set_new(object, "switch_operations_total",
                        json_integer((json_int_t)state->switching.operations_total));
    json_object_set_new(object, "output_fault", json_boolean(now->output_fault));
    return object;
}

static json_t *space_json(const struct picture *picture, int index)
{
    const struct config *config = picture->config;
    const struct config_space *space = &config->spaces[index];
    const struct picture_space *its = &picture->spaces[index];
    json_t *object = json_object();
    json_t *fixtures = json_array();
    char sentence[192];
    words_state(config, index, &its->now, &its->verdict, sentence, sizeof sentence);
    json_object_set_new(object, "space", json_string(space->name));
    json_object_set_new(object, "state", json_string(sentence));
    put_stage(object, space, its);
    put_light(object, space, its);
    put_sensors(object, config, space, its);
    put_day(object, config, space, its);
    put_air(object, &its->air);
    json_object_set_new(object, "hand", hand_json(&its->now));
    for (int place = 0; place < space->rules.fixture_count; place++) {
        const struct config_fixture *fixture = &config->fixtures[space->fixtures[place]];
        json_array_append_new(fixtures,
                              fixture_json(fixture, &space->rules.fixtures[place], its, place));
    }
    json_object_set_new(object, "fixtures", fixtures);
    json_object_set_new(object, "faults", status_space_faults(picture, index));
    return object;
}

static json_t *buses_json(const struct picture *picture)
{
    json_t *array = json_array();
    for (int i = 0; i < picture->config->bus_count; i++) {
        const struct mailbox_health *health = &picture->buses[i];
        json_t *object = json_object();
        json_object_set_new(object, "bus", json_string(picture->config->buses[i].name));
        json_object_set_new(object, "connected", json_boolean(health->is_connected));
        json_object_set_new(object, "since_s",
                            json_real(units_seconds(picture->boot_ns - health->since_ns)));
        json_object_set_new(object, "failures", json_integer(health->failures));
        json_object_set_new(object, "last_error",
                            health->reason[0] ? control_text(health->reason) : json_null());
        json_array_append_new(array, object);
    }
    return array;
}

static json_t *journal_json(const struct picture *picture)
{
    static const char *const names[] = {
        [JOURNAL_HEALTHY] = "healthy", [JOURNAL_WAITING] = "waiting", [JOURNAL_OFF] = "off"};
    const struct journal_status *journal = &picture->journal;
    json_t *object = json_object();
    json_object_set_new(object, "state",
                        json_string(picture->has_journal ? names[journal->health] : "off"));
    json_object_set_new(object, "reason",
                        journal->reason[0] ? control_text(journal->reason) : json_null());
    json_object_set_new(object, "queued", json_integer((json_int_t)journal->queued));
    json_object_set_new(object, "dropped", json_integer((json_int_t)journal->dropped));
    json_object_set_new(object, "written", json_integer((json_int_t)journal->written));
    json_object_set_new(object, "stored_s",
                        journal->stored_s ? json_integer(journal->stored_s) : json_null());
    json_object_set_new(object, "stored_event",
                        journal->stored_event ? json_integer(journal->stored_event) : json_null());
    json_object_set_new(object, "file_bytes", json_integer((json_int_t)journal->file_bytes));
    return object;
}

/* Of a supply that all spaces share. */
static json_t *power_json(const struct picture *picture)
{
    const struct powerplan_view *power = &picture->power;
    char words[POWER_WORDS_MAX];
    if (!power->is_shared) {
        return json_null();
    }
    power_words_now(power, picture->config->site.currency, words, sizeof words);
    return json_pack("{s:s,s:o,s:o,s:o,s:b,s:b,s:o,s:b,s:b}", "words", words, "watts",
                     control_real(power->watts), "limit_w", control_real(power->limit_w),
                     "soft_limit_w", control_real(power->soft_w), "is_binding",
                     (int)power->is_binding, "is_soft", (int)power->is_soft, "extra_per_kwh",
                     control_real(power->extra_per_kwh), "lowest_is_too_much", (int)power->is_short,
                     "cuts_floor", (int)power->cuts_floor);
}

static json_t *alarms_json(const struct picture *picture)
{
    json_t *array = json_array();
    for (int i = 0; i < picture->alarm_count; i++) {
        const struct alarm_view *view = &picture->alarms[i];
        uint64_t runs = 0;
        for (int k = 0; k < ALARM_OUTCOMES; k++) {
            runs += view->runs[k];
        }
        json_array_append_new(
            array, json_pack("{s:s,s:I,s:I,s:I,s:b,s:o}", "alarm", view->name, "runs",
                             (json_int_t)runs, "failures", (json_int_t)(runs - view->runs[0]),
                             "held_back", (json_int_t)view->held_back, "is_failing",
                             (int)view->is_failing, "last_error",
                             view->is_failing ? control_text(view->last.reason) : json_null()));
    }
    return array;
}

void status_put_demonstration(json_t *object, const struct picture *picture)
{
    char words[DEMONSTRATION_WORDS];
    if (picture->pace > 0) {
        demonstration_words(picture->pace, words, sizeof words);
        json_object_set_new(object, "demonstration", json_string(words));
    }
}

static void put_daemon(json_t *object, const struct picture *picture)
{
    char time[32];
    parse_format_datetime(picture->wall_ns / UNITS_NS_PER_S, picture->config->site.utc_offset_s,
                          time, sizeof time);
    status_put_demonstration(object, picture);
    json_object_set_new(object, "site", control_text(picture->config->site.name));
    json_object_set_new(object, "time", json_string(time));
    json_object_set_new(object, "clock", json_string(clocktrust_name(picture->clock.trust)));
    json_object_set_new(object, "clock_reason", json_string(picture->clock.reason));
    json_object_set_new(object, "uptime_s",
                        json_real(units_seconds(picture->boot_ns - picture->started_ns)));
    json_object_set_new(object, "is_ready", json_boolean(picture->is_ready));
    json_object_set_new(object, "in_crash_loop", json_boolean(picture->in_crash_loop));
    json_object_set_new(object, "ticks", json_integer((json_int_t)picture->ticks));
    json_object_set_new(object, "power", power_json(picture));
    json_object_set_new(object, "overruns", json_integer((json_int_t)picture->overruns));
}

json_t *status_json(const struct picture *picture, int space)
{
    json_t *object = json_object();
    json_t *spaces = json_array();
    put_daemon(object, picture);
    for (int i = 0; picture->is_ready && i < picture->config->space_count; i++) {
        if (space < 0 || i == space) {
            json_array_append_new(spaces, space_json(picture, i));
        }
    }
    json_object_set_new(object, "spaces", spaces);
    json_object_set_new(object, "outputs", status_outputs(picture, space));
    json_object_set_new(object, "buses", buses_json(picture));
    json_object_set_new(object, "journal", journal_json(picture));
    json_object_set_new(object, "alarms", alarms_json(picture));
    json_object_set_new(object, "faults", status_faults(picture));
    return object;
}
