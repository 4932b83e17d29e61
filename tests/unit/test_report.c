/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The day's report in its three forms. The mol of an hour follow from PPFD × time (DLI identity,
 * Torres & Lopez, Purdue HO-238-W: 200 µmol m⁻² s⁻¹ for one hour are 0.72 mol m⁻²).
 */
#include "report.h"

#include "err.h"
#include "journal_bed.h"
#include "near.h"
#include "prng.h"
#include "report_parts.h"
#include "units.h"

#include <errno.h>
#include <jansson.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "wrapped.h"

#define BEGIN_S (BED_DAY * INT64_C(86400))

static struct bed bed;
static struct journal_reader *reader;
static struct report *report;
static char *text;
static size_t text_size;

/* 200 µmol from 06:00 to 10:00 by plan, then heat at 100 µmol until 12:00, else dark; no minute
 * between 14:00 and 15:00; UTC. 3.6 mol of 4. */
static struct journal_minute minute_at(int index, double *delivered_mol)
{
    struct journal_minute minute = bed_minute("lettuce", 0);
    const int hour = index / 60;
    minute.wall_s = BEGIN_S + 60 * (int64_t)index;
    minute.light_day = BED_DAY;
    minute.limiter = hour < 6 || hour >= 12 ? LIMITER_NIGHT
                     : hour < 10            ? LIMITER_PLAN
                                            : LIMITER_HEAT;
    minute.ppfd_umol = hour < 6 || hour >= 12 ? 0 : hour < 10 ? 200 : 100;
    minute.level = minute.ppfd_umol / 400;
    minute.watts = minute.ppfd_umol;
    minute.heatsink_c = hour == 11 ? 71.5 : 40;
    *delivered_mol += minute.ppfd_umol * 60e-6;
    minute.delivered_mol = *delivered_mol;
    minute.target_mol = 4;
    return minute;
}

/* Lamps that give 0.94 for a week, and 0.5 on the day after it. */
static void keep_age(void)
{
    struct ageing ageing;
    const struct ageing_rules rules = {.commissioned = BED_DAY - 210, .heat_c = UNITS_NONE};
    ageing_init(&ageing);
    for (int day = -7; day <= 1; day++) {
        const struct ageing_sample sample = {.ratio = day > 0 ? 0.5 : 0.94, .heat_c = UNITS_NONE};
        ageing_book(&ageing, &rules, 420, &sample, 3600);
        (void)ageing_close(&ageing, &rules, BED_DAY + day);
    }
    ageings_keep(bed.journal, "lettuce", BEGIN_S + 2 * 86400, &ageing);
}

static int begin(void **state)
{
    (void)state;
    bed_make(&bed);
    bed_open(&bed);
    double delivered_mol = 0;
    for (int i = 0; i < 1440; i++) {
        const struct journal_minute minute = minute_at(i, &delivered_mol);
        if (i / 60 != 14) {
            assert_true(journal_put_minute(bed.journal, &minute));
        }
    }
    struct journal_day day = bed_day("lettuce", BED_DAY, true);
    day.summary.account = (struct account){.target_mol = 4, .delivered_mol = delivered_mol};
    day.summary.account.missing_mol[LIMITER_HEAT] = 4 - delivered_mol;
    day.summary.integral.lamp_mol = delivered_mol;
    day.summary.integral.daylight_mol = 0;
    day.summary.heatsink_max_c = 71.5;
    day.summary.lights_off_s = BEGIN_S + 12 * 3600;
    assert_true(journal_put_day(bed.journal, &day));
    struct journal_event event = bed_event("lettuce", JOURNAL_ALARM, "too hot: 71.5 °C");
    event.wall_s = BEGIN_S + 11 * 3600;
    assert_true(journal_put_event(bed.journal, &event));
    event = bed_event("", JOURNAL_NOTICE, "started");
    event.wall_s = BEGIN_S + 5 * 3600;
    assert_true(journal_put_event(bed.journal, &event));
    event = bed_event("basil", JOURNAL_INFO, "not of this space");
    assert_true(journal_put_event(bed.journal, &event));
    keep_age();
    assert_true(journal_flush(bed.journal, 20));
    assert_int_equal(journal_reader_open(bed.path, &reader, NULL), 0);
    assert_int_equal(report_create(reader, "lettuce", BED_DAY, &report, NULL), 0);
    return 0;
}

