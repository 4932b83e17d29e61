/* SPDX-License-Identifier: Apache-2.0 */
/* A survey for people. */
#include "survey_parts.h"

#include "mains.h"
#include "units.h"
#include "wrap.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define ASKEW        0.05 /* of the mean, from wall to wall: worth a word */
#define WATTS_DIFFER 0.05 /* of a map's from the curve's: worth a word too */

const char *survey_verdict(enum height_verdict verdict)
{
    static const char *const words[] = {
        [HEIGHT_FITS] = "fits",
        [HEIGHT_TOO_WEAK] = "too weak",
        [HEIGHT_TOO_BRIGHT] = "too bright somewhere",
        [HEIGHT_TOO_UNEVEN] = "too uneven",
    };
    return words[verdict];
}

/* What stood against the lower heights, nearest first; NULL: nothing lower was measured. */
static const struct height_offer *next_below(const struct survey *survey)
{
    const int next = survey->choice.chosen + 1;
    return next < survey->choice.count ? &survey->choice.offers[next] : NULL;
}

static void why_none(const struct survey *survey, char *buffer, unsigned size)
{
    int counts[4] = {0};
    for (int i = 0; i < survey->choice.count; i++) {
        counts[survey->choice.offers[i].verdict]++;
    }
    size_t used = (size_t)snprintf(
        buffer, size, "no height gives %g mol in %g h within the limits:", survey->wish.target_mol,
        survey->wish.lit_h);
    const char *between = " ";
    for (int verdict = HEIGHT_TOO_WEAK; verdict <= HEIGHT_TOO_UNEVEN; verdict++) {
        if (counts[verdict] > 0) {
            used += (size_t)snprintf(buffer + used, size - used, "%s%d %s", between,
                                     counts[verdict], survey_verdict((enum height_verdict)verdict));
            between = ", ";
        }
    }
    const double highest = height_highest_level(&survey->wish);
    if (highest < 1) {
        (void)snprintf(buffer + used, size - used, " (the fixture may run at %.0f %%)",
                       100 * highest);
    }
}

/* "118 W by its dimming curve", or nothing. */
static void say_watts(const struct survey *survey, double watts, char *buffer, unsigned size)
{
    buffer[0] = '\0';
    if (units_known(watts)) {
        (void)snprintf(buffer, size, ", %.0f W %s", watts,
                       survey->lamp_name && survey->lamp.has_watts ? "by its dimming curve"
                                                                   : "in proportion to light");
    }
}

void survey_why(const struct survey *survey, char *buffer, unsigned size)
{
    if (survey->choice.chosen < 0) {
        why_none(survey, buffer, size);
        return;
    }
    const struct height_wish *wish = &survey->wish;
    const struct height_offer *offer = &survey->choice.offers[survey->choice.chosen];
    const struct height_offer *below = next_below(survey);
    const bool is_lowest = survey->lamp_name && offer->mol > wish->target_mol * (1 + 1e-9);
    char watts[64];
    char lowest[80] = "";
    say_watts(survey, offer->watts, watts, sizeof watts);
    if (is_lowest) {
        (void)snprintf(lowest, sizeof lowest, " (%.3g mol: it holds no less light steadily)",
                       offer->mol);
    }
    (void)snprintf(buffer, size,
                   "%g cm%s needs %.0f %% of full light%s for %g mol%s in %g h, the least of the "
                   "heights that fit; ",
                   offer->height_cm, offer->is_interpolated ? " (interpolated)" : "",
                   100 * offer->level, watts, wish->target_mol, lowest, wish->lit_h);
    const size_t used = strlen(buffer);
    if (!below) {
        (void)snprintf(buffer + used, size - used, "nothing lower was measured");
    } else {
        (void)snprintf(buffer + used, size - used, "next lower, %g cm, is %s", below->height_cm,
                       below->verdict == HEIGHT_FITS ? "no cheaper"
                                                     : survey_verdict(below->verdict));
    }
}

/* --- for people ------------------------------------------------------------------------------- */

static void print_share(FILE *out, double share)
{
    if (units_known(share)) {
        (void)fprintf(out, " %6.2f", share);
    } else {
        (void)fprintf(out, "      -");
    }
}

/* Never "-0.0". */
static double percent(double share)
{
    return fabs(share) < 0.0005 ? 0 : 100 * share;
}

static void print_light(FILE *out, const struct survey *survey)
{
    (void)fputs("Measured, PPFD in µmol m⁻² s⁻¹:\n"
                "  height  points   mean ± s.e.   canopy    min    max  photons  of PPF  µmol/J\n"
                "      cm                           mean                 µmol/s\n",
                out);
    for (int i = 0; i < survey->count; i++) {
        const struct mapstats *stats = &survey->stats[i];
        (void)fprintf(out, "  %6g  %6zu %6.1f ± %4.1f  %7.1f %6.1f %6.1f  %7.1f ",
                      survey->sorted[i]->height_cm, stats->count, stats->mean_umol,
                      stats->mean_se_umol, stats->area_mean_umol, stats->min_umol, stats->max_umol,
                      stats->photons_umol_s);
        print_share(out, stats->utilisation);
        (void)fputc(' ', out);
        print_share(out, stats->photons_per_j);
        (void)fputc('\n', out);
    }
    (void)fputs("  (s.e. by n − 1; canopy mean: points at the walls stand for less; photons: those "
                "that land on the canopy, their share of all that leave the fixture, and for a "
                "joule)\n",
                out);
}

