/* SPDX-License-Identifier: Apache-2.0 */
/* A scan: who answers, told as it goes. */
#include "client.h"
#include "clock.h"
#include "err.h"
#include "interrupt.h"
#include "sense_parts.h"
#include "verb.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const int64_t look_ns = 500 * CLOCK_NS_PER_MS;

/* Progress is for a person at a terminal: one line that is written over. */
static void wipe(struct sense_progress *progress)
{
    if (progress->is_shown) {
        (void)fputs("\r\033[K", stderr);
        progress->is_shown = false;
    }
}

void sense_scan_begin(struct sense_progress *progress, const struct sense_request *request)
{
    *progress =
        (struct sense_progress){.request = request, .next = request->from, .found = json_array()};
    if (!request->wants_json) {
        (void)printf("bus %s, addresses %d to %d; Ctrl-C ends it\n", request->scan_bus,
                     request->from, request->to);
        (void)fflush(stdout);
    }
}

void sense_scan_found(struct sense_progress *progress, json_t *found)
{
    wipe(progress);
    if (!progress->request->wants_json) {
        const char *words = json_string_value(json_object_get(found, "words"));
        const bool is_garbled = json_is_true(json_object_get(found, "garbled"));
        (void)printf("  %3d  %s%s\n", (int)json_integer_value(json_object_get(found, "address")),
                     is_garbled ? "somebody, but no clean answer: " : "", words ? words : "");
        (void)fflush(stdout);
    }
    json_array_append_new(progress->found, found);
}

void sense_scan_at(struct sense_progress *progress, int next, const char *waits_for)
{
    progress->next = next;
    if (!progress->request->wants_json && isatty(STDERR_FILENO) && next <= progress->request->to) {
        wipe(progress);
        (void)fprintf(stderr, "  address %d of %d  %.60s", next, progress->request->to,
                      waits_for ? waits_for : "");
        (void)fflush(stderr);
        progress->is_shown = true;
    }
}

static void print_json(const struct sense_progress *progress, const char *reason)
{
    const struct sense_request *request = progress->request;
    json_t *object = json_pack("{s:s,s:i,s:i,s:i,s:b,s:O}", "bus", request->scan_bus, "from",
                               request->from, "to", request->to, "next", progress->next, "complete",
                               progress->next > request->to, "found", progress->found);
    json_object_set_new(object, "reason", reason ? json_string(reason) : json_null());
    (void)json_dumpf(object, stdout, JSON_COMPACT);
    (void)putchar('\n');
    json_decref(object);
}

int sense_scan_finish(struct sense_progress *progress, const char *reason)
{
    const struct sense_request *request = progress->request;
    const int asked = progress->next - request->from;
    const bool is_complete = progress->next > request->to;
    wipe(progress);
    if (request->wants_json) {
        print_json(progress, is_complete ? NULL : reason);
    } else if (asked > 0 || json_array_size(progress->found) > 0) { /* it did start */
        (void)printf("%zu of %d addresses answered", json_array_size(progress->found), asked);
        (void)printf(is_complete ? "\n" : "; go on with --from %d\n", progress->next);
    }
    json_decref(progress->found);
    if (is_complete || interrupt_came()) {
        return VERB_OK;
    }
    return verb_fail(SENSE_NAME, VERB_FAILED, "the scan ended early: %s", reason ? reason : "?");
}

static json_t *params_of(const struct sense_request *request, json_int_t number, size_t seen)
{
    return json_pack("{s:s,s:I,s:I}", "bus", request->scan_bus, "scan", number, "seen",
                     (json_int_t)seen);
}

/* Takes the news in; returns whether it goes on. *ret_reason is the caller's to free. */
static bool take_news(struct sense_progress *progress, const json_t *news, char **ret_reason)
{
    size_t index;
    json_t *found;
    const char *reason = json_string_value(json_object_get(news, "reason"));
    json_array_foreach(json_object_get(news, "found"), index, found)
    {
        sense_scan_found(progress, json_incref(found));
    }
    sense_scan_at(progress, (int)json_integer_value(json_object_get(news, "next")), reason);
    free(*ret_reason);
    *ret_reason = reason ? strdup(reason) : NULL;
    return json_is_true(json_object_get(news, "running"));
}

static int follow(struct sense_progress *progress, json_int_t number, char **ret_reason,
                  struct err *err)
{
    const struct sense_request *request = progress->request;
    for (bool goes_on = true; goes_on;) {
        (void)clock_sleep_until(clock_boot_ns() + look_ns, NULL);
        json_t *news = NULL;
        const int rc =
            client_ask(request->socket_path, interrupt_came() ? "scan_end" : "scan",
                       params_of(request, number, json_array_size(progress->found)), &news, err);
        if (rc < 0) {
            return rc;
        }
        goes_on = take_news(progress, news, ret_reason);
        json_decref(news);
    }
    return 0;
}

int sense_scan(const struct sense_request *request)
{
    struct err err;
    struct sense_progress progress;
    json_t *begun = NULL;
    char *reason = NULL;
    json_t *params = json_pack("{s:s,s:i,s:i}", "bus", request->scan_bus, "from", request->from,
                               "to", request->to);
    int rc = client_ask(request->socket_path, "scan_start", params, &begun, &err);
    if (rc < 0) {
        return sense_unasked(rc, &err);
    }
    const json_int_t number = json_integer_value(json_object_get(begun, "scan"));
    json_decref(begun);
    interrupt_catch();
    sense_scan_begin(&progress, request);
    rc = follow(&progress, number, &reason, &err);
    const int code = sense_scan_finish(&progress, rc < 0 ? err.text : reason);
    free(reason);
    return code;
}
