/* SPDX-License-Identifier: Apache-2.0 */
/* A survey for programs. */
#include "survey_parts.h"

#include "units.h"

#include <jansson.h>
#include <math.h>
#include <stdio.h>

static json_t *real(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static void set(json_t *object, const char *key, json_t *value)
{
    (void)json_object_set_new(object, key, value); /* fails only without memory */
}

static json_t *height_json(const struct lightmap *map, const struct mapstats *stats)
{
    json_t *object = json_object();
    set(object, "file", json_string(map->name));
    set(object, "height_cm", real(map->height_cm));
    set(object, "drive", real(map->drive));
    set(object, "level", real(map->level));
    set(object, "fixture_w", real(map->fixture_w));
    set(object, "count", json_integer((json_int_t)stats->count));
    set(object, "holes", json_integer(map->holes));
    set(object, "repeated", json_integer(map->repeated));
    set(object, "mean_umol", real(stats->mean_umol));
    set(object, "mean_se_umol", real(stats->mean_se_umol));
    set(object, "area_mean_umol", real(stats->area_mean_umol));
    set(object, "min_umol", real(stats->min_umol));
    set(object, "max_umol", real(stats->max_umol));
    set(object, "min_over_max", real(stats->min_over_max));
    set(object, "min_over_mean", real(stats->min_over_mean));
    set(object, "cv_population", real(stats->cv_population));
    set(object, "cv_sample", real(stats->cv_sample));
    set(object, "within_10pct", real(stats->within_10));
    set(object, "within_20pct", real(stats->within_20));
    set(object, "photons_umol_s", real(stats->photons_umol_s));
    set(object, "utilisation", real(stats->utilisation));
    set(object, "photons_per_j", real(stats->photons_per_j));
    set(object, "edge_over_centre", real(stats->edge_over_centre));
    set(object, "across", real(stats->across));
    set(object, "along", real(stats->along));
    return object;
}

static json_t *offer_json(const struct height_offer *offer)
{
    return json_pack("{s:o,s:b,s:o,s:o,s:o,s:o,s:s}", "height_cm", real(offer->height_cm),
                     "interpolated", (int)offer->is_interpolated, "level", real(offer->level),
                     "watts", real(offer->watts), "brightest_umol", real(offer->brightest_umol),
                     "min_over_mean", real(offer->stats.min_over_mean), "verdict",
                     survey_verdict(offer->verdict));
}

static json_t *chosen_json(const struct survey *survey)
{
    char why[320];
    survey_why(survey, why, sizeof why);
    if (survey->choice.chosen < 0) {
        return json_pack("{s:n,s:n,s:n,s:s}", "height", "height_cm", "level", "why", why);
    }
    const struct height_offer *offer = &survey->choice.offers[survey->choice.chosen];
    return json_pack("{s:o,s:o,s:o,s:o,s:b,s:s}", "height", real(offer->height_cm), "height_cm",
                     real(offer->height_cm), "level", real(offer->level), "watts",
                     real(offer->watts), "interpolated", (int)offer->is_interpolated, "why", why);
}

static json_t *survey_object(const struct survey *survey)
{
    json_t *heights = json_array();
    json_t *offers = json_array();
    json_t *spots = json_array();
    for (int i = 0; i < survey->count; i++) {
        (void)json_array_append_new(heights, height_json(survey->sorted[i], &survey->stats[i]));
    }
    for (int i = 0; i < survey->choice.count; i++) {
        (void)json_array_append_new(offers, offer_json(&survey->choice.offers[i]));
    }
    for (int i = 0; i < survey->spot_count; i++) {
        const struct spot *spot = &survey->spots[i];
        (void)json_array_append_new(spots,
                                    json_pack("{s:f,s:f,s:f,s:f,s:f}", "x_cm", spot->x_cm, "y_cm",
                                              spot->y_cm, "factor", spot->factor, "factor_spread",
                                              spot->factor_spread, "slip", spot->slip));
    }
    json_t *fall =
        json_pack("{s:i,s:o,s:o,s:o}", "count", survey->fall.count, "exponent",
                  real(survey->fall.exponent), "exponent_se", real(survey->fall.exponent_se),
                  "at_one_m_umol", real(survey->fall.at_one_m_umol));
    json_t *wish = json_pack(
        "{s:f,s:f,s:o,s:f,s:f}", "target_mol", survey->wish.target_mol, "hours", survey->wish.lit_h,
        "ceiling_umol", real(survey->wish.ceiling_umol), "min_over_mean",
        survey->wish.min_over_mean, "highest_level", survey->wish.highest_level);
    return json_pack("{s:s,s:o,s:o,s:o,s:o,s:o,s:o}", "fixture", survey->fixture, "heights",
                     heights, "fall", fall, "wish", wish, "offers", offers, "chosen",
                     chosen_json(survey), "sensor_spots", spots);
}

static json_t *row_object(const struct survey *survey, const struct sidebyside_row *row)
{
    return json_pack("{s:s,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:b}", "fixture", survey->fixture,
                     "height_cm", real(row->offer ? row->offer->height_cm : UNITS_NONE), "level",
                     real(row->offer ? row->offer->level : UNITS_NONE), "watts", real(row->watts),
                     "photons_per_j", real(row->photons_per_j), "kwh_per_day",
                     real(row->kwh_per_day), "cost_per_year", real(row->cost_per_year),
                     "more_per_year", real(row->more_per_year), "within_error",
                     (int)row->is_within_error);
}

/* One fixture: its survey. Several: {"fixtures": [survey, …], "side_by_side": [row, …]}. */
void survey_json(const struct surveys *surveys)
{
    json_t *object = NULL;
    if (surveys->fixture_count == 1) {
        object = survey_object(&surveys->fixtures[0]);
    } else {
        json_t *fixtures = json_array();
        json_t *rows = json_array();
        for (int i = 0; i < surveys->fixture_count; i++) {
            (void)json_array_append_new(fixtures, survey_object(&surveys->fixtures[i]));
            (void)json_array_append_new(rows, row_object(&surveys->fixtures[i], &surveys->rows[i]));
        }
        object = json_pack("{s:o,s:o}", "fixtures", fixtures, "side_by_side", rows);
    }
    (void)json_dumpf(object, stdout, JSON_COMPACT | JSON_REAL_PRECISION(9));
    (void)putchar('\n');
    json_decref(object);
}