static void print_evenness(FILE *out, const struct survey *survey)
{
    (void)fputs("\n  height  min/mean  min/max    CV  ±10 %  ±20 %  edge/centre  to right to back\n"
                "      cm                         %      %      %                      %       %\n",
                out);
    for (int i = 0; i < survey->count; i++) {
        const struct mapstats *stats = &survey->stats[i];
        (void)fprintf(out, "  %6g  %8.3f  %7.3f %5.1f  %5.0f  %5.0f  %11.2f  %+8.1f %+7.1f\n",
                      survey->sorted[i]->height_cm, stats->min_over_mean, stats->min_over_max,
                      100 * stats->cv_sample, 100 * stats->within_10, 100 * stats->within_20,
                      stats->edge_over_centre, percent(stats->across), percent(stats->along));
    }
    (void)fputs("  (CV by n − 1; ±10 %: points so near the mean; to right, to back: what the light "
                "gains from wall to wall)\n",
                out);
    for (int i = 0; i < survey->count; i++) {
        const struct mapstats *stats = &survey->stats[i];
        if (fabs(stats->across) > ASKEW || fabs(stats->along) > ASKEW) {
            (void)fprintf(out, "  At %g cm: does the fixture hang askew?\n",
                          survey->sorted[i]->height_cm);
        }
    }
}

static void print_fall(FILE *out, const struct survey *survey)
{
    const struct height_fall *fall = &survey->fall;
    if (!units_known(fall->exponent)) {
        return;
    }
    (void)fprintf(out, "\nThe mean falls with height to the power of −%.2f", fall->exponent);
    if (units_known(fall->exponent_se)) {
        (void)fprintf(out, " ± %.2f", fall->exponent_se);
    }
    (void)fputs(" between the measured heights; beyond them nothing is said.\n", out);
}

/* What rules level and power; and a map whose own watts are far from it. */
static void print_lamp(FILE *out, const struct survey *survey)
{
    if (!survey->lamp_name || !survey->lamp.has_watts) {
        (void)fputs(
            "Power is taken in proportion to light; the fixture's own dimming curve says it "
            "better (--record, --config).\n",
            out);
    }
    if (survey->lamp_name) {
        (void)fprintf(
            out,
            "By the curve of %s it holds %.1f %% of full light and more; its drive ceiling "
            "of %.2f leaves %.1f %%.\n",
            survey->lamp_name, 100 * height_lowest_level(&survey->wish), survey->lamp.drive_ceiling,
            100 * dimcurve_level(&survey->lamp.curve, survey->lamp.drive_ceiling));
    }
    for (int i = 0; i < survey->count; i++) {
        const struct lightmap *map = survey->sorted[i];
        const double watts = survey_lamp_watts(survey, map->level);
        if (fabs(map->fixture_w / watts - 1) > WATTS_DIFFER) {
            (void)fprintf(
                out,
                "%s says %g W, the curve %.0f W at that level: is it this lamp's, and the "
                "same meter?\n",
                map->name, map->fixture_w, watts);
        }
    }
}

static void print_offers(FILE *out, const struct survey *survey)
{
    const struct height_wish *wish = &survey->wish;
    (void)fprintf(out, "\nFor %g mol in %g h%s", wish->target_mol, wish->lit_h,
                  survey->wish_is_usual ? " (nothing else was said: --target, --hours)" : "");
    if (isfinite(wish->ceiling_umol)) {
        (void)fprintf(out, ", at most %g µmol m⁻² s⁻¹ anywhere", wish->ceiling_umol);
    }
    if (wish->min_over_mean > 0) {
        (void)fprintf(out, ", minimum over mean %g at least", wish->min_over_mean);
    }
    (void)fputs(":\n  height  level    watts  brightest  min/mean\n", out);
    for (int i = 0; i < survey->choice.count; i++) {
        const struct height_offer *offer = &survey->choice.offers[i];
        (void)fprintf(out, "%s %6g  %4.0f %%", i == survey->choice.chosen ? "→" : " ",
                      offer->height_cm, 100 * offer->level);
        if (units_known(offer->watts)) {
            (void)fprintf(out, "  %7.1f", offer->watts);
        } else {
            (void)fprintf(out, "        -");
        }
        (void)fprintf(out, "  %9.0f    %6.3f  %s%s\n", offer->brightest_umol,
                      offer->stats.min_over_mean, survey_verdict(offer->verdict),
                      offer->is_interpolated ? ", interpolated" : "");
    }
    char why[320];
    survey_why(survey, why, sizeof why);
    (void)fprintf(out, "Choice: %s.\n", why);
    if (survey->choice.chosen >= 0 && wish->min_over_mean <= 0) {
        const struct height_offer *offer = &survey->choice.offers[survey->choice.chosen];
        (void)fprintf(
            out,
            "How even it has to be was not said (--evenness): minimum over mean is %.2f there.\n",
            offer->stats.min_over_mean);
    }
    print_lamp(out, survey);
}

