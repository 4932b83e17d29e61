/* SPDX-License-Identifier: Apache-2.0 */
#include "commands_parts.h"

#include "commands_sense.h"
#include "err.h"
#include "outlook_json.h"
#include "parse.h"
#include "status.h"
#include "units.h"
#include "why.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

struct method {
    const char *name;
    const char *params; /* the known ones, between spaces */
    enum control_code (*run)(struct commands *commands, const json_t *params, json_t **ret,
                             struct err *err);
};

enum control_code commands_refuse(struct err *err, enum control_code code, const char *sentence)
{
    (void)err_fail(err, EINVAL, "%s", sentence);
    return code;
}

json_t *commands_sentence(const char *text)
{
    return json_pack("{s:o}", "sentence", control_text(text));
}

int commands_find_space(const struct config *config, const json_t *params, struct err *err)
{
    const char *name = json_string_value(json_object_get(params, "space"));
    char known[256] = "";
    size_t used = 0;
    for (int i = 0; i < config->space_count; i++) {
        if (name && strcmp(name, config->spaces[i].name) == 0) {
            return i;
        }
        int length = snprintf(known + used, sizeof known - used, "%s%s", used ? ", " : "",
                              config->spaces[i].name);
        if (length < 0 || (size_t)length >= sizeof known - used) {
            break;
        }
        used += (size_t)length;
    }
    (void)err_fail(err, ENOENT, "there is no space '%.64s'; there are: %s", name ? name : "",
                   known);
    return -1;
}

/* One space of the newest snapshot, or all, as JSON. */
static enum control_code show(struct commands *commands, const json_t *params,
                              json_t *(*make)(const struct picture *, int), json_t **ret,
                              struct err *err)
{
    int space = -1;
    const struct picture *picture = snapshot_take(tick_snapshot(commands->tick));
    if (!picture) {
        return commands_refuse(err, CONTROL_FAILED, "the daemon has only just started; ask again");
    }
    if (json_object_get(params, "space")) {
        space = commands_find_space(picture->config, params, err);
    }
    const bool is_known = space >= 0 || !json_object_get(params, "space");
    if (is_known) {
        *ret = make(picture, space);
    }
    snapshot_release(tick_snapshot(commands->tick), picture);
    return is_known ? CONTROL_OK : CONTROL_INVALID_PARAMS;
}

static enum control_code run_status(struct commands *commands, const json_t *params, json_t **ret,
                                    struct err *err)
{
    const enum control_code code = show(commands, params, status_json, ret, err);
    if (code == CONTROL_OK) {
        json_object_set_new(*ret, "version", json_string(commands->version));
    }
    return code;
}

static enum control_code run_plan(struct commands *commands, const json_t *params, json_t **ret,
                                  struct err *err)
{
    return show(commands, params, outlook_json, ret, err);
}

static enum control_code run_why(struct commands *commands, const json_t *params, json_t **ret,
                                 struct err *err)
{
    return show(commands, params, why_picture, ret, err);
}

static enum control_code read_hold(const json_t *params, double *ret_level, double *ret_minutes,
                                   struct err *err)
{
    const json_t *level = json_object_get(params, "level");
    const json_t *minutes = json_object_get(params, "minutes");
    const json_t *break_night = json_object_get(params, "break_night");
    if (!json_is_number(level) ||
        !(json_number_value(level) >= 0 && json_number_value(level) <= 1)) {
        return commands_refuse(err, CONTROL_INVALID_PARAMS,
                               "level must be a number (0 … 1, ratio)");
    }
    if (!json_is_number(minutes) ||
        !(json_number_value(minutes) > 0 && json_number_value(minutes) <= COMMANDS_HOLD_MAX_MIN)) {
        return commands_refuse(err, CONTROL_INVALID_PARAMS,
                               "minutes must be a number (above 0 … 1440, min)");
    }
    if (break_night && !json_is_boolean(break_night)) {
        return commands_refuse(err, CONTROL_INVALID_PARAMS, "break_night must be true or false");
    }
    *ret_level = json_number_value(level);
    *ret_minutes = json_number_value(minutes);
    return CONTROL_OK;
}

static double lowest_level(const struct space_rules *rules)
{
    double lowest = 1;
    for (int i = 0; i < rules->fixture_count; i++) {
        lowest = fmin(lowest, dimcurve_min_level(&rules->fixtures[i].curve));
    }
    return lowest;
}

