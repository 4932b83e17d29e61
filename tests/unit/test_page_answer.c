/* SPDX-License-Identifier: Apache-2.0 */
/* Answers without HTTP: from a snapshot, from a journal made here, from files. */
#include "page_answer.h"

#include "err.h"
#include "journal_bed.h"
#include "parse.h"

#include <jansson.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define DAY (BED_WALL_S / 86400) /* of the minutes */

static struct bed bed;
static struct page_sources sources;
static struct config *config;
static struct page_answer answer;

static const char shelf[] =
    "buses = ({name = \"b\"; driver = \"bench\";});"
    "outputs = ({name = \"d\"; bus = \"b\"; kind = \"switch\";});"
    "fixtures = ({name = \"f\"; switch = \"d\"; ppfd_full = 300; full_watts = 100;});"
    "stages = ({name = \"s\"; days = 0; lights_on = \"06:00\"; day_length_h = 16;"
    "           target_mol = 10;});"
    "spaces = ({name = \"lettuce\"; fixtures = [\"f\"]; stages = [\"s\"]; start = "
    "\"2026-11-02\";});"
    "site = {utc_offset = \"+01:00\"; name = \"R\\xf6om\"; currency = \"\\xa4\";};";

static int begin(void **state)
{
    (void)state;
    struct config_report report = {0};
    assert_int_equal(config_load_text("shelf", shelf, sizeof shelf - 1, &config, &report), 0);
    config_report_free(&report);
    bed_make(&bed);
    bed_open(&bed);
    sources = (struct page_sources){.version = "7"};
    assert_int_equal(snapshot_create(config, &sources.snapshot, NULL), 0);
    (void)snprintf(sources.journal_path, sizeof sources.journal_path, "%s", bed.path);
    page_files_load(&sources.files, "/nowhere");
    return 0;
}

static int end(void **state)
{
    (void)state;
    free(answer.owned);
    answer = (struct page_answer){0};
    bed_close(&bed);
    bed_remove(&bed);
    snapshot_destroy(sources.snapshot);
    page_files_free(&sources.files);
    config_free(config);
    return 0;
}

static void show_picture(void)
{
    struct picture *picture = snapshot_begin(sources.snapshot);
    assert_non_null(picture);
    picture->ticks = 1;
    picture->started_ns = picture->boot_ns = 1;
    snapshot_show(sources.snapshot, picture);
}

/* The status; the answer lies in `answer`. */
static int ask(const char *target)
{
    struct page_request request;
    struct err err = {""};
    free(answer.owned);
    const int code = page_parse(target, &request, &err);
    page_answer(&sources, &request, code, &err, &answer);
    assert_non_null(answer.text);
    assert_int_equal(answer.size, strlen(answer.text));
    return answer.status;
}

static json_t *json_of(const char *target, int status)
{
    json_error_t trouble;
    const int got = ask(target);
    json_t *json = json_loads(answer.text, 0, &trouble);
    if (got != status || !json || !strstr(answer.type, "application/json")) {
        fail_msg("%s: %d, %s: %s", target, got, answer.type, answer.text);
    }
    return json;
}

static void says(const char *target, int status, const char *words)
{
    json_t *json = json_of(target, status);
    const char *sentence = json_string_value(json_object_get(json, "error"));
    if (!sentence || !strstr(sentence, words)) {
        fail_msg("%s: %s", target, answer.text);
    }
    json_decref(json);
}

static void of_the_snapshot(void **state)
{
    (void)state;
    says("/status.json", 503, "only just started");
    says("/plan.json?space=lettuce", 503, "only just started");
    assert_int_equal(ask("/metrics"), 503);
    assert_int_equal(ask("/"), 200);
    show_picture();
    json_t *status = json_of("/status.json", 200);
    assert_string_equal(json_string_value(json_object_get(status, "site")), "R?om"); /* no UTF-8 */
    assert_string_equal(json_string_value(json_object_get(status, "version")), "7");
    json_decref(status);
    assert_null(answer.tag);
    says("/plan.json?space=%ff%fe", 400, "is not the name of a space"); /* no UTF-8 */
    says("/plan.json?space=basil", 404, "there is no \"basil\"; there are: lettuce");
    json_t *plan = json_of("/plan.json?space=lettuce", 200);
    assert_string_equal(json_string_value(json_object_get(plan, "site")), "R?om");
    json_decref(plan);
    assert_int_equal(ask("/metrics"), 200);
    assert_non_null(strstr(answer.type, "0.0.4"));
    assert_int_equal(ask("/"), 200);
    assert_non_null(strstr(answer.type, "text/html"));
}

