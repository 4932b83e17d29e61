/* SPDX-License-Identifier: Apache-2.0 */
/* A survey for programs. */
#include "survey_parts.h"

#include "json_out.h"
#include "units.h"

static json_t *height_json(const struct lightmap *map, const struct mapstats *stats)
{
    json_t *object = json_object();
    json_out_set(object, "file", json_string(map->name));
    json_out_set(object, "height_cm", json_out_real(map->height_cm));
    json_out_set(object, "drive", json_out_real(map->drive));
    json_out_set(object, "level", json_out_real(map->level));
    json_out_set(object, "fixture_w", json_out_real(map->fixture_w));
    json_out_set(object, "count", json_integer((json_int_t)stats->count));
    json_out_set(object, "holes", json_integer(map->holes));
    json_out_set(object, "repeated", json_integer(map->repeated));
    json_out_set(object, "mean_umol", json_out_real(stats->mean_umol));
    json_out_set(object, "mean_se_umol", json_out_real(stats->mean_se_umol));
    json_out_set(object, "area_mean_umol", json_out_real(stats->area_mean_umol));
    json_out_set(object, "min_umol", json_out_real(stats->min_umol));
    json_out_set(object, "max_umol", json_out_real(stats->max_umol));
    json_out_set(object, "min_over_max", json_out_real(stats->min_over_max));
    json_out_set(object, "min_over_mean", json_out_real(stats->min_over_mean));
    json_out_set(object, "cv_population", json_out_real(stats->cv_population));
    json_out_set(object, "cv_sample", json_out_real(stats->cv_sample));
    json_out_set(object, "within_10pct", json_out_real(stats->within_10));
    json_out_set(object, "within_20pct", json_out_real(stats->within_20));
    json_out_set(object, "photons_umol_s", json_out_real(stats->photons_umol_s));
    json_out_set(object, "utilisation", json_out_real(stats->utilisation));
    json_out_set(object, "photons_per_j", json_out_real(stats->photons_per_j));
    json_out_set(object, "edge_over_centre", json_out_real(stats->edge_over_centre));
    json_out_set(object, "across", json_out_real(stats->across));
    json_out_set(object, "along", json_out_real(stats->along));
    return object;
}

static json_t *offer_json(const struct height_offer *offer)
{
    return json_pack(
        "{s:o,s:b,s:o,s:o,s:o,s:o,s:o,s:s}", "height_cm", json_out_real(offer->height_cm),
        "interpolated", (int)offer->is_interpolated, "level", json_out_real(offer->level), "mol",
        json_out_real(offer->mol), "watts", json_out_real(offer->watts), "brightest_umol",
        json_out_real(offer->brightest_umol), "min_over_mean",
        json_out_real(offer->stats.min_over_mean), "verdict", survey_verdict(offer->verdict));
}

static json_t *chosen_json(const struct survey *survey)
{
    char why[320];
    survey_why(survey, why, sizeof why);
    if (survey->choice.chosen < 0) {
        return json_pack("{s:n,s:n,s:n,s:s}", "height", "height_cm", "level", "why", why);
    }
    const struct height_offer *offer = &survey->choice.offers[survey->choice.chosen];
    return json_pack("{s:o,s:o,s:o,s:o,s:b,s:s}", "height", json_out_real(offer->height_cm),
                     "height_cm", json_out_real(offer->height_cm), "level",
                     json_out_real(offer->level), "watts", json_out_real(offer->watts),
                     "interpolated", (int)offer->is_interpolated, "why", why);
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
    json_t *fall = json_pack("{s:i,s:o,s:o,s:o}", "count", survey->fall.count, "exponent",
                             json_out_real(survey->fall.exponent), "exponent_se",
                             json_out_real(survey->fall.exponent_se), "at_one_m_umol",
                             json_out_real(survey->fall.at_one_m_umol));
    json_t *wish =
        json_pack("{s:f,s:f,s:o,s:f,s:f,s:f,s:s?}", "target_mol", survey->wish.target_mol, "hours",
                  survey->wish.lit_h, "ceiling_umol", json_out_real(survey->wish.ceiling_umol),
                  "min_over_mean", survey->wish.min_over_mean, "lowest_level",
                  height_lowest_level(&survey->wish), "highest_level",
                  height_highest_level(&survey->wish), "curve_of", survey->lamp_name);
    return json_pack("{s:s,s:o,s:o,s:o,s:o,s:o,s:o}", "fixture", survey->fixture, "heights",
                     heights, "fall", fall, "wish", wish, "offers", offers, "chosen",
                     chosen_json(survey), "sensor_spots", spots);
}

static json_t *row_object(const struct survey *survey, const struct sidebyside_row *row)
{
    return json_pack("{s:s,s:o,s:o,s:o,s:o,s:o,s:o,s:o,s:b}", "fixture", survey->fixture,
                     "height_cm", json_out_real(row->offer ? row->offer->height_cm : UNITS_NONE),
                     "level", json_out_real(row->offer ? row->offer->level : UNITS_NONE), "watts",
                     json_out_real(row->watts), "photons_per_j", json_out_real(row->photons_per_j),
                     "kwh_per_day", json_out_real(row->kwh_per_day), "cost_per_year",
                     json_out_real(row->cost_per_year), "more_per_year",
                     json_out_real(row->more_per_year), "within_error", (int)row->is_within_error);
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
    json_out_print(object);
}