static int end(void **state)
{
    (void)state;
    free(text);
    text = NULL;
    report_destroy(report);
    report = NULL;
    journal_reader_close(reader);
    reader = NULL;
    bed_remove(&bed);
    return 0;
}

static FILE *open_text(void)
{
    free(text);
    text = NULL;
    FILE *out = open_memstream(&text, &text_size);
    assert_non_null(out);
    return out;
}

static void print_text(bool is_utf8)
{
    FILE *out = open_text();
    report_text(report, is_utf8, out);
    assert_int_equal(fclose(out), 0);
}

static void assert_has(const char *line)
{
    if (!wrapped_has(text, line)) {
        fail_msg("\"%s\" is not in\n%s", line, text);
    }
}

static void hours_follow_from_the_minutes(void **state)
{
    (void)state;
    assert_near(report_hour_mol(report, 5), 0, 1e-12);
    assert_near(report_hour_mol(report, 6), 0.72, 1e-9);
    assert_near(report_hour_mol(report, 10), 0.36, 1e-9);
    assert_true(isnan(report_hour_mol(report, 14)));
    assert_near(report_hour_mol(report, 15), 0, 1e-9); /* nothing came over the hole */
    assert_near(report_span_umol(&report->hours[6]), 200, 1e-9);
    assert_near(report_span_level(&report->hours[6]), 0.5, 1e-9);
    assert_int_equal(report_span_limiter(&report->hours[10]), LIMITER_HEAT);
    assert_int_equal(report_span_limiter(&report->hours[14]), LIMITER_COUNT);
    assert_near(report->hours[6].watt_minutes / 60000, 0.2, 1e-9);
    assert_near(report->hours[11].heatsink_max_c, 71.5, 0);
    assert_int_equal(report->columns[18].minutes, 20);
    assert_int_equal(report->event_count, 2);
}

/* As a terminal counts: characters, not bytes. */
static int columns_of(const char *line)
{
    int columns = 0;
    for (; *line && *line != '\n'; line++) {
        columns += ((unsigned char)*line & 0xc0) != 0x80;
    }
    return columns;
}

static void text_for_people(void **state)
{
    (void)state;
    print_text(true);
    assert_has("lettuce, light day 2026-02-24 (Tuesday)\n");
    assert_has("Stage growing, day 5. Short by 0.40 mol: 3.60 of 4.00 mol (90 %).\n");
    assert_has("Taken by heat foldback (0.40 mol).\n");
    assert_has("Lights on 06:00, off 12:00. 2 switch operations. Hottest heatsink 71.5 °C.\n");
    assert_has("Energy 3.40 kWh, cost 1.05 EUR (0.310 EUR per kWh).\n");
    assert_has("\nLight of the lamps: 94 % of commissioning after 210 days, ±1 %.\n");
    assert_has("\nNight hours of this light day\n  Night 00:00 to 06:00 (6 h 00 min). No "
               "light was seen.\n");
    assert_has("  00:00-06:00     0   0.00    0 %  night ");
    assert_has("  06:00-07:00   200   0.72   50 %  plan ");
    assert_has(
        "  11:00-12:00   100   0.36   25 %  heat foldback                     71.5  0.100\n");
    assert_has("  14:00-15:00  no record\n");
    assert_has("  15:00-24:00     0   0.00    0 %  night ");
    assert_has("████");
    assert_has("|..................pppppppppppphhhhhh......   ...........................\n");
    assert_has("  05:00:00 * started\n  11:00:00 ! too hot: 71.5 °C\n");
    assert_null(strstr(text, "not of this space"));
    for (const char *line = text; line && *line;
         line = strchr(line, '\n') ? strchr(line, '\n') + 1 : NULL) {
        const char *stop = strchr(line, '\n');
        assert_true(stop == line || stop[-1] != ' '); /* nothing hangs off the end */
        if (columns_of(line) > 80) {
            fail_msg("%.*s", (int)(stop - line), line);
        }
    }
}

/* What the sentence on lamp light says of costs: given, least, at one level; so much missing. */
static void light_costs(double lamp, double bound, double even, double missing_mol)
{
    struct day_summary *summary = &report->day.summary;
    summary->lamp_cost = lamp;
    summary->bound_cost = bound;
    summary->even_cost = even;
    summary->account.missing_mol[LIMITER_HEAT] = missing_mol;
    print_text(true);
}

