/* SPDX-License-Identifier: Apache-2.0 */
/* Private to sheet*.c: all that is known of a space when it is handed over. */
#ifndef LAMPWARDEN_SHEET_PARTS_H
#define LAMPWARDEN_SHEET_PARTS_H

#include "breaker.h"
#include "lead.h"
#include "power_parts.h"
#include "sheet_page.h"
#include "survey_parts.h"

#define SHEET_NAME    "sheet"
#define SHEET_MAPS    8
#define SHEET_MISSING 48

/* Of the command line; NULL: not said. */
struct sheet_words {
    const char *config, *space, *html, *map, *height, *date;
    const char *ppf, *area, *volts, *factor, *thd;
    const char *breaker, *inrush, *margin;
    const char *lead, *lead_current, *lead_mm2, *lead_awg;
    bool wants_text, wants_json;
};

struct sheet {
    const struct config *config;
    const struct config_space *space;
    char date[16];       /* of the hand-over; "": nobody said */
    int map_count, hung; /* hung: index into survey.sorted of the height it hangs at; −1: none */
    struct lightmap maps[SHEET_MAPS]; /* of all fixtures of the space together */
    struct survey survey;             /* maps, figures and spots only */
    bool has_power;
    char no_power[256]; /* why not */
    struct power_report power;
    bool has_breaker;
    struct breaker breaker;
    struct breaker_load load; /* one LED driver; running_a 0: not known */
    struct breaker_answer bears;
    bool has_lead;
    struct lead lead;
    struct lead_answer lost;
    int missing_count;
    char missing[SHEET_MISSING][192];
};

/* A fixture of the space, by its place there. */
static inline const struct config_fixture *sheet_fixture(const struct sheet *sheet, int i)
{
    return &sheet->config->fixtures[sheet->space->fixtures[i]];
}

static inline const struct fixture_rules *sheet_rules(const struct sheet *sheet, int i)
{
    return &sheet->space->rules.fixtures[i];
}

/* Without one, nothing costs anything: better say so. */
static inline bool sheet_has_price(const struct config_site *site)
{
    return !tariff_is_flat(&site->tariff) || site->tariff.price_per_kwh != 0;
}

/* Its watts at full light; 0: the curve has none. */
double sheet_full_w(const struct fixture_rules *rules);

/* Date, maps, power, breaker, lead and what is missing, for a sheet that knows its space. An enum
 * verb_exit; what is wrong was said. */
int sheet_gather(const struct sheet_words *words, char **maps, int map_count, struct sheet *sheet);

/* A sentence for everything that was not measured or is not known. */
void sheet_find_missing(struct sheet *sheet);

/* Sections of the sheet. */
void sheet_put_fixture(const struct sheet *sheet, struct sheet_page *page, int i);
void sheet_put_light(const struct sheet *sheet, struct sheet_page *page);
void sheet_put_power(const struct sheet *sheet, struct sheet_page *page);
void sheet_put_mains(const struct sheet *sheet, struct sheet_page *page);

/* All of it. */
int sheet_write(FILE *out, const struct sheet *sheet, bool is_html, struct err *err);
void sheet_json(const struct sheet *sheet);

#endif
