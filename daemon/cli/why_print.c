/* SPDX-License-Identifier: Apache-2.0 */
#include "why_print.h"

#include "field.h"

#include <math.h>
#include <stdbool.h>
#include <string.h>

enum { TIME_LENGTH = 25 }; /* "2026-11-24T14:05:00+01:00" */

/* Rules that said nothing and saw nothing, for one line below. */
struct silent {
    char words[1024];
    size_t used;
};

static void keep_silent(struct silent *silent, const char *words)
{
    if (strstr(silent->words, words)) {
        return; /* another fixture's */
    }
    const int length = snprintf(silent->words + silent->used, sizeof silent->words - silent->used,
                                "%s%s", silent->used > 0 ? ", " : "", words);
    if (length > 0 && (size_t)length < sizeof silent->words - silent->used) {
        silent->used += (size_t)length;
    }
}

static void print_level(FILE *out, double level)
{
    if (isfinite(level)) {
        (void)fprintf(out, "%6.0f %%", 100 * level);
    } else {
        (void)fprintf(out, "%8s", "-");
    }
}

/* "> heat foldback                     62 %  heatsink 68.2 °C (good, 3 s old), …" */
static void print_rule(FILE *out, const json_t *rule, struct silent *silent)
{
    const double allowed = field_number(rule, "allowed");
    const char *saw = field_text(rule, "saw");
    if (!isfinite(allowed) && !saw[0]) {
        keep_silent(silent, field_text(rule, "words"));
        return;
    }
    (void)fprintf(out, "%c %-32s", field_true(rule, "rules") ? '>' : ' ',
                  field_text(rule, "words"));
    print_level(out, allowed);
    (void)fprintf(out, "%s%s\n", saw[0] ? "  " : "", saw);
}

static void print_rules(FILE *out, const json_t *rules, struct silent *silent)
{
    size_t i;
    json_t *rule;
    json_array_foreach(rules, i, rule)
    {
        print_rule(out, rule, silent);
    }
}

static const char *pace_words(const char *pace)
{
    return strcmp(pace, "rises") == 0          ? ", on its way up"
           : strcmp(pace, "falls") == 0        ? ", on its way down"
           : strcmp(pace, "lowest-level") == 0 ? ", at its lowest level around a move of its switch"
           : strcmp(pace, "waits") == 0        ? ", waiting for its turn"
                                               : "";
}

static void print_fixtures(FILE *out, const json_t *space, struct silent *silent)
{
    size_t i;
    json_t *fixture;
    json_array_foreach(json_object_get(space, "fixtures"), i, fixture)
    {
        (void)fprintf(out, "\n  %-32s", field_text(fixture, "fixture"));
        print_level(out, field_number(fixture, "level"));
        (void)fprintf(out, "  by %s%s\n", field_text(fixture, "limiter_words"),
                      pace_words(field_text(fixture, "pace")));
        print_rules(out, json_object_get(fixture, "rules"), silent);
    }
    if (field_number(space, "fixtures_left_out") > 0) {
        (void)fprintf(out, "  and %.0f more, for which the minute had no room\n",
                      field_number(space, "fixtures_left_out"));
    }
}

/* "lettuce, 2026-11-24 14:05 +01:00" */
static void print_title(FILE *out, const json_t *space)
{
    const char *time = field_text(space, "time");
    const char *wall = field_text(space, "wall_clock");
    const bool is_now = field_true(space, "is_now");
    (void)fprintf(out, "%s", field_text(space, "space"));
    if (strlen(time) == TIME_LENGTH) {
        (void)fprintf(out, ", %.10s %.*s %s", time, is_now ? 8 : 5, time + 11, time + 19);
    }
    if (strlen(wall) == TIME_LENGTH) {
        (void)fprintf(out, " (%.5s %s on the wall)", wall + 11, wall + 19);
    }
    (void)fputc('\n', out);
}

static void print_minute(FILE *out, const json_t *space)
{
    const char *at = field_text(space, "at");
    if (!field_true(space, "is_now") && strlen(at) == TIME_LENGTH) {
        (void)fprintf(
            out, "  So it stood at %.8s; in the mean of the minute %.0f %%, ruled longest by: %s\n",
            at + 11, 100 * field_number(space, "level_mean"),
            field_text(space, "ruled_longest_words"));
    }
}

void why_print(FILE *out, const json_t *space)
{
    struct silent silent = {"", 0};
    print_title(out, space);
    (void)fprintf(out, "%s\n", field_text(space, "sentence"));
    if (field_text(space, "note")[0]) {
        (void)fprintf(out, "Why is not known: %s.\n", field_text(space, "note"));
        return;
    }
    (void)fprintf(out, "\n  %-32s%8s  %s\n", "rule", "allowed", "what it saw");
    print_rules(out, json_object_get(space, "rules"), &silent);
    print_fixtures(out, space, &silent);
    if (silent.used > 0) {
        (void)fprintf(out, "\n  nothing to say: %s\n", silent.words);
    }
    print_minute(out, space);
}