static void lamp_light_beside_the_cheapest(void **state)
{
    (void)state;
    light_costs(1.84, 1.79, 2.01, 0);
    assert_has(".\nThe lamp light cost 1.84 EUR; the cheapest possible in hindsight 1.79 (1.03 ×); "
               "the same light at one fixed level 2.01.\n");
    assert_null(strstr(text, "of this space alone"));
    report->hours[9].limiter_minutes[LIMITER_POWER_LIMIT] = 1;
    print_text(false);
    report->hours[9].limiter_minutes[LIMITER_POWER_LIMIT] = 0;
    assert_has("in hindsight 1.79 (1.03 x);");
    assert_has("\nThat least cost is of this space alone, without the limit that all share; a soft "
               "limit's\nsurcharge is in none of these costs.\n");
    report->day.currency[0] = '\0';
    light_costs(1.2, 1.79, 1.3, 0.4);
    assert_has("The lamp light cost 1.20; what was possible of the target would have cost 1.79 at "
               "least.\n");
    light_costs(0.01, 0, 0.02, 0); /* a ratio to nothing says nothing */
    assert_has("in hindsight 0.00; the same");
    light_costs(-0.2, -0.3, 0.1, 0);
    assert_has("cost -0.20; the cheapest possible in hindsight -0.30; the same");
    light_costs(0, 0, 0, 0); /* energy has no price */
    assert_null(strstr(text, "lamp light cost"));
    light_costs(UNITS_NONE, UNITS_NONE, UNITS_NONE, 0);
    assert_null(strstr(text, "lamp light cost"));
}

static void text_in_ascii(void **state)
{
    (void)state;
    print_text(false);
    for (size_t i = 0; i < text_size; i++) {
        assert_true((unsigned char)text[i] < 0x80);
    }
    assert_has("Mol account                                 mol m-2\n");
    assert_has("Hottest heatsink 71.5 C.");
    assert_has("####");
    assert_null(strchr(text, '?'));
}

/* The number at the end of the line that begins so, in hundredths; 0 when there is no such line. */
static long hundredths(const char *begin_of_line)
{
    const char *line = strstr(text, begin_of_line);
    if (!line) {
        return 0;
    }
    char words[80];
    (void)snprintf(words, sizeof words, "%.*s", (int)strcspn(line, "\n"), line);
    const char *number = strrchr(words, ' ');
    assert_non_null(number);
    char *stop = NULL;
    double value = strtod(number, &stop);
    assert_int_equal(*stop, '\0');
    return lround(value * 100);
}

/* Whatever the day came to: the printed lines add up to the printed sum, and each is off by less
 * than 0.01. */
static void the_account_adds_up(void **state)
{
    (void)state;
    struct prng prng = prng_start("the_account_adds_up");
    static const char *const missing[] = {"  missing: heat foldback", "  missing: by hand",
                                          "  missing: no light reading"};
    static const enum limiter limiters[] = {LIMITER_HEAT, LIMITER_BY_HAND, LIMITER_SENSOR_LOST};
    for (int turn = 0; turn < 300; turn++) {
        struct account *account = &report->day.summary.account;
        struct integral *integral = &report->day.summary.integral;
        *account = (struct account){0};
        integral->lamp_mol = prng_real(&prng, 0, 12);
        integral->daylight_mol = prng_real(&prng, 0, 4);
        account->delivered_mol = integral->lamp_mol + integral->daylight_mol;
        account->surplus_mol = turn % 3 == 0 ? prng_real(&prng, 0, account->delivered_mol) : 0;
        account->to_come_mol = turn % 3 == 1 ? prng_real(&prng, 0, 3) : 0;
        for (int i = 0; i < 3 && turn % 3 != 0; i++) {
            account->missing_mol[limiters[i]] = prng_real(&prng, 0, 0.2);
        }
        account->target_mol = account->delivered_mol + account->to_come_mol +
                              account_missing_mol(account) - account->surplus_mol;
        print_text(true);
        long sum = hundredths("  delivered by the lamps") + hundredths("  delivered by daylight") +
                   hundredths("  still to come");
        for (int i = 0; i < 3; i++) {
            const long shown = hundredths(missing[i]);
            assert_near((double)shown / 100, account->missing_mol[limiters[i]], 0.01);
            sum += shown;
        }
        assert_int_equal(sum, hundredths("  target ") + hundredths("  surplus"));
        assert_near((double)hundredths("  target ") / 100, account->target_mol, 0.006);
        assert_null(strstr(text, "do not add up"));
    }
    report->day.summary.account.target_mol = 99;
    print_text(true);
    assert_has("These do not add up");
}

