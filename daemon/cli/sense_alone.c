/* SPDX-License-Identifier: Apache-2.0 */
/* Sensors and addresses of one bus without a daemon: for an installer with half a configuration. */
#include "alone.h"
#include "clock.h"
#include "config.h"
#include "err.h"
#include "interrupt.h"
#include "sense.h"
#include "sense_parts.h"
#include "verb.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

enum { ROUNDS = 5, ASK_AGAIN = 40 };

static const int64_t pause_ns = 500 * CLOCK_NS_PER_MS;

static void rest(void)
{
    (void)clock_sleep_until(clock_boot_ns() + pause_ns, NULL);
}

static struct config *load(const struct sense_request *request)
{
    struct config *config = NULL;
    struct config_report report = {0};
    if (config_load_points(request->config_path, &config, &report) < 0) {
        (void)fputs(report.text, stderr);
        (void)verb_fail(SENSE_NAME, VERB_BAD_CONFIG, "%s: %d error%s in its buses and sensors",
                        request->config_path, report.errors, report.errors == 1 ? "" : "s");
    }
    config_report_free(&report);
    return config;
}

static int open_bus(const struct config *config, int bus, bool must_connect, struct alone **ret,
                    struct err *err)
{
    struct err trouble = {""};
    const int code = alone_open(config, bus, must_connect, ret, &trouble);
    if (code < 0) {
        (void)err_fail(err, -code, "%s%s", trouble.text,
                       code == -EBUSY ? " (a running daemon can be asked: leave out --config)"
                                      : "");
    }
    return code;
}

static bool all_answered(const struct config *config, int bus, const struct picture_sensor *sensors)
{
    for (int i = 0; i < config->sensor_count; i++) {
        if (config->sensors[i].bus == bus && sensors[i].sample.error < 0) {
            return false;
        }
    }
    return true;
}

static bool has_sensors(const struct config *config, int bus)
{
    for (int i = 0; i < config->sensor_count; i++) {
        if (config->sensors[i].bus == bus) {
            return true;
        }
    }
    return false;
}

/* Reads until everybody has answered; late ones get a few rounds. trouble: of the bus as a whole.
 */
static void read_bus(const struct config *config, int bus, struct picture_sensor *sensors,
                     struct err *trouble)
{
    struct alone *alone = NULL;
    if (open_bus(config, bus, true, &alone, trouble) < 0) {
        return;
    }
    for (int round = 0; round < ROUNDS; round++) {
        struct err err = {""};
        const int code = alone_read(alone, sensors, &err);
        if (code == 0 && all_answered(config, bus, sensors)) {
            break;
        }
        rest();
    }
    alone_close(alone);
}

static json_t *read_all(const struct config *config, struct picture_sensor *sensors)
{
    json_t *array = json_array();
    for (int bus = 0; bus < config->bus_count; bus++) {
        struct err trouble = {""};
        if (has_sensors(config, bus)) {
            read_bus(config, bus, sensors, &trouble);
        }
        for (int i = 0; i < config->sensor_count; i++) {
            const struct sense_look look = {config, i, &sensors[i],
                                            trouble.text[0] ? trouble.text : NULL, clock_boot_ns()};
            if (config->sensors[i].bus == bus) {
                json_array_append_new(array, sense_sensor_json(&look));
            }
        }
    }
    return array;
}

int sense_alone_list(const struct sense_request *request)
{
    struct config *config = load(request);
    if (!config) {
        return VERB_BAD_CONFIG;
    }
    struct picture_sensor *sensors = calloc((size_t)config->sensor_count + 1, sizeof *sensors);
    int code = VERB_FAILED;
    if (!sensors) {
        (void)verb_fail(SENSE_NAME, VERB_FAILED, "out of memory");
    } else if (config->sensor_count == 0) {
        (void)verb_fail(SENSE_NAME, VERB_FAILED,
                        "%s names no sensors yet; `--scan BUS` shows who answers",
                        request->config_path);
    } else {
        for (int i = 0; i < config->sensor_count; i++) {
            sensors[i].reading = READING_NONE;
            sensors[i].fault = QUALITY_NO_ANSWER;
            sensors[i].sample.error = -EAGAIN;
        }
        json_t *array = read_all(config, sensors);
        code = sense_tell(request, array);
        json_decref(array);
    }
    free(sensors);
    config_free(config);
    return code;
}

