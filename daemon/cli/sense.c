/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden sense`: what every sensor says, and who answers on a bus. */
#include "client.h"
#include "err.h"
#include "field.h"
#include "json_out.h"
#include "options.h"
#include "sense_parts.h"
#include "verb.h"

#include <errno.h>
#include <string.h>

enum { FIRST = 1, LAST = 247, NAMES_MAX = 512 };

/* Not one has a value to show; what is wrong stands in the table. */
static bool all_are_lost(const json_t *sensors)
{
    size_t index;
    const json_t *sensor;
    json_array_foreach(sensors, index, sensor)
    {
        if (strcmp(field_text(sensor, "quality"), "lost") != 0) {
            return false;
        }
    }
    return json_array_size(sensors) > 0;
}

int sense_tell(const struct sense_request *request, const json_t *sensors)
{
    json_t *wanted = json_array();
    for (int i = 0; i < request->name_count; i++) {
        json_t *sensor = field_find(sensors, "sensor", request->names[i]);
        if (!sensor) {
            json_decref(wanted);
            return verb_fail(SENSE_NAME, VERB_FAILED,
                             "there is no sensor '%s'; `lampwarden sense` "
                             "lists them",
                             request->names[i]);
        }
        json_array_append(wanted, sensor);
    }
    const json_t *shown = request->name_count > 0 ? wanted : sensors;
    if (request->wants_json) {
        json_t *object = json_pack("{s:O}", "sensors", shown);
        json_out_print(object);
    } else {
        sense_table_print(shown, stdout);
    }
    const bool is_mute = all_are_lost(shown);
    json_decref(wanted);
    return is_mute ? VERB_FAILED : VERB_OK;
}

int sense_unasked(int code, const struct err *err)
{
    const bool is_alone = code == -ENOENT || code == -ECONNREFUSED;
    return verb_fail(SENSE_NAME, VERB_FAILED, "%s%s", err->text,
                     is_alone ? " Start it, or give --config FILE" : "");
}

static int list(const struct sense_request *request)
{
    struct err err;
    json_t *answer = NULL;
    const int rc = client_ask(request->socket_path, "sense", NULL, &answer, &err);
    if (rc < 0) {
        return sense_unasked(rc, &err);
    }
    const int code = sense_tell(request, json_object_get(answer, "sensors"));
    json_decref(answer);
    return code;
}

/* VERB_OK or VERB_USAGE. */
static int read_address(const char *option, const char *word, int *ret)
{
    int64_t value = *ret;
    const int code = verb_int(SENSE_NAME, option, word, FIRST, LAST, &value);
    *ret = (int)value;
    return code;
}

static int run(int argc, char **argv)
{
    struct sense_request request = {
        .socket_path = CLIENT_DEFAULT_SOCKET, .from = FIRST, .to = LAST, .names = argv + 1};
    const char *from = NULL;
    const char *to = NULL;
    const struct verb_option table[] = {
        {"scan", 0, &request.scan_bus, NULL},
        {"from", 0, &from, NULL},
        {"to", 0, &to, NULL},
        {"config", 'c', &request.config_path, NULL},
        {"socket", 0, &request.socket_path, NULL},
        {"json", 0, NULL, &request.wants_json},
        {NULL, 0, NULL, NULL},
    };
    request.name_count = verb_options(SENSE_NAME, table, argc, argv, NAMES_MAX);
    if (request.name_count < 0 || read_address("from", from, &request.from) != VERB_OK ||
        read_address("to", to, &request.to) != VERB_OK) {
        return VERB_USAGE;
    }
    if (!request.scan_bus && (from || to)) {
        return verb_usage(SENSE_NAME, "--from and --to belong to --scan BUS");
    }
    if (request.scan_bus && request.name_count > 0) {
        return verb_usage(SENSE_NAME, "a scan asks addresses, not sensors: '%s'", request.names[0]);
    }
    if (request.from > request.to) {
        return verb_usage(SENSE_NAME, "--from %d is above --to %d", request.from, request.to);
    }
    if (request.scan_bus) {
        return request.config_path ? sense_alone_scan(&request) : sense_scan(&request);
    }
    return request.config_path ? sense_alone_list(&request) : list(&request);
}

const struct verb verb_sense = {
    .name = SENSE_NAME,
    .summary = "what every sensor says, and who answers on a bus",
    .help =
        "usage: lampwarden sense [SENSOR...] [OPTION...]\n"
        "       lampwarden sense --scan BUS [--from N] [--to N] [OPTION...]\n"
        "\n"
        "For whoever wires a room. Lists sensors: `raw`, as the device said it (registers of a "
        "Modbus device,\n"
        "the kernel's number); the value that becomes of it, in brackets when it is not believed; "
        "its age; its\n"
        "quality, good, suspect, stale or lost, with the reason below; and the range that the "
        "configuration allows.\n"
        "Exit code 1: every sensor that was asked for is lost.\n"
        "\n"
        "--scan asks the addresses of a Modbus bus one after the other and says who answers. The "
        "running daemon\n"
        "asks one behind each round of its reads, a few minutes for all: lamps and sensors go on. "
        "An address that\n"
        "makes a device drop the line ends the scan. Ctrl-C ends it too.\n"
        "\n"
        "  --scan BUS      ask the addresses of this bus\n"
        "  --from N        first address, 1 to 247; default 1\n"
        "  --to N          last address; default 247\n"
        "  -c, --config F  without a daemon: opens the buses of this configuration file itself. "
        "No output is\n"
        "                  moved, and lamps stay as they are. Refused while the daemon has the "
        "line.\n"
        "  --socket PATH   control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "  --json          the answer as JSON\n"
        "\n"
        "For --config a file with `buses` is enough to scan, one with `sensors` too to list them; "
        "the rest is not\n"
        "looked at:\n"
        "\n"
        "  buses = ( { name = \"shelf\"; driver = \"modbus-rtu\"; device = "
        "\"/dev/serial/by-path/...\";\n"
        "              baud = 9600; parity = \"none\"; } );\n"
        "\n"
        "examples: lampwarden sense\n"
        "          lampwarden sense --scan shelf --to 20\n"
        "          lampwarden sense --config begun.conf --scan shelf\n",
    .run = run,
};
