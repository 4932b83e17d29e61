/* SPDX-License-Identifier: Apache-2.0 */
/* The start of the light day that stages, daylight and tariff ask for, and the sentence about it.
 */
#include "daystart.h"

#include "config.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum { H = 3600, EVERY_DAY = 0x7F, EVERY_MONTH = 0xFFF, WINTER = 0xE07 /* Oct-Mar */ };

#define COUNT(array) (int)(sizeof(array) / sizeof(array)[0])

static int32_t end_of(const struct tariff_rule *rules, int count, double plain)
{
    const struct tariff tariff = {.price_per_kwh = plain, .rules = rules, .rule_count = count};
    return daystart_cheap_end(&tariff);
}

static void ends_of_cheap_blocks(void **state)
{
    (void)state;
    const struct tariff_rule night = {EVERY_DAY, EVERY_MONTH, 22 * H, 6 * H, 0.10};
    const struct tariff_rule peak = {EVERY_DAY, EVERY_MONTH, 16 * H, 20 * H, 0.28};
    const struct tariff_rule both[] = {night, peak};
    assert_int_equal(end_of(both, 2, 0.16), 6 * H);
    assert_int_equal(end_of(&peak, 1, 0.16), -1); /* cheap all night, but it does not end */
    assert_int_equal(end_of(both, 0, 0.16), -1);
    assert_int_equal(end_of(&night, 1, 0.08), -1); /* the night is the dear one */
    /* told by its dear hours alone: the plain price is the cheap one */
    const struct tariff_rule day = {EVERY_DAY, EVERY_MONTH, 7 * H + 1800, 22 * H, 0.4};
    assert_int_equal(end_of(&day, 1, 0.2), 7 * H + 1800);
    /* a solar noon is cheaper still, and no morning */
    const struct tariff_rule noon[] = {{EVERY_DAY, EVERY_MONTH, 11 * H, 15 * H, 0.02}, night};
    assert_int_equal(end_of(noon, 2, 0.16), 6 * H);
    /* two steps up: the cheaper one; the same step on weekdays alone, and in winter alone */
    const struct tariff_rule steps[] = {{EVERY_DAY, EVERY_MONTH, 0, 4 * H, 0.08},
                                        {EVERY_DAY, EVERY_MONTH, 0, 7 * H, 0.12}};
    assert_int_equal(end_of(steps, 2, 0.3), 4 * H);
    const struct tariff_rule working[] = {{0x1F, EVERY_MONTH, 22 * H, 6 * H, 0.1},
                                          {0x60, EVERY_MONTH, 0, 24 * H, 0.1}};
    assert_int_equal(end_of(working, 2, 0.3), 6 * H);
    const struct tariff_rule seasons[] = {{EVERY_DAY, WINTER, 22 * H, 6 * H, 0.1},
                                          {EVERY_DAY, EVERY_MONTH & ~WINTER, 10 * H, 15 * H, 0.05}};
    assert_int_equal(end_of(seasons, 2, 0.3), 6 * H);
    /* two blocks of one price: the later one */
    const struct tariff_rule twins[] = {{EVERY_DAY, EVERY_MONTH, 4 * H, 6 * H, 0.1},
                                        {EVERY_DAY, EVERY_MONTH, 0, 2 * H, 0.1}};
    assert_int_equal(end_of(twins, 2, 0.3), 6 * H);
    const struct tariff_rule turned[] = {twins[1], twins[0]};
    assert_int_equal(end_of(turned, 2, 0.3), 6 * H);
    /* at 09:00 it is still a morning, later not */
    struct tariff_rule late = {EVERY_DAY, EVERY_MONTH, 22 * H, 9 * H, 0.1};
    assert_int_equal(end_of(&late, 1, 0.3), 9 * H);
    late.to_s += 1800;
    assert_int_equal(end_of(&late, 1, 0.3), -1);
}

struct start_case {
    bool sees_daylight;
    int32_t on_s, length_s, second_on_s; /* of a second stage of 4 h; −1: there is none */
    int32_t cheap_end_s;
    const char *words;
};

#define BLOCK_ENDS "the cheap block of the tariff ends "
#define COME_LAST  "cheap hours come last, when the day's sun is known"
#define SPARE      ", with time to spare behind them"
#define LIT_FOUR   "; the lit hours of stage growing, 04:00 to 22:00, lie in it as "

