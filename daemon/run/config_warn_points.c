/* SPDX-License-Identifier: Apache-2.0 */
/* Settings of the drivers that are allowed and seldom meant: numbers that change, registers as a
 * data sheet counts them, one device under two buses. */
#include "config_build.h"

#include "config_section.h"
#include "findings.h"

#include <ctype.h>
#include <string.h>

/* Keys of the drivers are known here by their names only; NULL: no such key, or not usable. */
static const struct value *own_value(const struct section *section, const char *name)
{
    for (int i = section->own_count; i < section->key_count; i++) {
        if (strcmp(section->keys[i].name, name) == 0 && section_is_usable(section, i)) {
            return &section->values[i];
        }
    }
    return NULL;
}

static int line_of(const struct section *section, const struct value *value)
{
    return value->line > 0 ? value->line : section->line;
}

static bool has_driver(const struct section *section, const char *name)
{
    return section->driver && strcmp(section->driver->name, name) == 0;
}

static bool is_same_device(const struct section *a, const struct section *b,
                           const char *const *keys)
{
    bool is_same = a->driver == b->driver;
    for (int i = 0; is_same && keys[i]; i++) {
        const struct value *one = own_value(a, keys[i]);
        const struct value *other = own_value(b, keys[i]);
        is_same = one && other && value_is_same(one, other);
    }
    return is_same;
}

/* A second modbus-rtu bus on one line is an error already: the line is locked. */
static void warn_shared_device(const struct section *buses, int index, struct findings *findings)
{
    static const struct {
        const char *driver, *words, *keys[4];
    } kinds[] = {
        {"modbus-tcp", "host and port", {"host", "port"}},
        {"gpio", "chip", {"chip", "folder"}},
        {"pwm", "device", {"device", "sysfs"}},
        {"dac", "chip and device", {"chip", "device", "sysfs"}},
    };
    for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
        for (int i = 0; i < index && has_driver(&buses[index], kinds[k].driver); i++) {
            if (is_same_device(&buses[i], &buses[index], kinds[k].keys)) {
                findings_warning(findings, buses[index].line,
                                 "buses[%d]: the same %s as buses[%d] (\"%s\"): each bus has a "
                                 "connection of its own and their orders cross; put the points on "
                                 "one bus",
                                 index, kinds[k].words, i, section_text(&buses[i], BUS_NAME));
                break;
            }
        }
    }
}

/* The kernel hands these numbers out in the order in which it finds the devices. */
static void warn_number(const struct section *section, const char *list, int index,
                        struct findings *findings)
{
    static const struct {
        const char *driver, *key, *prefix, *instead;
    } kinds[] = {
        {"gpio", "chip", "gpiochip", "the label that gpiodetect shows in brackets"},
        {"pwm", "device", "pwmchip",
         "whole names from `readlink -f /sys/class/pwm/pwmchipN/device`, such as "
         "\"1f00098000.pwm\""},
        {"dac", "chip", "iio:device", "the name that stands in its file `name`"},
        {"dac", "device", "iio:device",
         "whole names from the path before it, such as \"i2c-1/1-0060\""},
        {"hwmon", "chip", "hwmon", "the name that stands in its file `name`"},
        {"hwmon", "device", "hwmon",
         "whole names from `readlink -f /sys/class/hwmon/hwmonN/device`, such as "
         "\"i2c-1/1-0044\""},
    };
    for (size_t k = 0; k < sizeof kinds / sizeof *kinds; k++) {
        const struct value *value =
            has_driver(section, kinds[k].driver) ? own_value(section, kinds[k].key) : NULL;
        const char *found = value ? strstr(value->text, kinds[k].prefix) : NULL;
        if (found && isdigit((unsigned char)found[strlen(kinds[k].prefix)])) {
            findings_warning(findings, line_of(section, value),
                             "%s[%d].%s: \"%s\" has a number that changes with plugging, board and "
                             "kernel: write %s",
                             list, index, kinds[k].key, value->text, kinds[k].instead);
        }
    }
}

/* Data sheets write 40001 for the first holding register, 30001 for the first input register. */
static void warn_register(const struct section *section, const char *list, int index,
                          struct findings *findings)
{
    const struct value *value = own_value(section, "register");
    bool is_modbus = has_driver(section, "modbus-tcp") || has_driver(section, "modbus-rtu");
    if (!is_modbus || !value) {
        return;
    }
    bool is_holding = value->integer >= 40001 && value->integer <= 49999;
    bool is_input = value->integer >= 30001 && value->integer <= 39999;
    if (is_holding || is_input) {
        int number = (int)value->integer;
        findings_warning(findings, line_of(section, value),
                         "%s[%d].register: %d, but registers count from 0 here: %d of a data sheet "
                         "is register %d, %s register (function %d)",
                         list, index, number, number, number - (is_holding ? 40001 : 30001),
                         is_holding ? "a holding" : "an input", is_holding ? 3 : 4);
    }
}

static void warn_order(const struct section *sensor, int index, struct findings *findings)
{
    const struct value *order = own_value(sensor, "order");
    const struct value *type = own_value(sensor, "type");
    bool is_word = type && (strcmp(type->text, "u16") == 0 || strcmp(type->text, "s16") == 0);
    if (order && order->line > 0 && is_word) {
        findings_warning(findings, order->line,
                         "sensors[%d].order: has no effect: type %s is one register", index,
                         type->text);
    }
}

void config_warn_points(const struct section *root, struct findings *findings)
{
    const struct value *buses = &root->values[ROOT_BUSES];
    for (int i = 0; i < buses->count; i++) {
        warn_shared_device(buses->sections, i, findings);
        warn_number(&buses->sections[i], "buses", i, findings);
    }
    const struct value *sensors = &root->values[ROOT_SENSORS];
    for (int i = 0; i < sensors->count; i++) {
        warn_number(&sensors->sections[i], "sensors", i, findings);
        warn_register(&sensors->sections[i], "sensors", i, findings);
        warn_order(&sensors->sections[i], i, findings);
    }
    const struct value *outputs = &root->values[ROOT_OUTPUTS];
    for (int i = 0; i < outputs->count; i++) {
        warn_register(&outputs->sections[i], "outputs", i, findings);
    }
}