/* Asks one address until there is an outcome; the line's quarantine is waited for. */
static int ask(struct alone *alone, struct picture_sensor *sensors, int address, char *ret_words,
               struct err *err)
{
    int code = -EAGAIN;
    for (int i = 0; i < ASK_AGAIN && code == -EAGAIN && !interrupt_came(); i++) {
        *err = (struct err){""};
        code = alone_probe(alone, address, ret_words, SENSE_WORDS_MAX, err);
        if (code == -EAGAIN) {
            rest();
            struct err ignored = {""};
            (void)alone_read(alone, sensors, &ignored); /* some drivers want their sensors first */
        }
    }
    return code;
}

static json_t *found_json(int address, bool is_garbled, const char *words)
{
    return json_pack("{s:i,s:b,s:s}", "address", address, "garbled", (int)is_garbled, "words",
                     words);
}

/* 0: asked all, or was interrupted. */
static int ask_all(struct alone *alone, struct picture_sensor *sensors,
                   struct sense_progress *progress, struct err *err)
{
    for (int i = progress->request->from; i <= progress->request->to; i++) {
        char words[SENSE_WORDS_MAX] = "";
        const int code = ask(alone, sensors, i, words, err);
        if (interrupt_came()) {
            break;
        }
        if (code == 0 || code == -EBADMSG) {
            sense_scan_found(progress, found_json(i, code < 0, code < 0 ? err->text : words));
        } else if (code != -ETIMEDOUT && code != -EINVAL) {
            return code;
        }
        sense_scan_at(progress, i + 1, NULL);
    }
    return 0;
}

static int scan_bus(const struct sense_request *request, const struct config *config, int bus)
{
    struct err err = {""};
    struct alone *alone = NULL;
    struct picture_sensor *sensors = calloc((size_t)config->sensor_count + 1, sizeof *sensors);
    if (!sensors || open_bus(config, bus, false, &alone, &err) < 0) {
        free(sensors);
        return verb_fail(SENSE_NAME, VERB_FAILED, "bus %s: %s", request->scan_bus,
                         err.text[0] ? err.text : "out of memory");
    }
    struct sense_progress progress;
    interrupt_catch();
    sense_scan_begin(&progress, request);
    const int rc = ask_all(alone, sensors, &progress, &err);
    alone_close(alone);
    free(sensors);
    return sense_scan_finish(&progress, rc < 0 ? err.text : "ended by hand");
}

static int tell_buses(const struct sense_request *request, const struct config *config)
{
    char known[CONFIG_BUSES_MAX * (CONFIG_NAME_MAX + 2)] = "";
    size_t used = 0;
    for (int i = 0; i < config->bus_count; i++) {
        used += (size_t)snprintf(known + used, sizeof known - used, "%s%s", i > 0 ? ", " : "",
                                 config->buses[i].name);
    }
    return verb_fail(SENSE_NAME, VERB_FAILED, "%s has no bus '%s'; there are: %s",
                     request->config_path, request->scan_bus, known);
}

int sense_alone_scan(const struct sense_request *request)
{
    struct config *config = load(request);
    if (!config) {
        return VERB_BAD_CONFIG;
    }
    int code = -1;
    for (int i = 0; i < config->bus_count && code < 0; i++) {
        if (strcmp(config->buses[i].name, request->scan_bus) == 0) {
            code = scan_bus(request, config, i);
        }
    }
    if (code < 0) {
        code = tell_buses(request, config);
    }
    config_free(config);
    return code;
}
