/* SPDX-License-Identifier: Apache-2.0 */
#include "commands_sense.h"

#include "channels.h"
#include "clock.h"
#include "err.h"
#include "sense.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

enum control_code commands_sense(struct commands *commands, const json_t *params, json_t **ret,
                                 struct err *err)
{
    (void)params;
    struct snapshot *snapshot = tick_snapshot(commands->tick);
    const struct picture *picture = snapshot_take(snapshot);
    if (!picture) {
        (void)err_fail(err, EAGAIN, "the daemon has only just started; ask again");
        return CONTROL_FAILED;
    }
    *ret = json_pack("{s:f,s:o}", "uptime_s", units_seconds(picture->boot_ns - picture->started_ns),
                     "sensors", sense_json(picture));
    snapshot_release(snapshot, picture);
    return CONTROL_OK;
}

/* → an index, or −1 with a sentence that names the buses there are. */
static int find_bus(const struct config *config, const json_t *params, struct err *err)
{
    const char *name = json_string_value(json_object_get(params, "bus"));
    char known[CONFIG_BUSES_MAX * (CONFIG_NAME_MAX + 2)] = "";
    size_t used = 0;
    for (int i = 0; i < config->bus_count; i++) {
        if (name && strcmp(name, config->buses[i].name) == 0) {
            return i;
        }
        used += (size_t)snprintf(known + used, sizeof known - used, "%s%s", i > 0 ? ", " : "",
                                 config->buses[i].name);
    }
    (void)err_fail(err, ENOENT, "there is no bus '%.64s'; there are: %s", name ? name : "", known);
    return -1;
}

/* An optional whole number; false with a sentence. */
static bool take_integer(const json_t *params, const char *name, int64_t low, int64_t high,
                         int64_t *ret, struct err *err)
{
    const json_t *value = json_object_get(params, name);
    if (!value) {
        return true;
    }
    const int64_t integer = json_integer_value(value);
    if (!json_is_integer(value) || !(integer >= low && integer <= high)) {
        (void)err_fail(err, EINVAL, "%s must be a whole number (%d … %d)", name, (int)low,
                       (int)high);
        return false;
    }
    *ret = integer;
    return true;
}

static json_t *found_json(struct scan *scan, int64_t seen)
{
    struct scan_found found;
    json_t *array = json_array();
    for (int i = (int)seen; scan_find(scan, i, &found); i++) {
        json_array_append_new(array, json_pack("{s:i,s:b,s:s}", "address", found.address, "garbled",
                                               (int)found.is_garbled, "words", found.words));
    }
    return array;
}

static json_t *view_json(struct scan *scan, const struct scan_view *view, int64_t seen)
{
    json_t *object = json_pack("{s:I,s:b,s:i,s:i,s:i,s:o}", "scan", (json_int_t)view->number,
                               "running", (int)view->is_running, "from", view->from, "to", view->to,
                               "next", view->next, "found", found_json(scan, seen));
    json_object_set_new(object, "reason",
                        view->reason[0] ? control_text(view->reason) : json_null());
    return object;
}

/* One at a time over all buses: whoever looks for devices looks at one. */
static int busy_bus(struct commands *commands, int64_t now_ns)
{
    const struct channels *channels = tick_channels(commands->tick);
    for (int i = 0; i < tick_config(commands->tick)->bus_count; i++) {
        struct scan *scan = channels_scan(channels, i);
        if (scan && scan_is_running(scan, now_ns)) {
            return i;
        }
    }
    return -1;
}

static enum control_code start(struct commands *commands, int bus, int from, int to, json_t **ret,
                               struct err *err)
{
    const struct config *config = tick_config(commands->tick);
    const struct channels *channels = tick_channels(commands->tick);
    const int64_t now_ns = clock_boot_ns();
    const int busy = busy_bus(commands, now_ns);
    struct scan *scan = channels_scan(channels, bus);
    struct scan_view view;
    if (!scan) {
        (void)err_fail(err, ENOTSUP, "bus %s has no addresses to ask (driver %s)",
                       config->buses[bus].name, config->buses[bus].driver->name);
        return CONTROL_REFUSED;
    }
    if (busy >= 0) {
        (void)err_fail(err, EBUSY, "bus %s is being scanned; one scan at a time",
                       config->buses[busy].name);
        return CONTROL_REFUSED;
    }
    (void)scan_start(scan, from, to, now_ns);
    channels_wake(channels, bus);
    scan_ask(scan, 0, now_ns, &view);
    *ret = view_json(scan, &view, 0);
    return CONTROL_OK;
}

enum control_code commands_scan_start(struct commands *commands, const json_t *params, json_t **ret,
                                      struct err *err)
{
    int64_t from = SCAN_FIRST;
    int64_t to = SCAN_LAST;
    const int bus = find_bus(tick_config(commands->tick), params, err);
    if (bus < 0 || !take_integer(params, "from", SCAN_FIRST, SCAN_LAST, &from, err) ||
        !take_integer(params, "to", SCAN_FIRST, SCAN_LAST, &to, err)) {
        return CONTROL_INVALID_PARAMS;
    }
    if (from > to) {
        (void)err_fail(err, EINVAL, "from must not be above to (%d … %d)", (int)from, (int)to);
        return CONTROL_INVALID_PARAMS;
    }
    return start(commands, bus, (int)from, (int)to, ret, err);
}

static enum control_code tell(struct commands *commands, const json_t *params, bool is_end,
                              json_t **ret, struct err *err)
{
    int64_t number = 0;
    int64_t seen = 0;
    struct scan_view view;
    const int bus = find_bus(tick_config(commands->tick), params, err);
    if (bus < 0 || !take_integer(params, "scan", 1, INT32_MAX, &number, err) ||
        !take_integer(params, "seen", 0, SCAN_LAST, &seen, err)) {
        return CONTROL_INVALID_PARAMS;
    }
    struct scan *scan = channels_scan(tick_channels(commands->tick), bus);
    if (scan) {
        scan_ask(scan, (uint32_t)number, clock_boot_ns(), &view);
    }
    if (!scan || number == 0 || view.number != (uint32_t)number) {
        (void)err_fail(err, ENOENT, "bus %s has no such scan, or a later one took its place",
                       tick_config(commands->tick)->buses[bus].name);
        return CONTROL_REFUSED;
    }
    if (is_end) {
        scan_end(scan);
        scan_ask(scan, (uint32_t)number, clock_boot_ns(), &view);
    }
    *ret = view_json(scan, &view, seen);
    return CONTROL_OK;
}

enum control_code commands_scan(struct commands *commands, const json_t *params, json_t **ret,
                                struct err *err)
{
    return tell(commands, params, false, ret, err);
}

enum control_code commands_scan_end(struct commands *commands, const json_t *params, json_t **ret,
                                    struct err *err)
{
    return tell(commands, params, true, ret, err);
}
