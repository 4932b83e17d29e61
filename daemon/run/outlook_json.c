/* SPDX-License-Identifier: Apache-2.0 */
#include "outlook_json.h"

#include "control_proto.h"
#include "outlook.h"
#include "outlook_words.h"
#include "parse.h"
#include "status_parts.h"
#include "units.h"
#include "words.h"

#include <math.h>

static void put_number(json_t *object, const char *key, double value)
{
    json_object_set_new(object, key, control_real(value));
}

static void put_time(json_t *object, const char *key, const struct config *config, int64_t wall_s)
{
    char text[32];
    parse_format_datetime(wall_s, config->site.utc_offset_s, text, sizeof text);
    json_object_set_new(object, key, json_string(text));
}

static void put_date(json_t *object, const char *key, int64_t day)
{
    char text[16];
    parse_format_date(day, text, sizeof text);
    json_object_set_new(object, key, json_string(text));
}

static json_t *hour_json(const struct config *config, const struct outlook_row *row)
{
    json_t *object = json_object();
    put_time(object, "from", config, row->from_s);
    put_time(object, "to", config, row->to_s);
    json_object_set_new(object, "length_s", json_integer(row->to_s - row->from_s));
    put_number(object, "level", row->level);
    put_number(object, "lamp_mol", row->lamp_mol);
    put_number(object, "daylight_mol", row->daylight_mol);
    put_number(object, "price_per_kwh", row->price_per_kwh);
    json_object_set_new(object, "price_stands_in",
                        json_boolean(tariff_misses_series(&config->site.tariff, row->from_s)));
    put_number(object, "energy_kwh", row->energy_kwh);
    put_number(object, "cost", row->cost);
    json_object_set_new(object, "limiter", json_string(limiter_name(row->limiter)));
    json_object_set_new(object, "reason", json_string(outlook_why_name(row->why)));
    json_object_set_new(object, "words", json_string(outlook_words(row)));
    return object;
}

static json_t *hours_json(const struct config *config, const struct outlook *outlook)
{
    json_t *hours = json_array();
    for (int i = 0; i < outlook->row_count; i++) {
        json_array_append_new(hours, hour_json(config, &outlook->rows[i]));
    }
    return hours;
}

static void put_stage(json_t *object, const struct config_space *space,
                      const struct outlook *outlook)
{
    const struct stage_today *today = &outlook->stage;
    const bool is_running = today->phase == STAGE_RUNNING && outlook->row_count > 0;
    const struct stage none = {0};
    const struct stage *stage = is_running ? &space->rules.stages[today->index] : &none;
    json_object_set_new(object, "stage", is_running ? json_string(stage->name) : json_null());
    json_object_set_new(object, "stage_day", is_running ? json_integer(today->day) : json_null());
    json_object_set_new(object, "stage_days",
                        stage->days > 0 ? json_integer(stage->days) : json_null());
    json_object_set_new(object, "is_tomorrow", json_boolean(outlook->is_tomorrow));
    if (is_running) {
        put_date(object, "light_day", outlook->light_day);
    } else {
        json_object_set_new(object, "light_day", json_null());
    }
}

/* What the running day lost for good; tomorrow lost nothing yet. */
static json_t *missing_json(const struct picture_space *its, const struct outlook *outlook)
{
    return outlook->is_tomorrow ? json_object() : status_missing(&its->verdict.account);
}

static void put_sums(json_t *object, const struct config *config, const struct outlook *outlook)
{
    const double to_come_mol = outlook->lamp_mol + outlook->daylight_mol;
    put_number(object, "clearness", outlook->clearness);
    put_number(object, "target_mol", outlook->stage.target_mol);
    put_number(object, "delivered_mol", outlook->delivered_mol);
    put_number(object, "to_come_mol", to_come_mol);
    put_number(object, "expected_mol", outlook->delivered_mol + to_come_mol);
    put_number(object, "short_mol",
               fmax(0, outlook->stage.target_mol - outlook->delivered_mol - to_come_mol));
    put_number(object, "lamp_mol", outlook->lamp_mol);
    put_number(object, "daylight_mol", outlook->daylight_mol);
    put_number(object, "energy_kwh", outlook->energy_kwh);
    put_number(object, "cost", outlook->cost);
    put_number(object, "skies_cost", outlook->skies_cost);
    put_number(object, "dark_sky_cost", outlook->dark_cost);
    put_number(object, "bright_sky_cost", outlook->bright_cost);
    put_number(object, "even_cost", outlook->even_cost);
    put_number(object, "even_mol", outlook->even_mol);
    json_object_set_new(object, "currency", control_text(config->site.currency));
}

static json_t *last_day_json(const struct picture_space *its)
{
    const struct day_summary *day = &its->last_day;
    if (!its->has_last_day) {
        return json_null();
    }
    json_t *object = json_object();
    put_date(object, "light_day", day->light_day);
    json_object_set_new(object, "is_yesterday",
                        json_boolean(day->light_day == its->state.light_day - 1));
    put_number(object, "target_mol", day->account.target_mol);
    put_number(object, "delivered_mol", day->account.delivered_mol);
    put_number(object, "missing_mol", account_missing_mol(&day->account));
    put_number(object, "cost", day->cost);
    put_number(object, "lamp_cost", day->lamp_cost);
    put_number(object, "bound_cost", day->bound_cost);
    put_number(object, "even_cost", day->even_cost);
    return object;
}

static json_t *space_json(const struct picture *picture, int index)
{
    const struct config *config = picture->config;
    const struct config_space *space = &config->spaces[index];
    const struct picture_space *its = &picture->spaces[index];
    struct outlook outlook;
    char sentence[192];
    outlook_make(&space->rules, &its->state, &its->now, &its->verdict, &outlook);
    words_state(config, index, &its->now, &its->verdict, sentence, sizeof sentence);
    json_t *object = json_object();
    json_object_set_new(object, "space", json_string(space->name));
    json_object_set_new(object, "state", json_string(sentence));
    put_stage(object, space, &outlook);
    put_sums(object, config, &outlook);
    json_object_set_new(object, "missing_mol", missing_json(its, &outlook));
    json_object_set_new(object, "out_of_reach",
                        outlook.is_tomorrow ? json_null()
                                            : status_out_of_reach(&its->verdict.reach));
    json_object_set_new(object, "hours", hours_json(config, &outlook));
    json_object_set_new(object, "last_day", last_day_json(its));
    return object;
}

json_t *outlook_json(const struct picture *picture, int space)
{
    const struct config *config = picture->config;
    json_t *object = json_object();
    json_t *names = json_array();
    json_t *spaces = json_array();
    json_object_set_new(object, "site", control_text(config->site.name));
    put_time(object, "time", config, picture->wall_ns / UNITS_NS_PER_S);
    json_object_set_new(object, "clock", json_string(clocktrust_name(picture->clock.trust)));
    json_object_set_new(object, "is_ready", json_boolean(picture->is_ready));
    status_put_demonstration(object, picture);
    for (int i = 0; i < config->space_count; i++) {
        json_array_append_new(names, json_string(config->spaces[i].name));
    }
    if (picture->is_ready && space >= 0) {
        json_array_append_new(spaces, space_json(picture, space));
    }
    json_object_set_new(object, "names", names);
    json_object_set_new(object, "spaces", spaces);
    return object;
}
