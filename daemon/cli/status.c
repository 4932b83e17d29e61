/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden status`: how things stand now, at a glance. */
#include "account.h"
#include "client.h"
#include "err.h"
#include "field.h"
#include "json_out.h"
#include "missing.h"
#include "options.h"
#include "parse.h"
#include "verb.h"
#include "words.h"
#include "wrap.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define NAME "status"

/* "words 12.3 unit" or nothing where the value is not known. */
static void put_value(FILE *out, const char *words, double value, int decimals, const char *unit)
{
    if (isfinite(value)) {
        (void)fprintf(out, "%s %.*f %s", words, decimals, value, unit);
    }
}

static void print_faults(FILE *out, const json_t *object, const char *indent)
{
    const json_t *faults = json_object_get(object, "faults");
    size_t i;
    json_t *fault;
    json_array_foreach(faults, i, fault)
    {
        (void)fprintf(out, "%s! %s\n", indent, json_string_value(fault));
    }
}

static void print_stage(FILE *out, const json_t *space)
{
    const double days = field_number(space, "stage_days");
    const double day = field_number(space, "stage_day");
    if (field_text(space, "stage")[0]) {
        (void)fprintf(out, "  stage      %s, day %.0f", field_text(space, "stage"), day);
        if (isfinite(days)) {
            (void)fprintf(out, " of %.0f", days);
        }
        (void)fprintf(out, "%s; now %s\n",
                      field_true(space, "night_is_protected") ? ", protected night" : "",
                      field_text(space, "phase"));
    } else if (strcmp(field_text(space, "phase"), "waiting") == 0) {
        (void)fprintf(out, "  stage      the first one begins in %.0f days\n", day);
    } else if (strcmp(field_text(space, "phase"), "over") == 0) {
        (void)fprintf(out, "  stage      the last one ended; the lamps stay dark\n");
    }
}

/* What is told to be open may be lit: its light and its watts are not known, unless metered. */
static bool is_unconfirmed(const json_t *fixture)
{
    return json_is_false(json_object_get(fixture, "switch_is_known"));
}

static bool hides_watts(const json_t *fixture)
{
    return is_unconfirmed(fixture) && !isfinite(field_number(fixture, "measured_watts"));
}

static bool any_fixture(const json_t *space, bool (*is_so)(const json_t *fixture))
{
    size_t i;
    json_t *fixture;
    json_array_foreach(json_object_get(space, "fixtures"), i, fixture)
    {
        if (is_so(fixture)) {
            return true;
        }
    }
    return false;
}

static void print_reading(FILE *out, const json_t *space)
{
    (void)fprintf(out, "  light     ");
    if (field_true(space, "light_is_measured")) {
        put_value(out, "", field_number(space, "ppfd_umol"), 0, "µmol m⁻² s⁻¹ measured");
        if (field_number(space, "daylight_umol") > 0) {
            put_value(out, ",", field_number(space, "daylight_umol"), 0, "of it daylight");
        }
    } else if (any_fixture(space, is_unconfirmed)) {
        (void)fprintf(out, " no good reading, and not every switch is known");
    } else {
        (void)fprintf(out, " no good reading");
        put_value(out, ", lamps estimated at", field_number(space, "lamp_umol"), 0, "µmol m⁻² s⁻¹");
    }
    put_value(out, "; lamps at full give", field_number(space, "full_umol"), 0, "µmol m⁻² s⁻¹");
    (void)fputc('\n', out);
    const json_t *gain = json_object_get(space, "gain");
    if (json_is_integer(json_object_get(gain, "accepted_s"))) {
        (void)fprintf(out, "  accepted   light readings ÷ %.3f, ppfd_full × %.3f\n",
                      field_number(gain, "sensor_factor"), field_number(gain, "lamp_factor"));
    }
    const json_t *ageing = json_object_get(space, "ageing");
    if (field_text(ageing, "words")[0]) {
        (void)fprintf(out, "  lamps      %s\n", field_text(ageing, "words"));
    }
}

static void print_power(FILE *out, const json_t *space)
{
    (void)fprintf(out, "  power     ");
    if (any_fixture(space, hides_watts)) {
        (void)fprintf(out, " not known now");
    } else {
        put_value(out, "", field_number(space, "watts"), 0, "W now");
    }
    put_value(out, ", today", field_number(space, "energy_kwh"), 2, "kWh");
    put_value(out, ",", field_number(space, "cost"), 2, field_text(space, "currency"));
    (void)fputc('\n', out);
}

static void print_reach(FILE *out, const json_t *space)
{
    const char *text = field_text(space, "out_of_reach");
    if (text[0]) {
        (void)fprintf(out, "  short      %s\n", text);
    }
}

static void print_light(FILE *out, const json_t *space)
{
    (void)fprintf(out, "  DLI        %.2f of %.2f mol so far", field_number(space, "delivered_mol"),
                  field_number(space, "target_mol"));
    put_value(out, ", on course for", field_number(space, "forecast_mol"), 2, "mol");
    const double short_mol =
        field_number(space, "target_mol") - field_number(space, "forecast_mol");
    if (short_mol > ACCOUNT_SHORT_MOL) {
        (void)fprintf(out, ", %.2f short", short_mol);
    }
    missing_print(out, space, field_number(space, "forecast_mol"));
    (void)fputc('\n', out);
    print_reach(out, space);
    print_reading(out, space);
    print_power(out, space);
}

static void print_air(FILE *out, const json_t *space)
{
    if (!isfinite(field_number(space, "air_c"))) {
        return;
    }
    (void)fprintf(out, "  air       ");
    put_value(out, "", field_number(space, "air_c"), 1, "°C");
    put_value(out, ",", field_number(space, "humidity_percent"), 0, "% humidity");
    put_value(out, ", VPD", field_number(space, "vpd_kpa"), 2, "kPa");
    (void)fputc('\n', out);
}

static void print_fixture(FILE *out, const json_t *fixture)
{
    (void)fprintf(out, "  fixture    %-18s", field_text(fixture, "fixture"));
    if (field_true(fixture, "closed")) {
        (void)fprintf(out, " %3.0f %% (drive %.2f)", 100 * field_number(fixture, "level"),
                      field_number(fixture, "drive"));
    } else if (is_unconfirmed(fixture)) {
        (void)fprintf(out, " switch unconfirmed");
    } else {
        (void)fprintf(out, " switch open");
    }
    put_value(out, ", heatsink", field_number(fixture, "heat_c"), 1, "°C");
    if (hides_watts(fixture)) {
        (void)fprintf(out, ", may be lit");
    } else {
        put_value(out, ",", field_number(fixture, "watts"), 0, "W");
    }
    const char *name = field_text(fixture, "limiter");
    const enum limiter limiter = limiter_find(name);
    (void)fprintf(out, ", %s\n", limiter < LIMITER_COUNT ? words_limiter(limiter) : name);
}

/* What the curve promises for the drive, beside what the fixture's own meter says. */
static void print_expected(FILE *out, const json_t *fixture)
{
    (void)fprintf(out, "  by curve   %-18s ", field_text(fixture, "fixture"));
    put_value(out, "", field_number(fixture, "expected_watts"), 0, "W");
    put_value(out, " and", field_number(fixture, "expected_umol"), 0, "µmol m⁻² s⁻¹ expected");
    put_value(out, ",", field_number(fixture, "measured_watts"), 0, "W measured");
    (void)fputc('\n', out);
}

static void print_hand(FILE *out, const json_t *space)
{
    const json_t *hand = json_object_get(space, "hand");
    if (json_is_object(hand)) {
        char left[32];
        parse_format_duration(field_number(hand, "left_s"), left, sizeof left);
        (void)fprintf(out, "  by hand    %.0f %% for another %s%s\n",
                      100 * field_number(hand, "level"), left,
                      field_true(hand, "breaks_night") ? ", also in the night" : "");
    }
}

static void put_drive(FILE *out, const char *words, double value)
{
    if (isfinite(value)) {
        (void)fprintf(out, "%s %.2f", words, value);
    } else {
        (void)fprintf(out, "%s nothing", words);
    }
}

static const char *contact_word(double value)
{
    if (!isfinite(value)) {
        return "nothing";
    }
    return value > 0.5 ? "closed" : "open";
}

/* What was asked, written and read back are three things; they are shown when they differ. */
static void print_output(FILE *out, const json_t *output)
{
    char since[32];
    parse_format_duration(field_number(output, "since_s"), since, sizeof since);
    (void)fprintf(out, "  output     %-18s ", field_text(output, "output"));
    if (strcmp(field_text(output, "kind"), "switch") == 0) {
        (void)fprintf(out, "asked %s, written %s", contact_word(field_number(output, "asked")),
                      contact_word(field_number(output, "written")));
        if (isfinite(field_number(output, "read_back"))) {
            (void)fprintf(out, ", read back %s", contact_word(field_number(output, "read_back")));
        }
    } else {
        put_drive(out, "asked", field_number(output, "asked"));
        put_drive(out, ", written", field_number(output, "written"));
        if (isfinite(field_number(output, "read_back"))) {
            put_drive(out, ", read back", field_number(output, "read_back"));
        }
    }
    if (isfinite(field_number(output, "since_s"))) {
        (void)fprintf(out, ", for %s", since);
    }
    (void)fprintf(out, "%s%s\n", field_text(output, "error")[0] ? ": " : "",
                  field_text(output, "error"));
}

static void print_try(FILE *out, const json_t *output)
{
    const json_t *trial = json_object_get(output, "try");
    char left[32];
    if (!json_is_object(trial)) {
        return;
    }
    parse_format_duration(ceil(field_number(trial, "left_s")), left, sizeof left);
    (void)fprintf(out, "  try        %-18s moved by hand for another %s%s%s\n",
                  field_text(output, "output"), left, field_text(trial, "held")[0] ? "; " : "",
                  field_text(trial, "held"));
}

static void print_outputs(FILE *out, const json_t *status, const char *space, bool wants_all)
{
    size_t i;
    json_t *output;
    json_array_foreach(json_object_get(status, "outputs"), i, output)
    {
        if (strcmp(field_text(output, "space"), space) != 0) {
            continue;
        }
        if (wants_all || !field_true(output, "obeys")) {
            print_output(out, output);
        }
        print_try(out, output);
    }
}

static void print_space(FILE *out, const json_t *status, const json_t *space, bool wants_outputs)
{
    (void)fprintf(out, "\n%s: %s\n", field_text(space, "space"), field_text(space, "state"));
    print_stage(out, space);
    print_light(out, space);
    print_hand(out, space);
    print_air(out, space);
    size_t i;
    json_t *fixture;
    json_array_foreach(json_object_get(space, "fixtures"), i, fixture)
    {
        print_fixture(out, fixture);
        if (wants_outputs) {
            print_expected(out, fixture);
        }
    }
    print_outputs(out, status, field_text(space, "space"), wants_outputs);
    print_faults(out, space, "  ");
}

static void print_daemon(FILE *out, const json_t *status)
{
    char uptime[32];
    char clock[20] = "";
    parse_format_duration(field_number(status, "uptime_s"), uptime, sizeof uptime);
    (void)snprintf(clock, sizeof clock, "%.10s %.8s", field_text(status, "time"),
                   strlen(field_text(status, "time")) > 11 ? field_text(status, "time") + 11 : "");
    const char *site = field_text(status, "site");
    const char *demonstration = field_text(status, "demonstration");
    if (demonstration[0]) {
        (void)fprintf(out, "! a demonstration (%s): lamps and time are simulated\n", demonstration);
    }
    (void)fprintf(out, "%s%s%s; clock %s; running for %s\n", site, site[0] ? ", " : "", clock,
                  words_clock(field_text(status, "clock")), uptime);
    const json_t *power = json_object_get(status, "power");
    if (json_is_object(power)) {
        (void)fprintf(out, "power %s\n", field_text(power, "words"));
    }
    const json_t *journal = json_object_get(status, "journal");
    if (strcmp(field_text(journal, "state"), "healthy") != 0) {
        (void)fprintf(out, "! the journal is %s: %s\n", field_text(journal, "state"),
                      field_text(journal, "reason"));
    }
    if (!field_true(status, "is_ready")) {
        (void)fprintf(out, "! not ready yet: outputs are being made safe and verified\n");
    }
    print_faults(out, status, "");
}

static int run(int argc, char **argv)
{
    const char *socket_path = CLIENT_DEFAULT_SOCKET;
    const char *space = NULL;
    bool wants_json = false;
    bool wants_outputs = false;
    const struct verb_option table[] = {
        {"socket", 0, &socket_path, NULL},
        {"space", 's', &space, NULL},
        {"outputs", 0, NULL, &wants_outputs},
        {"json", 0, NULL, &wants_json},
        {NULL, 0, NULL, NULL},
    };
    if (verb_options(NAME, table, argc, argv, 0) < 0) {
        return VERB_USAGE;
    }
    struct err err;
    json_t *status = NULL;
    json_t *params = client_space(space);
    if (client_ask(socket_path, NAME, params, &status, &err) < 0) {
        return verb_fail(NAME, VERB_FAILED, "%s", err.text);
    }
    if (wants_json) {
        json_out_print(status);
        return VERB_OK;
    }
    struct wrap wrap;
    FILE *out = wrap_begin(&wrap, stdout);
    print_daemon(out, status);
    size_t i;
    json_t *each;
    json_array_foreach(json_object_get(status, "spaces"), i, each)
    {
        print_space(out, status, each, wants_outputs);
    }
    wrap_end(&wrap, WRAP_BY_COLUMN);
    json_decref(status);
    return VERB_OK;
}

const struct verb verb_status = {
    .name = NAME,
    .summary = "what every space does now, and why",
    .help =
        "usage: lampwarden status [OPTION...]\n"
        "\n"
        "Asks the running daemon: clock, stage and day, the level and the limiter that set it, "
        "the light\n"
        "integral so far, its target and where the day is heading, temperatures, watts, "
        "faults. Lines that\n"
        "begin with '!' want a look.\n"
        "\n"
        "  --space NAME    one space only\n"
        "  --outputs       what every output was asked, what its device took and what reads "
        "back (without it\n"
        "                  only of those that do not obey), and what each fixture should give by "
        "its curve\n"
        "  --socket PATH   control socket; default " CLIENT_DEFAULT_SOCKET "\n"
        "  --json          everything as one JSON object; units stand in the names\n"
        "\n"
        "examples:\n"
        "  lampwarden status --space lettuce --outputs\n"
        "  lampwarden status --json | python3 -m json.tool\n",
    .run = run,
};
