/* SPDX-License-Identifier: Apache-2.0 */
/* What the lamps' own steps say of the light sensor, and what a person makes of it. */
#include "commands_parts.h"

#include "err.h"
#include "parse.h"
#include "status_parts.h"
#include "units.h"

#include <stdio.h>
#include <string.h>

#define SENTENCE_MAX 640

static void append(char *text, const char *more)
{
    const size_t used = strlen(text);
    (void)snprintf(text + used, SENTENCE_MAX - used, "%s", more);
}

static void say_few(const struct config_space *space, const struct lampstep *steps,
                    const char *first, char *text)
{
    (void)snprintf(text, SENTENCE_MAX,
                   "%s: %d of the %d steps of the lamps that it takes to tell were seen%s%s",
                   space->name, steps->count, LAMPSTEP_KEPT, first[0] ? ", since " : "", first);
}

static void say_steps(const struct config_space *space, const struct lampstep *steps, char *text)
{
    const double ratio = lampstep_ratio(steps);
    char first[16] = "";
    char last[16] = "";
    int64_t first_day = 0;
    int64_t last_day = 0;
    if (lampstep_days(steps, &first_day, &last_day)) {
        parse_format_date(first_day, first, sizeof first);
        parse_format_date(last_day, last, sizeof last);
    }
    if (!units_known(ratio)) {
        say_few(space, steps, first, text);
        return;
    }
    (void)snprintf(text, SENTENCE_MAX,
                   "%s: where the lamps light up or go dark the sensor shows %.3f of the light "
                   "that they promise (median of %d steps, %s to %s:",
                   space->name, ratio, LAMPSTEP_KEPT, first, last);
    for (int i = 0; i < LAMPSTEP_KEPT; i++) {
        char one[16];
        (void)snprintf(one, sizeof one, " %.3f",
                       (double)steps->ratio[(steps->next + i) % LAMPSTEP_KEPT]);
        append(text, one);
    }
    append(text, ")");
}

static void say_accepted(const struct config *config, const struct correction *accepted, char *text)
{
    char since[32] = "";
    char line[160];
    if (correction_is_none(accepted)) {
        append(text, "\nsensor and lamps count as configured");
        return;
    }
    parse_format_datetime(accepted->since_s, config->site.utc_offset_s, since, sizeof since);
    (void)snprintf(line, sizeof line, "\naccepted at %s: readings ÷ %.3f, ppfd_full × %.3f", since,
                   accepted->sensor, accepted->lamp);
    append(text, line);
}

static const char *wish_of(const json_t *params, struct err *err)
{
    const json_t *accept = json_object_get(params, "accept");
    const json_t *clear = json_object_get(params, "clear");
    const char *what = json_string_value(accept);
    if (clear && !json_is_boolean(clear)) {
        (void)commands_refuse(err, CONTROL_INVALID_PARAMS, "clear must be true or false");
        return NULL;
    }
    if (accept && (json_is_true(clear) || !what ||
                   (strcmp(what, "sensor") != 0 && strcmp(what, "lamp") != 0))) {
        (void)commands_refuse(err, CONTROL_INVALID_PARAMS,
                              "accept must be \"sensor\" or \"lamp\", and not beside clear");
        return NULL;
    }
    return what ? what : json_is_true(clear) ? "clear" : "";
}

enum control_code commands_gain(struct commands *commands, const json_t *params, json_t **ret,
                                struct err *err)
{
    const struct config *config = tick_config(commands->tick);
    const int space = commands_find_space(config, params, err);
    const char *wish = space < 0 ? NULL : wish_of(params, err);
    if (!wish) {
        return CONTROL_INVALID_PARAMS;
    }
    char text[SENTENCE_MAX] = "";
    const struct space_state *state = tick_state(commands->tick, space);
    if (strcmp(wish, "clear") == 0) {
        (void)tick_uncorrect(commands->tick, space); /* where there is none it is done */
    } else if (wish[0]) {
        const enum correction_of of =
            strcmp(wish, "sensor") == 0 ? CORRECTION_SENSOR : CORRECTION_LAMP;
        if (tick_correct(commands->tick, space, of, err) < 0) {
            return CONTROL_REFUSED;
        }
    }
    say_steps(&config->spaces[space], &state->lampstep, text);
    say_accepted(config, &state->correction, text);
    *ret = json_pack("{s:o,s:o}", "sentence", control_text(text), "gain", status_gain(state));
    return CONTROL_OK;
}