static const struct start_case cases[] = {
    {true, 4 * H, 18 * H, -1, 6 * H,
     "light day from 07:00: " BLOCK_ENDS "at 06:00, so " COME_LAST SPARE LIT_FOUR
     "07:00 to 22:00, then 04:00 to 07:00"},
    {true, 4 * H, 18 * H, -1, 3 * H,
     "light day from 07:00: " BLOCK_ENDS "at 03:00, so " COME_LAST SPARE LIT_FOUR
     "07:00 to 22:00, then 04:00 to 07:00"},
    {true, 4 * H, 18 * H, -1, 6 * H + 1800,
     "light day from 07:30: " BLOCK_ENDS "at 06:30, so " COME_LAST SPARE LIT_FOUR
     "07:30 to 22:00, then 04:00 to 07:30"},
    {true, 4 * H, 18 * H, -1, 8 * H,
     "light day from 08:00: " BLOCK_ENDS "then, so " COME_LAST LIT_FOUR
     "08:00 to 22:00, then 04:00 to 08:00"},
    {true, 4 * H, 18 * H, -1, 9 * H,
     "light day from 08:00: " BLOCK_ENDS "at 09:00, so most " COME_LAST LIT_FOUR
     "08:00 to 22:00, then 04:00 to 08:00"},
    {true, 4 * H, 18 * H, -1, -1,
     "light day from 07:00: the hours before it come last, when the day's sun is known" LIT_FOUR
     "07:00 to 22:00, then 04:00 to 07:00"},
    {true, 7 * H, 15 * H, -1, 6 * H,
     "light day from 00:00: no stage is lit before 07:00, so there are no hours to put last"},
    {true, 7 * H, 15 * H, 3 * H, -1,
     "light day from 07:00: the hours before it come last, when the day's sun is known"},
    {true, 12 * H, 14 * H, -1, 6 * H,
     "light day from 07:00: " BLOCK_ENDS "at 06:00, so " COME_LAST SPARE},
    {true, 0, 24 * H, -1, 6 * H,
     "light day from 07:00: " BLOCK_ENDS "at 06:00, so " COME_LAST SPARE},
    {true, 8 * H, 0, -1, 6 * H,
     "light day from 00:00: no stage is lit before 07:00, so there are no hours to put last"},
    {false, 4 * H, 18 * H, -1, 6 * H,
     "light day from 00:00: without daylight any start is as good"},
    {false, 18 * H, 16 * H, -1, 6 * H, "light day from 18:00: so it cuts no stage's lit hours"},
    {false, 18 * H, 16 * H, 16 * H, -1, "light day from 16:00: so it cuts no stage's lit hours"},
    {false, 18 * H, 16 * H, 8 * H, -1, "light day from 18:00: so it cuts no stage's lit hours"},
    {false, 18 * H, 23 * H, 16 * H, -1,
     "light day from 00:00: without daylight any start is as good; the lit hours of stage growing, "
     "18:00 to 17:00, lie in it as 00:00 to 17:00, then 18:00 to 00:00"},
    {true, 4 * H, 18 * H, 5 * H, -1,
     "light day from 07:00: the hours before it come last, when the day's sun is known; the lit "
     "hours of stage growing, 04:00 to 22:00, lie in it as 07:00 to 22:00, then 04:00 to 07:00; "
     "the lit hours of stage more, 05:00 to 09:00, lie in it as 07:00 to 09:00, then 05:00 to "
     "07:00"},
};

static void starts_and_their_reasons(void **state)
{
    (void)state;
    for (int i = 0; i < COUNT(cases); i++) {
        const struct start_case *wanted = &cases[i];
        const struct stage stages[] = {
            {.name = "growing", .window = {wanted->on_s, wanted->length_s}},
            {.name = "more", .window = {wanted->second_on_s, 4 * H}},
        };
        const struct space_rules rules = {
            .stages = stages,
            .stage_count = wanted->second_on_s < 0 ? 1 : 2,
            .sees_daylight = wanted->sees_daylight,
            .has_ppfd = true,
        };
        char text[DAYSTART_WORDS_MAX];
        const struct daystart start = daystart_of(&rules, wanted->cheap_end_s);
        daystart_words(&start, &rules, text, sizeof text);
        assert_string_equal(text, wanted->words);
    }
}

