/* SPDX-License-Identifier: Apache-2.0 */
/* Light over the canopy: height, evenness, the sensor and its place. */
#include "sheet_parts.h"

#include "units.h"

#include <string.h>

static int draw_maps(const void *context, const char *path, struct err *err)
{
    return survey_plot(context, path, err);
}

static void put_height(const struct sheet *sheet, struct sheet_page *page)
{
    if (sheet->hung < 0) {
        sheet_page_fact(page, "Hanging height", "%s",
                        sheet->map_count > 0 ? "not said (--height)" : "not measured");
        sheet_page_fact(page, "Evenness", "%s",
                        sheet->map_count > 0 ? "by height, below" : "not measured: no light map");
        return;
    }
    const struct lightmap *map = sheet->survey.sorted[sheet->hung];
    const struct mapstats *stats = &sheet->survey.stats[sheet->hung];
    sheet_page_fact(page, "Hanging height", "%g cm above the canopy", map->height_cm);
    sheet_page_fact(page, "Canopy", "%g x %g cm", map->width_cm, map->depth_cm);
    sheet_page_fact(page, "Canopy mean", "%.0f µmol m⁻² s⁻¹ at full light (%zu points, ± %.1f)",
                    stats->area_mean_umol / map->level, stats->count,
                    stats->mean_se_umol / map->level);
    sheet_page_fact(page, "Evenness",
                    "minimum over mean %.2f, minimum over maximum %.2f, CV %.1f %%; %.0f %% of the "
                    "canopy within ± 10 %%",
                    stats->min_over_mean, stats->min_over_max, 100 * stats->cv_sample,
                    100 * stats->within_10);
    if (units_known(stats->utilisation)) {
        sheet_page_fact(page, "Photons on the canopy",
                        "%.0f µmol/s at full light, %.0f %% of those that leave the fixtures",
                        stats->photons_umol_s / map->level, 100 * stats->utilisation);
    } else {
        sheet_page_fact(page, "Photons on the canopy", "%.0f µmol/s at full light",
                        stats->photons_umol_s / map->level);
    }
}

static void put_sensor(const struct sheet *sheet, struct sheet_page *page)
{
    const struct config_space *space = sheet->space;
    char names[256] = "";
    for (int i = 0; i < space->ppfd_sensor_count; i++) {
        const size_t used = strlen(names);
        (void)snprintf(names + used, sizeof names - used, "%s%s", i > 0 ? ", " : "",
                       sheet->config->sensors[space->ppfd_sensors[i]].name);
    }
    sheet_page_fact(page, "Light sensors", "%s",
                    names[0] ? names : "none: light by the dimming curves alone");
    if (names[0]) {
        sheet_page_fact(page, "Canopy factor", "%.3g (canopy mean over reading), as configured%s",
                        space->canopy_factor,
                        sheet->map_count > 0 ? "" : "; not measured by a map");
        sheet_page_fact(page, "Sensor gain",
                        "as configured; what was accepted since is the daemon's: lampwarden gain "
                        "%s",
                        space->name);
    }
    sheet_page_fact(page, "Daylight", "%s",
                    space->rules.sees_daylight ? "the sensors see it too" : "none");
}

/* All at full light, so that heights and levels compare. */
static void put_maps(const struct sheet *sheet, struct sheet_page *page)
{
    static const char *const heads[] = {">height cm", ">points",   ">canopy mean", ">least",
                                        ">most",      ">min/mean", ">CV %",        ">in ±10 %"};
    if (sheet->map_count == 0) {
        return;
    }
    sheet_page_table(page, "Light maps at full light, PPFD in µmol m⁻² s⁻¹", 8, heads);
    for (int i = 0; i < sheet->survey.count; i++) {
        const struct lightmap *map = sheet->survey.sorted[i];
        const struct mapstats *stats = &sheet->survey.stats[i];
        char cells[8][16];
        (void)snprintf(cells[0], 16, "%g", map->height_cm);
        (void)snprintf(cells[1], 16, "%zu", stats->count);
        (void)snprintf(cells[2], 16, "%.1f", stats->area_mean_umol / map->level);
        (void)snprintf(cells[3], 16, "%.1f", stats->min_umol / map->level);
        (void)snprintf(cells[4], 16, "%.1f", stats->max_umol / map->level);
        (void)snprintf(cells[5], 16, "%.3f", stats->min_over_mean);
        (void)snprintf(cells[6], 16, "%.1f", 100 * stats->cv_sample);
        (void)snprintf(cells[7], 16, "%.0f", 100 * stats->within_10);
        sheet_page_row(page, (const char *const[]){cells[0], cells[1], cells[2], cells[3], cells[4],
                                                   cells[5], cells[6], cells[7]});
    }
    sheet_page_table_end(page);
}

static void put_spots(const struct sheet *sheet, struct sheet_page *page)
{
    static const char *const heads[] = {">x cm", ">y cm", ">canopy factor", ">± over maps",
                                        ">% for a slip of 5 cm"};
    if (sheet->survey.spot_count == 0) {
        return;
    }
    sheet_page_table(page, "Best spots for one light sensor", 5, heads);
    for (int i = 0; i < sheet->survey.spot_count; i++) {
        const struct spot *spot = &sheet->survey.spots[i];
        char cells[5][16];
        (void)snprintf(cells[0], 16, "%g", spot->x_cm);
        (void)snprintf(cells[1], 16, "%g", spot->y_cm);
        (void)snprintf(cells[2], 16, "%.3f", spot->factor);
        (void)snprintf(cells[3], 16, "%.3f", spot->factor_spread);
        (void)snprintf(cells[4], 16, "%.1f", 100 * spot->slip);
        sheet_page_row(page,
                       (const char *const[]){cells[0], cells[1], cells[2], cells[3], cells[4]});
    }
    sheet_page_table_end(page);
}

void sheet_put_light(const struct sheet *sheet, struct sheet_page *page)
{
    sheet_page_heading(page, "Light at the canopy");
    sheet_page_facts(page);
    sheet_page_fact(page, "Full light", "%.0f µmol m⁻² s⁻¹, sum of the fixtures' records",
                    space_configured_umol(&sheet->space->rules));
    put_height(sheet, page);
    put_sensor(sheet, page);
    sheet_page_facts_end(page);
    put_maps(sheet, page);
    put_spots(sheet, page);
    if (sheet->map_count > 0) {
        sheet_page_figure(page, "Maps of PPFD over the canopy, and light and evenness by height",
                          "PPFD as it was measured; brighter is more. Dots are the points read.",
                          draw_maps, &sheet->survey);
    }
}