static void say_hold(const struct config_space *space, const struct picture_space *its,
                     const struct hand *hand, char *buffer, size_t size)
{
    char length[32];
    const char *note = "";
    double seconds = units_seconds(hand->until_ns - its->now.boot_ns);
    double lowest = lowest_level(&space->rules);
    parse_format_duration(ceil(seconds - 0.01), length, sizeof length);
    if (hand->level > 0 && hand->level < lowest) {
        (void)snprintf(buffer, size,
                       "%s: %.0f %% by hand for %s; its lowest light is %.0f %%, so it gives that",
                       space->name, hand->level * 100, length, lowest * 100);
        return;
    }
    if (its->verdict.place.is_lit && !hand->breaks_night &&
        (double)its->verdict.place.until_off_s < seconds) {
        note = "; lights-off comes before that and stands";
    }
    (void)snprintf(buffer, size,
                   "%s: %.0f %% by hand for %s%s. Heat, LED driver%s and light ceilings still rule",
                   space->name, hand->level * 100, length, note,
                   its->now.power.is_shared ? ", the power limit of all spaces" : "");
}

static enum control_code run_hold(struct commands *commands, const json_t *params, json_t **ret,
                                  struct err *err)
{
    double level = 0;
    double minutes = 0;
    char sentence[256];
    const struct config *config = tick_config(commands->tick);
    int space = commands_find_space(config, params, err);
    enum control_code code =
        space < 0 ? CONTROL_INVALID_PARAMS : read_hold(params, &level, &minutes, err);
    if (code != CONTROL_OK) {
        return code;
    }
    struct snapshot *snapshot = tick_snapshot(commands->tick);
    const struct picture *picture = snapshot_take(snapshot);
    if (!picture || !picture->is_ready || picture->config != config) {
        if (picture) {
            snapshot_release(snapshot, picture);
        }
        return commands_refuse(
            err, CONTROL_BUSY,
            "the daemon has only just started or reloaded; ask again in a moment");
    }
    const struct picture_space *its = &picture->spaces[space];
    struct hand hand = {
        .is_active = true,
        .level = level,
        .until_ns = picture->boot_ns + (int64_t)(minutes * 60 * 1e9),
        .breaks_night = json_is_true(json_object_get(params, "break_night")),
    };
    if (its->now.clock == CLOCK_UNTRUSTED &&
        config->spaces[space].rules.clock_policy != CLOCK_POLICY_CARRY_ON) {
        code = commands_refuse(
            err, CONTROL_REFUSED,
            "the time of day is not known: nobody can tell whether it is night. Not done");
    } else if (!its->verdict.place.is_lit && level > 0 && !hand.breaks_night) {
        commands_explain_night(config, space, its, err);
        code = CONTROL_REFUSED;
    } else {
        say_hold(&config->spaces[space], its, &hand, sentence, sizeof sentence);
        *ret = commands_sentence(sentence);
        tick_set_hand(commands->tick, space, &hand);
    }
    snapshot_release(snapshot, picture);
    return code;
}

/* In the last picture: what tick_acknowledge would let go. */
static bool has_latched_trip(struct commands *commands, int space)
{
    bool is_latched = false;
    struct snapshot *snapshot = tick_snapshot(commands->tick);
    const struct picture *picture = snapshot_take(snapshot);
    if (picture && picture->config == tick_config(commands->tick)) {
        const struct space_rules *rules = &picture->config->spaces[space].rules;
        const struct fixture_state *states = picture->spaces[space].state.fixtures;
        for (int place = 0; place < rules->fixture_count; place++) {
            is_latched = is_latched || states[place].heat.is_latched ||
                         states[place].ceiling.rest_left_s > 0;
        }
    }
    if (picture) {
        snapshot_release(snapshot, picture);
    }
    return is_latched;
}

