/* SPDX-License-Identifier: Apache-2.0 */
/* One output moved by hand: `try` and `try_end`. What guards it afterwards is decide's business;
 * here a wish that cannot be granted now is refused with its reason. */
#include "commands_parts.h"

#include "parse.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

static const struct trial none; /* not active */

/* An output and the lamp that hangs on it. */
struct lamp {
    int output;
    int space, place; /* −1: of none */
    bool is_switch;
    const struct config_output *its;
    const struct config_fixture *fixture; /* NULL: none */
};

static void find_lamp(const struct config *config, struct lamp *lamp)
{
    lamp->its = &config->outputs[lamp->output];
    lamp->is_switch = lamp->its->kind == OUTPUT_SWITCH;
    for (int s = 0; s < config->space_count; s++) {
        for (int place = 0; place < config->spaces[s].rules.fixture_count; place++) {
            const struct config_fixture *fixture =
                &config->fixtures[config->spaces[s].fixtures[place]];
            if (fixture->dim_output == lamp->output || fixture->switch_output == lamp->output) {
                lamp->space = s;
                lamp->place = place;
                lamp->fixture = fixture;
                return;
            }
        }
    }
}

static enum control_code find_output(const struct config *config, const json_t *params,
                                     struct lamp *ret, struct err *err)
{
    const char *name = json_string_value(json_object_get(params, "output"));
    *ret = (struct lamp){.output = -1, .space = -1, .place = -1};
    for (int i = 0; name && i < config->output_count; i++) {
        if (strcmp(config->outputs[i].name, name) == 0) {
            ret->output = i;
        }
    }
    if (ret->output < 0) {
        (void)err_fail(err, ENOENT,
                       "there is no output '%.64s'; `outputs` in the configuration "
                       "names them",
                       name ? name : "");
        return CONTROL_INVALID_PARAMS;
    }
    find_lamp(config, ret);
    if (!ret->fixture) {
        (void)err_fail(
            err, EPERM,
            "%s: no fixture of a space uses it, so no night, heat or ceiling would guard "
            "what hangs on it. Not done; give it to a fixture first",
            ret->its->name);
        return CONTROL_REFUSED;
    }
    return CONTROL_OK;
}

/* The drive of a dimming output is a number, the position of a switch a word: nobody closes a lamp
 * by asking for 100 % of the wrong line. */
static enum control_code read_value(const struct lamp *lamp, const json_t *value, double *ret,
                                    struct err *err)
{
    const char *word = json_string_value(value);
    const double number = json_number_value(value);
    if (!lamp->is_switch && json_is_number(value) && number >= 0 && number <= 1) {
        *ret = number;
        return CONTROL_OK;
    }
    if (lamp->is_switch && word && (strcmp(word, "open") == 0 || strcmp(word, "closed") == 0)) {
        *ret = strcmp(word, "closed") == 0;
        return CONTROL_OK;
    }
    (void)err_fail(err, EINVAL, "%s is a %s: value must be %s", lamp->its->name,
                   lamp->is_switch ? "switch" : "dimming output",
                   lamp->is_switch ? "open or closed" : "a number (drive 0 … 1, ratio)");
    return CONTROL_INVALID_PARAMS;
}

static enum control_code read_trial(const json_t *params, const struct lamp *lamp,
                                    struct trial *ret, double *ret_seconds, struct err *err)
{
    const json_t *seconds = json_object_get(params, "seconds");
    const json_t *break_night = json_object_get(params, "break_night");
    *ret_seconds = seconds ? json_number_value(seconds) : COMMANDS_TRY_S;
    ret->is_active = true;
    ret->breaks_night = json_is_true(break_night);
    if (!(*ret_seconds > 0 && *ret_seconds <= COMMANDS_TRY_MAX_S)) {
        return commands_refuse(err, CONTROL_INVALID_PARAMS,
                               "seconds must be a number (above 0 … 600, s)");
    }
    if (break_night && !json_is_boolean(break_night)) {
        return commands_refuse(err, CONTROL_INVALID_PARAMS, "break_night must be true or false");
    }
    return read_value(lamp, json_object_get(params, "value"), &ret->value, err);
}

/* Behind a contact that is open a dimming line gives no light, whatever it says. */
static bool gives_light(const struct lamp *lamp, const struct picture_space *its,
                        const struct trial *trial)
{
    const struct fixture_now *now = &its->now.fixtures[lamp->place];
    if (lamp->is_switch) {
        return trial->value > 0.5;
    }
    const bool closes =
        trial_is_on(&now->try_contact, its->now.boot_ns) && now->try_contact.value > 0.5;
    return lamp->fixture->switch_output < 0 || closes || its->verdict.fixtures[lamp->place].closed;
}

static bool knows_time(const struct picture_space *its, const struct space_rules *rules)
{
    return its->now.clock != CLOCK_UNTRUSTED || rules->clock_policy == CLOCK_POLICY_CARRY_ON;
}