/* Where clocks are far from the sun: half hours, between five and four hours before its noon. */
static void by_the_sun_of_the_place(void **state)
{
    (void)state;
    static const struct {
        double longitude;
        int32_t offset_s, cheap_end_s, start_s;
    } places[] = {
        {15, H, 6 * H, 7 * H},                 /* noon at 12:00 */
        {-160.5, -9 * H, 6 * H, 8 * H + 1800}, /* 13:42 */
        {-160.5, -9 * H, 8 * H, 9 * H},
        {-160.5, -9 * H, -1, 8 * H + 1800},
        {80, 8 * H, -1, 9 * H + 1800},  /* 14:40 */
        {150, 0, -1, 21 * H},           /* clocks at UTC: 02:00 */
        {24, H, 6 * H, 7 * H},          /* 11:24: 06:30 to 07:30 */
        {-179.9, 12 * H, 6 * H, 7 * H}, /* over the date line */
    };
    const struct stage stage = {.name = "growing", .window = {2 * H, 23 * H}};
    for (int i = 0; i < COUNT(places); i++) {
        const struct space_rules rules = {
            .stages = &stage,
            .stage_count = 1,
            .sees_daylight = true,
            .has_ppfd = true,
            .sun = {.has_place = true,
                    .longitude = places[i].longitude,
                    .utc_offset_s = places[i].offset_s},
        };
        const struct daystart start = daystart_of(&rules, places[i].cheap_end_s);
        print_message("%g: %d\n", places[i].longitude, start.start_s);
        assert_int_equal(start.start_s, places[i].start_s);
    }
}

/* From the file: auto, which is the default, and a word of the operator's, which wins. */
static void from_the_configuration(void **state)
{
    (void)state;
    static const struct {
        const char *key;
        int32_t start_s;
        enum daystart_reason reason;
    } keys[] = {
        {"", 7 * H, DAYSTART_CHEAP_BLOCK},
        {"light_day_start = \"auto\";", 7 * H, DAYSTART_CHEAP_BLOCK},
        {"light_day_start = \"00:00\";", 0, DAYSTART_GIVEN},
        {"light_day_start = \"05:30\";", 5 * H + 1800, DAYSTART_GIVEN},
    };
    for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
        struct config *config = NULL;
        struct config_report report;
        char text[2048];
        (void)snprintf(
            text, sizeof text,
            "site = { time_zone = \"Europe/Berlin\"; price_per_kwh = 0.3; tariff = { rules = (\n{ "
            "from = \"22:00\"; to = \"06:00\"; price_per_kwh = 0.1; } ); }; };\nbuses = ( { name = "
            "\"room\"; driver = \"bench\"; } );\nsensors = ( { name = \"par\"; bus = \"room\"; "
            "kind = \"ppfd\"; } );\noutputs = ( { name = \"relay\"; bus = \"room\"; kind = "
            "\"switch\"; } );\nfixtures = ( { name = \"lamp\"; switch = \"relay\"; ppfd_full = "
            "400.0; } );\nstages = ( { name = \"growing\"; days = 0; lights_on = \"05:00\"; "
            "day_length_h = 16.0; target_mol = 13.0; } );\nspaces = ( { name = \"bed\"; fixtures = "
            "\"lamp\"; ppfd_sensors = \"par\";\nsees_daylight = true; stages = \"growing\"; start "
            "= \"2026-11-02\"; %s } );\n",
            keys[i].key);
        const int code = config_load_text("x.conf", text, strlen(text), &config, &report);
        print_message("%s", report.text);
        config_report_free(&report);
        assert_int_equal(code, 0);
        assert_int_equal(config->site.cheap_end_s, 6 * H);
        assert_int_equal(config->spaces[0].rules.day.start_s, keys[i].start_s);
        assert_int_equal(config->spaces[0].rules.day.utc_offset_s, H);
        assert_int_equal(config->spaces[0].day_start.reason, keys[i].reason);
        config_free(config);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ends_of_cheap_blocks),
        cmocka_unit_test(starts_and_their_reasons),
        cmocka_unit_test(by_the_sun_of_the_place),
        cmocka_unit_test(from_the_configuration),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