static void rounding(void **state)
{
    (void)state;
    const double thirds[] = {1.0 / 3, 1.0 / 3, 1.0 / 3};
    int64_t shown[3];
    report_round(thirds, 3, shown);
    assert_int_equal(shown[0] + shown[1] + shown[2], 100);
    const double absurd[] = {UNITS_NONE, (double)INFINITY, 1.005};
    report_round(absurd, 3, shown);
    assert_int_equal(shown[0], 0);
    assert_int_equal(shown[1], 0);
    assert_true(shown[2] == 100 || shown[2] == 101);
}

static double number(const json_t *object, const char *key)
{
    const json_t *value = json_object_get(object, key);
    if (!json_is_number(value)) {
        fail_msg("%s is not a number", key);
    }
    return json_number_value(value);
}

static void json_for_programs(void **state)
{
    (void)state;
    FILE *out = open_text();
    report->day.summary.heatsink_max_c = UNITS_NONE;
    report->day.summary.even_cost = UNITS_NONE;
    assert_int_equal(report_json(report, out), 0);
    assert_int_equal(fclose(out), 0);
    assert_ptr_equal(strchr(text, '\n'), text + text_size - 1); /* one line */
    json_t *object = json_loads(text, JSON_REJECT_DUPLICATES, NULL);
    assert_non_null(object);
    assert_string_equal(json_string_value(json_object_get(object, "space")), "lettuce");
    assert_string_equal(json_string_value(json_object_get(object, "light_day")), "2026-02-24");
    assert_string_equal(json_string_value(json_object_get(object, "lights_on")),
                        "2026-02-24T06:00:00+00:00");
    assert_near(number(object, "delivered_mol"), 3.6, 1e-6);
    assert_near(number(object, "target_mol") + number(object, "surplus_mol"),
                number(object, "delivered_mol") + number(object, "to_come_mol") +
                    number(object, "missing_mol"),
                1e-6);
    const json_t *short_mol = json_object_get(object, "short_mol");
    assert_int_equal(json_object_size(short_mol), 1);
    assert_near(number(short_mol, "heat"), 0.4, 1e-6);
    assert_true(json_is_true(json_object_get(object, "feasible")));
    assert_true(json_is_true(json_object_get(object, "missed")));
    assert_near(number(object, "lamp_cost"), 1.03, 1e-9);
    assert_near(number(object, "bound_cost"), 0.99, 1e-9);
    assert_true(json_is_null(json_object_get(object, "even_cost")));
    assert_true(json_is_null(json_object_get(object, "heatsink_max_c")));
    const json_t *hours = json_object_get(object, "hours");
    assert_int_equal(json_array_size(hours), 23); /* one has no record */
    double sum_mol = 0;
    for (size_t i = 0; i < json_array_size(hours); i++) {
        sum_mol += number(json_array_get(hours, i), "mol");
    }
    assert_near(sum_mol, 3.6, 1e-6);
    const json_t *event = json_array_get(json_object_get(object, "events"), 1);
    assert_string_equal(json_string_value(json_object_get(event, "class")), "alarm");
    assert_true(json_is_null(json_object_get(event, "b")));
    json_decref(object);
}

static void csv_for_tables(void **state)
{
    (void)state;
    FILE *out = open_text();
    report_csv_header(out);
    assert_int_equal(report_csv(report, reader, out, NULL), 0);
    struct journal_minute odd = bed_minute("a \"b\", c", 0);
    odd.ppfd_umol = UNITS_NONE;
    odd.air_c = (double)INFINITY;
    report_csv_minute(&odd, 19800, out);
    assert_int_equal(fclose(out), 0);
    int lines = 0;
    for (const char *line = text; *line; line = strchr(line, '\n') + 1) {
        lines++;
    }
    assert_int_equal(lines, 1 + 1380 + 1);
    assert_has("time,space,light_day,ppfd_umol,");
    assert_has(
        "\n2026-02-24T06:00:00+00:00,lettuce,2026-02-24,200,190.25,9.75,0.5,0.58,plan,40,,,200,"
        "0.012,4,0.31,good\n");
    assert_has("+05:30,\"a \"\"b\"\", c\",");
    assert_has(",,190.25,"); /* unknown is empty, not nan */
    assert_null(strstr(text, "nan"));
    assert_null(strstr(text, "inf"));
}