static enum control_code may_try(const struct picture *picture, const struct lamp *lamp,
                                 const struct trial *trial, struct err *err)
{
    const struct config *config = picture->config;
    const struct space_rules *rules = &config->spaces[lamp->space].rules;
    const struct picture_space *its = &picture->spaces[lamp->space];
    const struct outputs_view *view = &picture->outputs[lamp->output];
    if (view->is_fault) {
        (void)err_fail(err, EIO, "%s does not obey, so it stays safe: %s. Not done",
                       lamp->its->name, view->reason);
        return CONTROL_REFUSED;
    }
    if (!gives_light(lamp, its, trial)) {
        return CONTROL_OK;
    }
    if (!knows_time(its, rules)) {
        return commands_refuse(
            err, CONTROL_REFUSED,
            "the time of day is not known: nobody can tell whether it is night. Not done");
    }
    if (!its->verdict.place.is_lit && !trial->breaks_night) {
        commands_explain_night(config, lamp->space, its, err);
        return CONTROL_REFUSED;
    }
    return CONTROL_OK;
}

/* Of a dimming line: what becomes of it behind its switch. */
static const char *note_of(const struct picture *picture, const struct lamp *lamp,
                           const struct trial *trial)
{
    const struct picture_space *its = &picture->spaces[lamp->space];
    if (gives_light(lamp, its, trial)) {
        return "heat, LED driver and light ceilings still rule";
    }
    if (its->verdict.place.is_lit && knows_time(its, &picture->config->spaces[lamp->space].rules)) {
        return "its switch is open now; the plan may close it within this time, and then it gives "
               "light";
    }
    return "its switch is open, so no light comes of it";
}

static json_t *answer(const struct picture *picture, const struct lamp *lamp,
                      const struct trial *trial, double seconds)
{
    char sentence[256];
    char length[32];
    char what[32] = "open";
    const char *note = note_of(picture, lamp, trial);
    parse_format_duration(seconds, length, sizeof length);
    if (lamp->is_switch && trial->value > 0.5) {
        (void)snprintf(what, sizeof what, "closed");
        note = "minimum times, heat, LED driver and light ceilings still rule";
    } else if (lamp->is_switch) {
        note = "the minimum times of the switch still rule";
    } else {
        (void)snprintf(what, sizeof what, "drive %.2f", trial->value);
    }
    (void)snprintf(sentence, sizeof sentence, "%s: %s for %s, then the plan goes on; %s",
                   lamp->its->name, what, length, note);
    return json_pack("{s:s,s:s,s:s,s:s,s:f}", "sentence", sentence, "space",
                     picture->config->spaces[lamp->space].name, "fixture", lamp->fixture->name,
                     "kind", lamp->is_switch ? "switch" : "dim", "seconds", seconds);
}

static enum control_code try_lamp(struct commands *commands, const struct picture *picture,
                                  const struct lamp *lamp, const json_t *params, json_t **ret,
                                  struct err *err)
{
    struct trial trial = {.is_active = true};
    double seconds = 0;
    enum control_code code = read_trial(params, lamp, &trial, &seconds, err);
    if (code == CONTROL_OK) {
        code = may_try(picture, lamp, &trial, err);
    }
    if (code == CONTROL_OK) {
        /* The picture is of the last tick: the output moves in the next one. */
        trial.until_ns = picture->boot_ns + (int64_t)((seconds + 1) * 1e9);
        *ret = answer(picture, lamp, &trial, seconds);
        tick_set_trial(commands->tick, lamp->output, &trial);
    }
    return code;
}

enum control_code commands_try(struct commands *commands, const json_t *params, json_t **ret,
                               struct err *err)
{
    struct lamp lamp;
    const struct config *config = tick_config(commands->tick);
    enum control_code code = find_output(config, params, &lamp, err);
    if (code != CONTROL_OK) {
        return code;
    }
    struct snapshot *snapshot = tick_snapshot(commands->tick);
    const struct picture *picture = snapshot_take(snapshot);
    if (picture && picture->is_ready && picture->config == config) {
        code = try_lamp(commands, picture, &lamp, params, ret, err);
    } else {
        code =
            commands_refuse(err, CONTROL_BUSY,
                            "the daemon has only just started or reloaded; ask again in a moment");
    }
    if (picture) {
        snapshot_release(snapshot, picture);
    }
    return code;
}

enum control_code commands_try_end(struct commands *commands, const json_t *params, json_t **ret,
                                   struct err *err)
{
    struct lamp lamp;
    char sentence[96];
    enum control_code code = find_output(tick_config(commands->tick), params, &lamp, err);
    if (code == CONTROL_OK) {
        tick_set_trial(commands->tick, lamp.output, &none);
        (void)snprintf(sentence, sizeof sentence, "%s: the plan rules again", lamp.its->name);
        *ret = commands_sentence(sentence);
    }
    return code;
}

void commands_end_trials(struct commands *commands, int space)
{
    const struct config *config = tick_config(commands->tick);
    const struct config_space *its = &config->spaces[space];
    for (int place = 0; place < its->rules.fixture_count; place++) {
        const struct config_fixture *fixture = &config->fixtures[its->fixtures[place]];
        if (fixture->dim_output >= 0) {
            tick_set_trial(commands->tick, fixture->dim_output, &none);
        }
        if (fixture->switch_output >= 0) {
            tick_set_trial(commands->tick, fixture->switch_output, &none);
        }
    }
}