static enum control_code run_resume(struct commands *commands, const json_t *params, json_t **ret,
                                    struct err *err)
{
    const struct hand none = {0};
    char sentence[192];
    const struct config *config = tick_config(commands->tick);
    int space = commands_find_space(config, params, err);
    if (space < 0) {
        return CONTROL_INVALID_PARAMS;
    }
    const bool had_trip = has_latched_trip(commands, space);
    tick_set_hand(commands->tick, space, &none);
    commands_end_trials(commands, space);
    tick_acknowledge(commands->tick, space);
    (void)snprintf(sentence, sizeof sentence, "%s: the plan rules again%s",
                   config->spaces[space].name, had_trip ? "; latched trips are released" : "");
    *ret = commands_sentence(sentence);
    return CONTROL_OK;
}

static json_t *lines_json(const char *text)
{
    json_t *array = json_array();
    while (text && *text) {
        char line[CONTROL_TEXT_MAX];
        const int length = (int)strcspn(text, "\n");
        (void)snprintf(line, sizeof line, "%.*s", length, text);
        json_array_append_new(array, control_text(line));
        text += length + (text[length] == '\n');
    }
    return array;
}

static enum control_code run_reload(struct commands *commands, const json_t *params, json_t **ret,
                                    struct err *err)
{
    struct config_report report = {0};
    (void)params;
    const int code = commands->reload(commands->context, &report, err);
    if (code == 0) {
        *ret = commands_sentence(err->text);
        json_object_set_new(*ret, "warnings", lines_json(report.text));
    }
    config_report_free(&report);
    return code == 0 ? CONTROL_OK : CONTROL_REFUSED;
}

static enum control_code run_version(struct commands *commands, const json_t *params, json_t **ret,
                                     struct err *err)
{
    (void)params;
    (void)err;
    *ret = json_pack("{s:s}", "version", commands->version);
    return CONTROL_OK;
}

static const struct method methods[] = {
    {"status", " space ", run_status},
    {"plan", " space ", run_plan},
    {"why", " space ", run_why},
    {"metrics", " ", commands_metrics},
    {"alarms", " ", commands_alarms},
    {"alarm_test", " alarm ", commands_alarm_test},
    {"hold", " space level minutes break_night ", run_hold},
    {"resume", " space ", run_resume},
    {"gain", " space accept clear ", commands_gain},
    {"reload", " ", run_reload},
    {"version", " ", run_version},
    {"try", " output value seconds break_night ", commands_try},
    {"try_end", " output ", commands_try_end},
    {"sense", " ", commands_sense},
    {"scan_start", " bus from to ", commands_scan_start},
    {"scan", " bus scan seen ", commands_scan},
    {"scan_end", " bus scan seen ", commands_scan_end},
};

static const struct method *find_method(const char *name)
{
    for (size_t i = 0; i < sizeof methods / sizeof methods[0]; i++) {
        if (strcmp(methods[i].name, name) == 0) {
            return &methods[i];
        }
    }
    return NULL;
}

static bool knows_all_params(const struct method *method, json_t *params, struct err *err)
{
    const char *name;
    json_t *value;
    json_object_foreach(params, name, value)
    {
        char word[40];
        (void)snprintf(word, sizeof word, " %.36s ", name);
        if (strchr(name, ' ') || !strstr(method->params, word)) {
            (void)err_fail(err, EINVAL, "%s has no parameter '%.64s'; it has:%s", method->name,
                           name, method->params[1] ? method->params : " none");
            return false;
        }
    }
    return true;
}

static enum control_code run(struct commands *commands, const struct control_call *call,
                             json_t **ret, struct err *err)
{
    const struct method *method = find_method(call->method);
    if (!method) {
        (void)err_fail(err, ENOENT, "there is no method '%.64s'", call->method);
        return CONTROL_UNKNOWN_METHOD;
    }
    if (!knows_all_params(method, call->params, err)) {
        return CONTROL_INVALID_PARAMS;
    }
    return method->run(commands, call->params, ret, err);
}

char *commands_answer(void *context, const char *line, size_t size)
{
    struct commands *commands = context;
    struct control_call call;
    struct err err = {""};
    json_t *result = NULL;
    char *text = NULL;
    enum control_code code = control_parse(line, size, &call, &err);
    bool is_notification = code == CONTROL_OK && !call.id;
    if (code == CONTROL_OK) {
        code = run(commands, &call, &result, &err);
    }
    if (is_notification) {
        json_decref(result);
    } else if (code == CONTROL_OK) {
        text = control_result(call.id, result);
    } else {
        text = control_error(call.id, code, err.text);
    }
    control_call_finish(&call);
    return text;
}