static void of_the_journal(void **state)
{
    (void)state;
    says("/day.json?space=lettuce", 404, "journal"); /* not there, or empty */
    const struct journal_day day = bed_day("lettuce", DAY, true);
    assert_true(journal_put_day(bed.journal, &day));
    const struct journal_event event = bed_event("lettuce", JOURNAL_ALARM, "an \"event\" <b>");
    assert_true(journal_put_event(bed.journal, &event));
    bed_put_minutes(&bed, "lettuce", 0, 5);
    char date[16];
    char target[96];
    parse_format_date(DAY, date, sizeof date);
    json_t *json = json_of("/day.json?space=lettuce", 200);
    assert_string_equal(json_string_value(json_object_get(json, "light_day")), date);
    json_decref(json);
    (void)snprintf(target, sizeof target, "/minutes.json?space=lettuce&day=%s", date);
    json = json_of(target, 200);
    const size_t columns = json_array_size(json_object_get(json, "columns"));
    const json_t *rows = json_object_get(json, "rows");
    assert_int_equal(json_array_size(rows), 5);
    for (size_t i = 0; i < 5; i++) {
        const json_t *row = json_array_get(rows, i);
        assert_int_equal(json_array_size(row), columns);
        assert_int_equal(json_integer_value(json_array_get(row, 0)), BED_WALL_S + 60 * (int64_t)i);
    }
    json_decref(json);
    json = json_of("/events.json", 200);
    assert_int_equal(json_array_size(json), 1);
    assert_string_equal(json_string_value(json_object_get(json_array_get(json, 0), "text")),
                        "an \"event\" <b>");
    json_decref(json);
    json = json_of("/days.json?space=lettuce&count=3", 200);
    assert_int_equal(json_array_size(json_object_get(json, "days")), 1);
    json_decref(json);
    json_decref(json_of("/nights.json?space=lettuce", 200));
    json = json_of("/why.json?space=lettuce", 200);
    assert_string_equal(json_string_value(json_object_get(json, "space")), "lettuce");
    assert_true(json_string_length(json_object_get(json, "sentence")) > 0);
    json_decref(json);
    says("/why.json?space=lettuce&time=noon", 400, "noon");
    says("/why.json?space=lettuce&time=1999-01-01T12:00", 404, "1999");
    says("/day.json?space=lettuce&day=1999-01-01", 404, "no light day 1999-01-01");
    says("/minutes.json?space=basil", 404, "basil");
    says("/events.json?day=1999-01-01", 404, "1999-01-01");
}

static void only_the_latest_events(void **state)
{
    (void)state;
    const struct journal_day day = bed_day("lettuce", DAY, false);
    assert_true(journal_put_day(bed.journal, &day));
    for (int i = 0; i < 600; i++) {
        struct journal_event event = bed_event("lettuce", JOURNAL_INFO, "");
        (void)snprintf(event.text, sizeof event.text, "number %d", i);
        event.wall_s = BED_WALL_S + i;
        assert_true(journal_put_event(bed.journal, &event));
    }
    bed_put_minutes(&bed, "lettuce", 0, 1);
    json_t *json = json_of("/events.json?space=lettuce", 200);
    assert_int_equal(json_array_size(json), 500);
    assert_string_equal(json_string_value(json_object_get(json_array_get(json, 0), "text")),
                        "number 100");
    assert_string_equal(json_string_value(json_object_get(json_array_get(json, 499), "text")),
                        "number 599");
    json_decref(json);
    json = json_of("/days.json?space=lettuce", 200); /* the first day still runs */
    assert_int_equal(json_array_size(json_object_get(json, "days")), 0);
    json_decref(json);
}

/* At a stop nobody waits for a year of nights. */
static void nobody_waits(void **state)
{
    (void)state;
    const struct journal_day day = bed_day("lettuce", DAY, true);
    assert_true(journal_put_day(bed.journal, &day));
    bed_put_minutes(&bed, "lettuce", 0, 300);
    json_decref(json_of("/minutes.json?space=lettuce", 200));
    atomic_store(&sources.is_over, true);
    says("/minutes.json?space=lettuce", 503, "nobody waits for it any more");
    says("/nights.json?space=lettuce", 503, "nobody waits for it any more");
}

static void no_journal_and_a_damaged_one(void **state)
{
    (void)state;
    bed_close(&bed);
    assert_int_equal(truncate(bed.path, 100), 0);
    says("/day.json?space=lettuce", 500, "not a journal or damaged");
    sources.journal_path[0] = '\0';
    says("/day.json?space=lettuce", 404, "keeps no journal");
}

static void files(void **state)
{
    (void)state;
    assert_int_equal(ask("/page.js"), 200);
    assert_true(answer.size > 100);
    assert_non_null(strstr(answer.type, "javascript"));
    char tag[sizeof sources.files.items[0].tag];
    (void)snprintf(tag, sizeof tag, "%s", answer.tag);
    assert_true(tag[0] == '"' && tag[strlen(tag) - 1] == '"');
    assert_int_equal(ask("/page.css"), 200);
    assert_non_null(strstr(answer.type, "text/css"));
    assert_string_not_equal(answer.tag, tag);
    assert_int_equal(ask("/dygraph.js"), 404);
    assert_non_null(strstr(answer.text, "libjs-dygraphs"));
    assert_int_equal(ask("/nothing.js"), 404);
    assert_int_equal(ask("/<script>"), 404);
    assert_non_null(strstr(answer.type, "text/plain"));
}

static void the_charts_library(void **state)
{
    (void)state;
    char path[128];
    (void)snprintf(path, sizeof path, "%s/dygraph.min.js", bed.folder);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    assert_true(fputs("var Dygraph;", file) >= 0 && fclose(file) == 0);
    page_files_free(&sources.files);
    page_files_load(&sources.files, bed.folder);
    assert_int_equal(ask("/dygraph.js"), 200);
    assert_string_equal(answer.text, "var Dygraph;");
    assert_int_equal(ask("/dygraph.css"), 404);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(of_the_snapshot, begin, end),
        cmocka_unit_test_setup_teardown(of_the_journal, begin, end),
        cmocka_unit_test_setup_teardown(only_the_latest_events, begin, end),
        cmocka_unit_test_setup_teardown(nobody_waits, begin, end),
        cmocka_unit_test_setup_teardown(no_journal_and_a_damaged_one, begin, end),
        cmocka_unit_test_setup_teardown(files, begin, end),
        cmocka_unit_test_setup_teardown(the_charts_library, begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
