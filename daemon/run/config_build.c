/* SPDX-License-Identifier: Apache-2.0 */
#include "config_build.h"

#include "arena.h"
#include "clock.h"
#include "config_section.h"

#include <math.h>
#include <string.h>

void build_text(char *field, size_t size, const char *text)
{
    size_t length = strnlen(text, size - 1);
    memcpy(field, text, length);
    field[length] = '\0';
}

static int64_t to_ns(double seconds)
{
    return (int64_t)llround(seconds * (double)CLOCK_NS_PER_S);
}

/* The values behind the own keys, in the form that the driver asks for. */
static struct option_value *build_options(const struct section *section, struct arena *arena)
{
    int count = section->key_count - section->own_count;
    struct option_value *options = arena_take(arena, (size_t)count, sizeof *options);
    for (int i = 0; options && i < count; i++) {
        const struct value *value = &section->values[section->own_count + i];
        options[i] = (struct option_value){
            .text = value->text,
            .integer = value->integer,
            .real = value->real,
            .flag = value->integer != 0,
        };
    }
    return options;
}

static void build_site(const struct section *section, struct config_site *site)
{
    bool has_zone = section->values[SITE_TIME_ZONE].is_set;
    build_text(site->name, sizeof site->name, section_text(section, SITE_NAME));
    build_text(site->time_zone, sizeof site->time_zone, section_text(section, SITE_TIME_ZONE));
    build_text(site->currency, sizeof site->currency, section_text(section, SITE_CURRENCY));
    site->utc_offset_s =
        (int32_t)section_integer(section, has_zone ? SITE_TIME_ZONE : SITE_UTC_OFFSET);
    site->latitude = section_real(section, SITE_LATITUDE);
    site->longitude = section_real(section, SITE_LONGITUDE);
    build_power(section, &site->power);
}

static bool build_buses(const struct value *list, struct arena *arena, struct config *config)
{
    config->buses = arena_take(arena, (size_t)list->count, sizeof *config->buses);
    config->bus_count = list->count;
    for (int i = 0; config->buses && i < list->count; i++) {
        const struct section *section = &list->sections[i];
        struct config_bus *bus = &config->buses[i];
        build_text(bus->name, sizeof bus->name, section_text(section, BUS_NAME));
        bus->driver = section->driver;
        bus->every_s = section_real(section, BUS_EVERY);
        bus->options = build_options(section, arena);
        if (!bus->options) {
            return false;
        }
    }
    return config->buses != NULL;
}

/* As configured, else as the driver knows its chips. */
static double power_on_c(const struct section *section, const struct config_sensor *sensor)
{
    const struct driver *driver = section->driver;
    bool is_asked = !section->values[SENSOR_POWER_ON].is_set &&
                    sensor->kind == SENSOR_TEMPERATURE && driver->power_on_c;
    return is_asked ? driver->power_on_c(sensor->options) : section_real(section, SENSOR_POWER_ON);
}

static struct quality_rules build_quality(const struct section *section,
                                          const struct config_sensor *sensor)
{
    double jump_per_s = section_real(section, SENSOR_JUMP);
    return (struct quality_rules){
        .low = section_real(section, SENSOR_LOW),
        .high = section_real(section, SENSOR_HIGH),
        .stale_ns = to_ns(section_real(section, SENSOR_STALE)),
        .lost_ns = to_ns(section_real(section, SENSOR_LOST)),
        .jump_per_s = jump_per_s > 0 ? jump_per_s : (double)INFINITY,
        .frozen_ns = to_ns(section_real(section, SENSOR_FROZEN)),
        .frozen_stir = section_real(section, SENSOR_FROZEN_STIR),
        /* a dark light sensor under a dead lamp tells the truth */
        .frozen_above = sensor->kind == SENSOR_PPFD ? 1 : -(double)INFINITY,
        .power_on_c = power_on_c(section, sensor),
    };
}

static bool build_sensors(const struct value *list, struct arena *arena, struct config *config)
{
    config->sensors = arena_take(arena, (size_t)list->count, sizeof *config->sensors);
    config->sensor_count = list->count;
    for (int i = 0; config->sensors && i < list->count; i++) {
        const struct section *section = &list->sections[i];
        struct config_sensor *sensor = &config->sensors[i];
        build_text(sensor->name, sizeof sensor->name, section_text(section, SENSOR_NAME));
        sensor->bus = (int)section_integer(section, SENSOR_BUS);
        sensor->kind = (enum sensor_kind)section_integer(section, SENSOR_KIND);
        sensor->line = section->line;
        sensor->options = build_options(section, arena);
        if (!sensor->options) {
            return false;
        }
        sensor->quality = build_quality(section, sensor);
    }
    return config->sensors != NULL;
}

static bool build_outputs(const struct value *list, struct arena *arena, struct config *config)
{
    config->outputs = arena_take(arena, (size_t)list->count, sizeof *config->outputs);
    config->output_count = list->count;
    for (int i = 0; config->outputs && i < list->count; i++) {
        const struct section *section = &list->sections[i];
        struct config_output *output = &config->outputs[i];
        build_text(output->name, sizeof output->name, section_text(section, OUTPUT_NAME));
        output->bus = (int)section_integer(section, OUTPUT_BUS);
        output->kind = (enum output_kind)section_integer(section, OUTPUT_KIND);
        output->tolerance = section_real(section, OUTPUT_TOLERANCE);
        output->line = section->line;
        output->options = build_options(section, arena);
        if (!output->options) {
            return false;
        }
    }
    return config->outputs != NULL;
}

bool build_config(const struct section *root, struct arena *arena, struct config *ret)
{
    const struct section *journal = section_group(root, ROOT_JOURNAL);
    const struct section *control = section_group(root, ROOT_CONTROL);
    build_site(section_group(root, ROOT_SITE), &ret->site);
    ret->trust_held_over_clock =
        section_integer(section_group(root, ROOT_CLOCK), CLOCK_TRUST_HELD_OVER) != 0;
    build_text(ret->journal.path, sizeof ret->journal.path, section_text(journal, JOURNAL_PATH));
    ret->journal.keep_days = (int)section_integer(journal, JOURNAL_KEEP);
    ret->journal.commit_s = section_real(journal, JOURNAL_COMMIT);
    build_text(ret->control.socket, sizeof ret->control.socket,
               section_text(control, CONTROL_SOCKET));
    build_text(ret->control.group, sizeof ret->control.group, section_text(control, CONTROL_GROUP));
    build_page(section_group(root, ROOT_PAGE), &ret->page);
    return build_buses(&root->values[ROOT_BUSES], arena, ret) &&
           build_sensors(&root->values[ROOT_SENSORS], arena, ret) &&
           build_outputs(&root->values[ROOT_OUTPUTS], arena, ret) &&
           build_lamps(root, arena, ret) && build_spaces(root, arena, ret) &&
           build_alarms(section_group(root, ROOT_ALARM), arena, ret);
}
