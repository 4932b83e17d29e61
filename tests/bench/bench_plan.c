/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Writes what a rehearsal of a year needs, into a folder: for every site its daylight
 * (SITE.csv) and for every tariff and begin of the light day a configuration of one invented bench
 * under one lamp, 300 µmol m⁻² s⁻¹ on one square metre (SITE.TARIFF.BEGIN.conf), and the cheapest
 * that each light day could have cost, found apart from the daemon, with what the last mol of it
 * costs (….bounds, one line a day: COUNTS NEEDS FEASIBLE COST COST_PER_MOL). On stdout one line
 * each: NAME FIRST_DATE DAYS DAYLIGHT_OR_-.
 */
#include "plan_year.h"

#include "err.h"
#include "parse.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#define INDOOR_DAY  19723 /* 2024-01-01, as in plan_year.c */
#define INDOOR_DAYS 366
#define DAYS_MOST   3700

struct target {
    const char *folder;
    const struct plan_site *site; /* NULL: indoors */
    int64_t first_day;
    int days, offset_min;
};

static FILE *create(const char *folder, const char *name, const char *end)
{
    char path[4096];
    (void)snprintf(path, sizeof path, "%s/%s%s", folder, name, end);
    FILE *file = fopen(path, "we");
    if (!file) {
        (void)fprintf(stderr, "%s: cannot be written\n", path);
        exit(1);
    }
    return file;
}

static void put_daylight(const struct target *target, double transmission)
{
    FILE *file = create(target->folder, target->site->name, ".csv");
    (void)fputs("time,ppfd_umol\n", file);
    double before = -1;
    for (int m = 0; m < target->days * PLAN_DAY_MIN; m++) {
        const double umol =
            round(1e3 * transmission * PLAN_UMOL_PER_J * target->site->ghi[m]) / 1e3;
        if (umol == before) {
            continue;
        }
        before = umol;
        char time[32];
        parse_format_datetime((target->first_day * PLAN_DAY_MIN + m - target->offset_min) * 60,
                              target->offset_min * 60, time, sizeof time);
        (void)fprintf(file, "%s,%.3f\n", time, umol);
    }
    (void)fclose(file);
}

static void put_prices(const struct target *target, FILE *config, const char *name,
                       enum plan_tariff tariff)
{
    if (tariff == PLAN_TARIFF_FLAT) {
        return;
    }
    if (tariff == PLAN_TARIFF_TOU) {
        (void)fputs("  tariff = { rules = (\n"
                    "    { from = \"22:00\"; to = \"06:00\"; price_per_kwh = 0.10; },\n"
                    "    { from = \"16:00\"; to = \"20:00\"; price_per_kwh = 0.28; }\n  ); };\n",
                    config);
        return;
    }
    (void)fprintf(config, "  tariff = { prices_file = \"%s.prices\"; };\n", name);
    FILE *file = create(target->folder, name, ".prices");
    (void)fputs("time,price_per_kwh\n", file);
    for (int hour = 0; hour < target->days * 24; hour++) {
        const int64_t local_min = target->first_day * PLAN_DAY_MIN + 60 * (int64_t)hour;
        char time[32];
        parse_format_datetime((local_min - target->offset_min) * 60, target->offset_min * 60, time,
                              sizeof time);
        (void)fprintf(file, "%s,%.4f\n", time, plan_tariff_price(tariff, local_min));
    }
    (void)fclose(file);
}

static void put_site(const struct target *target, FILE *config, const char *name,
                     enum plan_tariff tariff)
{
    const int offset = abs(target->offset_min);
    (void)fprintf(config, "# SPDX-License-Identifier: Apache-2.0\nsite = {\n");
    (void)fprintf(config, "  utc_offset = \"%c%02d:%02d\"; price_per_kwh = 0.16;\n",
                  target->offset_min < 0 ? '-' : '+', offset / 60, offset % 60);
    if (target->site) {
        (void)fprintf(config, "  latitude = %.4f; longitude = %.4f;\n", target->site->latitude,
                      target->site->longitude);
    }
    put_prices(target, config, name, tariff);
    (void)fputs("};\nbuses = ( { name = \"room\"; driver = \"bench\"; } );\n"
                "sensors = (\n"
                "  { name = \"par\"; bus = \"room\"; kind = \"ppfd\"; },\n"
                "  { name = \"heat\"; bus = \"room\"; kind = \"temperature\"; }\n);\n"
                "outputs = (\n"
                "  { name = \"dim\"; bus = \"room\"; kind = \"dim\"; },\n"
                "  { name = \"contact\"; bus = \"room\"; kind = \"switch\"; }\n);\n",
                config);
}

/* No heat holds it back: the bound knows of none. */
static void put_lamp(const struct plan_case *plan_case, FILE *config)
{
    const struct year_lamp *lamp = &plan_case->lamp;
    (void)fprintf(config,
                  "fixtures = ( {\n  name = \"lamp\"; dim = \"dim\"; switch = \"contact\"; "
                  "ppfd_full = %.1f; heat_sensors = [ \"heat\" ];\n"
                  "  heat = { foldback_from_c = 80.0; foldback_to_c = 92.0; trip_c = 100.0; };\n"
                  "  switching = { min_on_s = %d.0; min_off_s = %d.0; };\n  curve = (\n"
                  "    { drive = 0.0; level = 0.0; watts = 0.0; }",
                  lamp->full_umol, 60 * plan_case->min_on_min, 60 * plan_case->min_off_min);
    for (int i = 2; i <= 20; i++) {
        (void)fprintf(config, ",\n    { drive = %.3f; level = %.3f; watts = %.4f; }", i / 20.0,
                      i / 20.0, year_lamp_w(lamp, i / 20.0));
    }
    (void)fputs("\n  );\n} );\n", config);
}