static void days_that_are_not_there(void **state)
{
    (void)state;
    struct err err;
    struct report *none = NULL;
    assert_int_equal(report_create(reader, "lettuce", BED_DAY + 1, &none, &err), -ENOENT);
    assert_string_equal(err.text,
                        "no light day 2026-02-25 of space lettuce is stored (days stored: "
                        "2026-02-24 to 2026-02-24)");
    assert_int_equal(report_create(reader, "nobody", BED_DAY, &none, &err), -ENOENT);
    assert_non_null(strstr(err.text, "no light day of space nobody"));
    assert_null(none);
}

/* Offsets with half hours, light days that begin in the evening, and rows that make no sense. */
static void odd_days(void **state)
{
    (void)state;
    bed_close(&bed);
    bed_run(&bed, "UPDATE day SET utc_offset_s = 20700, begin_s = begin_s + 5400");
    report_destroy(report);
    report = NULL;
    assert_int_equal(report_create(reader, "lettuce", BED_DAY, &report, NULL), 0);
    print_text(true);
    assert_has("Lights on 11:45, off 17:45.");
    bed_run(&bed,
            "UPDATE minute SET ppfd_umol = 1e300, watts = 1e308, delivered_mol = -1e308,"
            " level = -5, heatsink_c = 1e308;"
            "UPDATE day SET target_mol = 1e308, delivered_mol = NULL, night_longest_s = 1e308,"
            " night_breaks = 3, is_closed = 0, begin_s = 9000000000000000000,"
            " light_day = 2000000000");
    report_destroy(report);
    report = NULL;
    assert_int_equal(report_create(reader, "lettuce", 2000000000, &report, NULL), 0);
    print_text(true);
    print_text(false);
    FILE *out = open_text();
    assert_int_equal(report_json(report, out), 0);
    assert_int_equal(fclose(out), 0);
    json_t *object = json_loads(text, 0, NULL);
    assert_non_null(object);
    json_decref(object);
}

static void light_that_a_night_may_have_had(void **state)
{
    (void)state;
    print_text(true);
    assert_null(strstr(text, "not confirmed"));
    bed_run(&bed, "UPDATE day SET night_possible_umol_m2 = 812.4");
    report_destroy(report);
    report = NULL;
    assert_int_equal(report_create(reader, "lettuce", BED_DAY, &report, NULL), 0);
    print_text(true);
    assert_has(
        "\nOpenings were not confirmed: the night may have had up to 812 µmol m⁻² by them.\n");
    FILE *out = open_text();
    assert_int_equal(report_json(report, out), 0);
    assert_int_equal(fclose(out), 0);
    assert_has("\"night_possible_umol_m2\":812.4");
}

/* Why a target is lower than the stage's stands beside what became of it. */
static void a_target_lowered_by_yesterday(void **state)
{
    (void)state;
    print_text(true);
    assert_null(strstr(text, "the day before"));
    struct journal_event *event = &report->events[0];
    (void)snprintf(event->kind, sizeof event->kind, "carried-over");
    event->a = 4;
    event->b = 1.25;
    print_text(true);
    assert_has("The target was 5.25 mol less 1.25 mol that the day before brought above its "
               "stage's.");
}

static void load(const char *change)
{
    bed_run(&bed, change);
    report_destroy(report);
    report = NULL;
    assert_int_equal(report_create(reader, "lettuce", BED_DAY, &report, NULL), 0);
}

/* A light day from 07:30 to 07:30: half hours at both ends, lit over midnight, and what is behind
 * midnight is marked. Half-lit hours are told by who ruled the light. */
