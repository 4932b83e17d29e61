/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The daemon's price of light, without the daemon, and the usual rules on every year of daylight,
 * tariff and begin of the light day: cost over the bound, missed days, lamp-made surplus and starts
 * a day.
 */
#include "plan_core.h"
#include "plan_rules.h"

#include "err.h"

#include <stdio.h>

static void print_result(const char *rule, const char *place, const struct plan_result *result)
{
    printf("plan.%s.ratio.%s %.4f -\n", rule, place, result->cost / result->bound);
    printf("plan.%s.missed.%s %d days\n", rule, place, result->missed);
    printf("plan.%s.surplus.%s %.1f mol\n", rule, place, result->surplus_mol);
    printf("plan.%s.starts.%s %.2f /day\n", rule, place, result->starts);
}

static void run_site(const struct plan_site *site)
{
    for (enum plan_tariff tariff = 0; tariff < PLAN_TARIFFS; tariff++) {
        for (int hour = 0; hour <= 6; hour += 6) {
            struct plan_case plan_case = plan_case_usual();
            plan_case.tariff = tariff;
            plan_case.begin_min = 60 * hour;
            char place[96];
            (void)snprintf(place, sizeof place, "%s.%s.%02d", site ? site->name : "indoor",
                           plan_tariff_name(tariff), hour);
            static struct plan_core core;
            const struct plan_rule plan = plan_core_rule(&plan_case, &core);
            const struct plan_result of_plan = plan_year_run(site, &plan_case, &plan);
            print_result(plan.name, place, &of_plan);
            for (enum plan_rule_kind kind = 0; kind < PLAN_RULES; kind++) {
                struct plan_rule_memory memory;
                const struct plan_rule rule = plan_rule_make(kind, &memory);
                const struct plan_result result = plan_year_run(site, &plan_case, &rule);
                print_result(rule.name, place, &result);
            }
        }
    }
}

int main(int argc, char **argv)
{
    struct err err;
    char folder[4096];
    run_site(NULL);
    if (argc != 2 || plan_sites_folder(argv[1], folder, sizeof folder, &err) < 0) {
        (void)fprintf(stderr, "skipped: %s\n",
                      argc == 2 ? err.text : "usage: bench_plan_rules SOURCE");
        return argc == 2 ? 0 : 2;
    }
    static struct plan_site sites[PLAN_SITES_MAX];
    const int count = plan_sites_read(folder, sites, &err);
    for (int i = 0; i < count; i++) {
        run_site(&sites[i]);
        plan_site_free(&sites[i]);
    }
    return count < 0;
}