static void print_spots(FILE *out, const struct survey *survey)
{
    if (survey->spot_count == 0) {
        (void)fputs("\nThe maps have no point in common: no spot for a sensor can be compared.\n",
                    out);
        return;
    }
    (void)fputs("\nBest spots for one light sensor (canopy_factor: canopy mean over reading):\n",
                out);
    (void)fputs("    x cm    y cm  factor  ± over maps  for a slip of 5 cm\n", out);
    for (int i = 0; i < survey->spot_count; i++) {
        const struct spot *spot = &survey->spots[i];
        (void)fprintf(out, "  %6g  %6g  %6.3f       %6.3f             %5.1f %%\n", spot->x_cm,
                      spot->y_cm, spot->factor, spot->factor_spread, 100 * spot->slip);
    }
}

static void print_care(FILE *out, const struct survey *survey)
{
    for (int i = 0; i < survey->count; i++) {
        const struct lightmap *map = survey->sorted[i];
        if (map->holes > 0) {
            (void)fprintf(out,
                          "\n%s: %d of %d points missing; their part of the canopy goes to the "
                          "points around them.\n",
                          map->name, map->holes, map->columns * map->rows);
        }
        if (map->repeated > 0) {
            (void)fprintf(out, "\n%s: %d point%s measured more than once; their mean counts.\n",
                          map->name, map->repeated, map->repeated == 1 ? " was" : "s were");
        }
    }
}

static void text_one(FILE *out, const struct survey *survey)
{
    if (survey->fixture[0]) {
        (void)fprintf(out, "%s\n", survey->fixture);
    }
    print_light(out, survey);
    print_evenness(out, survey);
    print_care(out, survey);
    print_fall(out, survey);
    print_offers(out, survey);
    print_spots(out, survey);
}

static void print_number(FILE *out, double value, int decimals)
{
    if (isfinite(value)) {
        (void)fprintf(out, " %6.*f", decimals, value);
    } else {
        (void)fprintf(out, " %6s", "-");
    }
}

static void print_row(FILE *out, const struct survey *survey, const struct sidebyside_row *row,
                      bool is_cheapest)
{
    (void)fprintf(out, "  %-14s", survey->fixture[0] ? survey->fixture : "(no name)");
    print_number(out, row->offer ? row->offer->height_cm : UNITS_NONE, 0);
    print_number(out, row->offer ? 100 * row->offer->level : UNITS_NONE, 0);
    print_number(out, row->watts, 1);
    print_number(out, mains_btu_per_h(row->watts), 0);
    print_number(out, row->photons_per_j, 2);
    print_number(out, row->kwh_per_day, 2);
    print_number(out, row->more_per_year, 2);
    (void)fprintf(out, "%s\n",
                  is_cheapest            ? "  least power"
                  : row->is_within_error ? "  within error"
                  : row->offer           ? ""
                                         : "  none fits");
}

static void print_sidebyside(FILE *out, const struct surveys *surveys)
{
    (void)fprintf(out,
                  "Side by side, each at its own height, for the same light:\n"
                  "  %-14s%7s%7s%7s%7s%7s%8s%7s\n",
                  "fixture", "cm", "level %", "W", "BTU/h", "µmol/J", "kWh/day", "more/yr");
    for (int i = 0; i < surveys->fixture_count; i++) {
        print_row(out, &surveys->fixtures[i], &surveys->rows[i], i == surveys->cheapest);
    }
    (void)fprintf(out,
                  "All of the watts end as heat in the room. Two sensors' or two colours' error is "
                  "taken as %g %%.\n",
                  100 * surveys->terms.sensor_error);
    if (units_known(surveys->terms.price_per_kwh)) {
        (void)fprintf(out, "more/yr: what it costs more in 365 such days, at %g per kWh.\n",
                      surveys->terms.price_per_kwh);
    } else {
        (void)fputs("--price says what the dearer one costs more in a year.\n", out);
    }
}

void survey_text(const struct surveys *surveys)
{
    struct wrap wrap;
    FILE *out = wrap_begin(&wrap, stdout);
    for (int i = 0; i < surveys->fixture_count; i++) {
        text_one(out, &surveys->fixtures[i]);
        if (surveys->fixture_count > 1) {
            (void)fputc('\n', out);
        }
    }
    if (surveys->fixture_count > 1) {
        print_sidebyside(out, surveys);
    }
    wrap_end(&wrap, 2);
}