static void a_light_day_over_midnight(void **state)
{
    (void)state;
    bed_close(&bed);
    load("UPDATE day SET begin_s = begin_s + 27000, lights_off_s = lights_off_s + 57600;"
         "UPDATE minute SET wall_s = -wall_s - 57600;"
         "UPDATE minute SET wall_s = -wall_s;"
         "UPDATE event SET wall_s = wall_s + 57600");
    print_text(true);
    assert_has("Lights on 06:00, off 04:00 (next day). 2 switch");
    assert_has("  16:00-22:00");
    assert_has("  23:00-24:00");
    assert_has("\n  next day\n  00:00-01:00 ");
    assert_has("\n  07:00-07:30 ");
    assert_has("\n  next day\n  03:00:00 ! too hot");
    load("UPDATE minute SET limiter = 'night' WHERE wall_s % 3600 < 2400 AND limiter = 'plan'");
    print_text(true);
    assert_has("\n  00:00-01:00   200   0.72   50 %  plan, lit 20 min ");
    load("UPDATE minute SET limiter = 'power-limit' WHERE limiter = 'plan'");
    print_text(true);
    assert_has("\n  00:00-01:00   200   0.72   50 %  power limit of all spaces ");
}

/* The sums of a running day come after its events: what the log knows is not denied. */
static void a_day_that_has_only_just_begun(void **state)
{
    (void)state;
    report->day.is_closed = false;
    report->day.summary.lights_on_s = report->day.summary.lights_off_s = 0;
    report->day.summary.switch_operations = 0;
    print_text(true);
    assert_has("\nThe lamps were not lit yet. Hottest");
    (void)snprintf(report->events[1].kind, sizeof report->events[1].kind, "lights-on");
    print_text(true);
    assert_has("\nLights on 11:00, still lit. Hottest");
    report->day.summary.lights_on_s = BEGIN_S + 2 * 3600;
    report->day.summary.lights_off_s = BEGIN_S + 4 * 3600;
    print_text(true);
    assert_has("\nLights on 02:00, off 04:00, on again 11:00, still lit. Hottest");
}

/* Little is missing: every limiter that took a part of it is named. */
static void a_target_met_but_for_little(void **state)
{
    (void)state;
    struct account *account = &report->day.summary.account;
    account->missing_mol[LIMITER_HEAT] = 0.0095;
    account->missing_mol[LIMITER_POWER_LIMIT] = 0.0104;
    account->missing_mol[LIMITER_PLAN] = 0.02;
    account->target_mol = account->delivered_mol + account_missing_mol(account);
    print_text(true);
    assert_has("Target met but for 0.04 mol: 3.60 of 3.64 mol.\n"
               "Taken by heat foldback (0.01 mol), power limit of all spaces (0.01 mol), what the "
               "plan did not foresee (0.02 mol).\n");
}

static void put_tries(int from, int count)
{
    for (int i = from; i < from + count; i++) {
        report->events[i] = bed_event("lettuce", JOURNAL_NOTICE, "a lamp is moved");
        report->events[i].wall_s = report->day.begin_s + 60 * (int64_t)i;
        (void)strcpy(report->events[i].kind, i % 2 ? "try-drive" : "try-ends");
    }
    report->event_count = from + count;
}

static void a_sweep_is_told_in_two_lines(void **state)
{
    (void)state;
    put_tries(0, 100);
    print_text(true);
    assert_has("  00:00:00 * a lamp is moved\n           … and 99 more by hand until 01:39:00\n");
    report->events[100] = bed_event("lettuce", JOURNAL_ALARM, "too hot");
    put_tries(101, 6); /* few enough */
    print_text(true);
    assert_has("… and 99 more by hand until 01:39:00\n");
    assert_has("too hot");
    assert_has("  01:46:00 * a lamp is moved\n");
}

int main(void)
{
#define TEST(name) cmocka_unit_test_setup_teardown(name, begin, end)
    const struct CMUnitTest tests[] = {
        TEST(hours_follow_from_the_minutes),
        TEST(text_for_people),
        TEST(lamp_light_beside_the_cheapest),
        TEST(text_in_ascii),
        TEST(the_account_adds_up),
        TEST(rounding),
        TEST(json_for_programs),
        TEST(csv_for_tables),
        TEST(days_that_are_not_there),
        TEST(odd_days),
        TEST(light_that_a_night_may_have_had),
        TEST(a_target_lowered_by_yesterday),
        TEST(a_light_day_over_midnight),
        TEST(a_day_that_has_only_just_begun),
        TEST(a_target_met_but_for_little),
        TEST(a_sweep_is_told_in_two_lines),
    };
#undef TEST
    return cmocka_run_group_tests(tests, NULL, NULL);
}
