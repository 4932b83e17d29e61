/* SPDX-License-Identifier: Apache-2.0 */
/* lampwarden alarm: the commands that are told of events, and a try of one of them. */
#include "client.h"
#include "clock.h"
#include "err.h"
#include "field.h"
#include "json_out.h"
#include "options.h"
#include "verb.h"

#include <stdio.h>
#include <string.h>

static const int64_t look_ns = 200 * CLOCK_NS_PER_MS;
static const double grace_s = 5; /* beside the command's own limit: another run may be on its way */

static void print_result(const char *what, const json_t *result)
{
    if (strcmp(field_text(result, "outcome"), "done") == 0) {
        (void)printf("%sworked, after %.1f s", what, field_number(result, "seconds"));
    } else {
        (void)printf("%sdid not work: %s", what, field_text(result, "reason"));
    }
}

static void print_alarm(const json_t *alarm)
{
    const json_t *runs = json_object_get(alarm, "runs");
    const double done = field_number(runs, "done");
    const double others =
        field_number(runs, "failed") + field_number(runs, "late") + field_number(runs, "not_begun");
    (void)printf("%-16s runs: %.0f worked, %.0f failed; events held back: %.0f",
                 field_text(alarm, "alarm"), done, others, field_number(alarm, "held_back"));
    if (json_is_object(json_object_get(alarm, "last"))) {
        print_result("; the last run ", json_object_get(alarm, "last"));
    }
    (void)putchar('\n');
}

static int list(const char *socket_path, bool wants_json)
{
    struct err err;
    json_t *answer = NULL;
    if (client_ask(socket_path, "alarms", NULL, &answer, &err) < 0) {
        return verb_fail("alarm", VERB_FAILED, "%s", err.text);
    }
    if (wants_json) {
        json_out_print(answer);
        return VERB_OK;
    }
    size_t i;
    json_t *alarm;
    json_array_foreach(json_object_get(answer, "alarms"), i, alarm)
    {
        print_alarm(alarm);
    }
    if (json_array_size(json_object_get(answer, "alarms")) == 0) {
        (void)puts("nobody outside is told of events: the configuration has no alarm.commands");
    }
    json_decref(answer);
    return VERB_OK;
}

/* Asks until the test is done; *ret is the alarm, the caller's. NULL: it takes too long. */
static int wait_for_test(const char *socket_path, const char *name, double number, json_t **ret,
                         struct err *err)
{
    const int64_t begun_ns = clock_boot_ns();
    for (double limit_s = grace_s;;) {
        json_t *answer = NULL;
        const int code = client_ask(socket_path, "alarms", NULL, &answer, err);
        if (code < 0) {
            return code;
        }
        json_t *alarm = field_find(json_object_get(answer, "alarms"), "alarm", name);
        if (alarm && field_number(alarm, "test_done") >= number) {
            *ret = json_incref(alarm);
            json_decref(answer);
            return 0;
        }
        limit_s = alarm ? 2 * field_number(alarm, "time_limit_s") + grace_s : limit_s;
        json_decref(answer);
        if (!alarm || (double)(clock_boot_ns() - begun_ns) * 1e-9 > limit_s) {
            *ret = NULL;
            return 0;
        }
        (void)clock_sleep_until(clock_boot_ns() + look_ns, NULL);
    }
}

static int test(const char *socket_path, const char *name, bool wants_json)
{
    struct err err;
    json_t *answer = NULL;
    json_t *alarm = NULL;
    json_t *params = json_pack("{s:s}", "alarm", name);
    if (client_ask(socket_path, "alarm_test", params, &answer, &err) < 0) {
        return verb_fail("alarm", VERB_FAILED, "%s", err.text);
    }
    const double number = field_number(answer, "test");
    json_decref(answer);
    if (wait_for_test(socket_path, name, number, &alarm, &err) < 0) {
        return verb_fail("alarm", VERB_FAILED, "%s", err.text);
    }
    if (!alarm) {
        return verb_fail("alarm", VERB_FAILED, "the test of %s was not run in time", name);
    }
    const json_t *result = json_object_get(alarm, "test");
    const bool is_done = strcmp(field_text(result, "outcome"), "done") == 0;
    if (wants_json) {
        json_out_print(json_deep_copy(result));
    } else {
        (void)printf("%s: its command ", name);
        print_result("", result);
        (void)putchar('\n');
    }
    json_decref(alarm);
    return is_done ? VERB_OK : VERB_FAILED;
}

static int run(int argc, char **argv)
{
    const char *socket_path = CLIENT_DEFAULT_SOCKET;
    const char *name = NULL;
    bool wants_json = false;
    const struct verb_option table[] = {
        {"test", 0, &name, NULL},
        {"socket", 0, &socket_path, NULL},
        {"json", 0, NULL, &wants_json},
        {NULL, 0, NULL, NULL},
    };
    if (verb_options("alarm", table, argc, argv, 0) < 0) {
        return VERB_USAGE;
    }
    return name ? test(socket_path, name, wants_json) : list(socket_path, wants_json);
}

const struct verb verb_alarm = {
    .name = "alarm",
    .summary = "the commands that are told of events, and a test of one",
    .help =
        "usage: lampwarden alarm [OPTION...]\n"
        "\n"
        "Lists the commands of alarm.commands in the configuration: how often each worked, "
        "failed, and how much\n"
        "was held back. With --test the daemon runs one of them for an event that says that it is "
        "a test, whatever\n"
        "its class, kinds and hour, and tells how it ended.\n"
        "\n"
        "options:\n"
        "  --test NAME     run this one now\n"
        "  --socket PATH   control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "  --json          one JSON object\n"
        "\n"
        "example: lampwarden alarm --test mail\n"
        "\n"
        "exit codes: 0 done, 1 the command did not work, or no daemon, 2 wrong usage\n",
    .run = run,
};