static void put_space(const struct target *target, const struct plan_case *plan_case, FILE *config)
{
    char date[16];
    parse_format_date(target->first_day, date, sizeof date);
    (void)fprintf(config,
                  "stages = ( {\n  name = \"growing\"; days = 0; lights_on = \"%02d:00\"; "
                  "day_length_h = %.1f;\n  target_mol = %.1f; ceiling_umol = %.1f; "
                  "dawn_min = %d.0; dusk_min = %d.0; ramp = \"linear\";\n} );\n",
                  plan_case->window_begin_min / 60,
                  (plan_case->window_end_min - plan_case->window_begin_min) / 60.0,
                  plan_case->target_mol, plan_case->ceiling_umol, plan_case->ramp_min,
                  plan_case->ramp_min);
    (void)fprintf(config,
                  "spaces = ( {\n  name = \"bench\"; fixtures = [ \"lamp\" ]; "
                  "ppfd_sensors = [ \"par\" ]; stages = [ \"growing\" ];\n  start = \"%s\"; "
                  "sees_daylight = %s; light_day_start = \"%02d:00\"; aim_margin = 0.0;\n"
                  "  rise_percent_per_min = %.1f; fall_percent_per_min = %.1f;\n} );\n",
                  date, target->site ? "true" : "false", plan_case->begin_min / 60,
                  100 * plan_case->slew, 100 * plan_case->slew);
}

/* The rehearsed lamp loses 0.1 % of its light per kelvin above 25 °C and is about 37 K warmer than
 * a room of 20 °C at full level: light(u) = u (1 − 0.001 (37 u − 5)). As one lamp of the usual
 * form, exact at level 0.5 and 1; without it the bound would be that of a lamp that stays cold. One
 * level indoors all day, the optimum at a flat price, comes to 1.0004 by it. */
static const struct year_lamp warm_lamp = {290.4, 2.42, 0.02, 0.7923, 0.1877, 0.1};

/* Returns how many light days there are. */
static int put_bounds(const struct target *target, const struct plan_case *plan_case,
                      const char *name)
{
    static struct plan_day_bound bounds[DAYS_MOST];
    struct plan_case warm = *plan_case;
    warm.lamp = warm_lamp;
    const int days = plan_year_bounds(target->site, &warm, bounds, DAYS_MOST);
    FILE *file = create(target->folder, name, ".bounds");
    for (int i = 0; i < days; i++) {
        (void)fprintf(file, "%d %d %d %.9f %.9f\n", bounds[i].counts, bounds[i].needs,
                      bounds[i].bound.is_feasible, bounds[i].bound.cost, bounds[i].bound.value);
    }
    (void)fclose(file);
    return days;
}

static void put_all(const struct target *target)
{
    struct plan_case plan_case = plan_case_usual();
    const char *site = target->site ? target->site->name : "indoor";
    if (target->site) {
        put_daylight(target, plan_case.transmission);
    }
    char date[16];
    parse_format_date(target->first_day, date, sizeof date);
    for (enum plan_tariff tariff = 0; tariff < PLAN_TARIFFS; tariff++) {
        for (int hour = 0; hour <= 6; hour += 6) {
            char name[96];
            plan_case.begin_min = 60 * hour;
            plan_case.tariff = tariff;
            (void)snprintf(name, sizeof name, "%s.%s.%02d", site, plan_tariff_name(tariff), hour);
            FILE *config = create(target->folder, name, ".conf");
            put_site(target, config, name, tariff);
            put_lamp(&plan_case, config);
            put_space(target, &plan_case, config);
            (void)fclose(config);
            const int days = put_bounds(target, &plan_case, name);
            printf("%s %s %d %s%s\n", name, date, days, target->site ? site : "-",
                   target->site ? ".csv" : "");
        }
    }
}

int main(int argc, char **argv)
{
    struct err err;
    char data[4096];
    if (argc != 3) {
        (void)fputs("usage: bench_plan SOURCE FOLDER\n", stderr);
        return 2;
    }
    put_all(&(struct target){argv[2], NULL, INDOOR_DAY, INDOOR_DAYS, 0});
    if (plan_sites_folder(argv[1], data, sizeof data, &err) < 0) {
        (void)fprintf(stderr, "skipped: %s\n", err.text);
        return 0;
    }
    static struct plan_site sites[PLAN_SITES_MAX];
    const int count = plan_sites_read(data, sites, &err);
    for (int i = 0; i < count; i++) {
        put_all(&(struct target){argv[2], &sites[i], sites[i].first_day, sites[i].days,
                                 sites[i].offset_min});
        plan_site_free(&sites[i]);
    }
    return count < 0;
}
