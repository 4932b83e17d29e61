/* SPDX-License-Identifier: Apache-2.0 */
/* lampwarden metrics: what the page serves at /metrics, on a machine that has no page. */
#include "client.h"
#include "err.h"
#include "fileio.h"
#include "options.h"
#include "verb.h"

#include <stdio.h>
#include <string.h>

static int put(const char *text, const char *path)
{
    struct err err;
    if (!path) {
        (void)fputs(text, stdout); /* main looks after stdout */
        return VERB_OK;
    }
    return fileio_put(path, text, strlen(text), &err) < 0
               ? verb_fail("metrics", VERB_FAILED, "%s", err.text)
               : VERB_OK;
}

static int run(int argc, char **argv)
{
    const char *socket_path = CLIENT_DEFAULT_SOCKET;
    const char *output = NULL;
    const struct verb_option table[] = {
        {"socket", 0, &socket_path, NULL},
        {"output", 'o', &output, NULL},
        {NULL, 0, NULL, NULL},
    };
    struct err err;
    json_t *answer = NULL;
    if (verb_options("metrics", table, argc, argv, 0) < 0) {
        return VERB_USAGE;
    }
    if (client_ask(socket_path, "metrics", NULL, &answer, &err) < 0) {
        return verb_fail("metrics", VERB_FAILED, "%s", err.text);
    }
    const char *text = json_string_value(json_object_get(answer, "text"));
    const int code = text ? put(text, output)
                          : verb_fail("metrics", VERB_FAILED, "the daemon's answer has no text");
    json_decref(answer);
    return code;
}

const struct verb verb_metrics = {
    .name = "metrics",
    .summary = "the present state as metrics in the Prometheus text format",
    .help =
        "usage: lampwarden metrics [OPTION...]\n"
        "\n"
        "What the page serves at /metrics, for machines without the page: names begin with "
        "lampwarden_, units are\n"
        "base units (seconds, celsius, joules, moles, ratios 0 to 1), every family says what it "
        "is. Counters end in\n"
        "_total, count since the daemon started and never fall; sums of the open light day are "
        "gauges. What is not\n"
        "known is left out. With --output the file is replaced whole, as node_exporter's textfile "
        "collector wants it.\n"
        "\n"
        "options:\n"
        "  -o, --output FILE  into a file, replaced at once; the folder must be writable\n"
        "      --socket PATH  control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "\n"
        "example, each minute from cron:\n"
        "  lampwarden metrics --output /var/lib/prometheus/node-exporter/lampwarden.prom\n"
        "\n"
        "exit codes: 0 done, 1 no daemon or the file cannot be written, 2 wrong usage\n",
    .run = run,
};
