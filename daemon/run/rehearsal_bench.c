/* SPDX-License-Identifier: Apache-2.0 */
#include "rehearsal_bench.h"

#include "bench_faults.h"
#include "err.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>

static void setup_fixture(struct bench_fixture_setup *setup, const struct fixture_rules *rules,
                          int canopy)
{
    const struct dimcurve *curve = &rules->curve;
    /* The heatsink is scaled to the watts: where nobody says them, to one. */
    bench_fixture_defaults(setup, rules->full_umol, fmax(dimcurve_watts(curve, 1), 1));
    setup->canopy = canopy;
    setup->point_count = curve->count;
    for (int i = 0; i < curve->count; i++) {
        setup->drive[i] = curve->points[i].drive;
        setup->level[i] = curve->points[i].level;
        setup->watts[i] = curve->points[i].watts;
    }
}

static void setup_bench(struct bench_setup *setup, const struct config *config, uint64_t seed)
{
    bench_setup_defaults(setup);
    setup->seed = seed;
    setup->canopy_count = config->space_count;
    setup->fixture_count = config->fixture_count;
    for (int i = 0; i < config->fixture_count; i++) {
        bench_fixture_defaults(&setup->fixtures[i], 1, 1); /* one that no space uses stays dark */
    }
    for (int s = 0; s < config->space_count; s++) {
        const struct config_space *space = &config->spaces[s];
        for (int i = 0; i < space->rules.fixture_count; i++) {
            setup_fixture(&setup->fixtures[space->fixtures[i]], &space->rules.fixtures[i], s);
        }
    }
}

int rehearsal_bench(const struct config *config, const struct rehearsal_options *options,
                    struct bench_model **ret, struct err *err)
{
    if (config->fixture_count > BENCH_FIXTURES_MAX || config->space_count > BENCH_CANOPIES_MAX) {
        return err_fail(
            err, E2BIG, "%d fixtures and %d spaces: a rehearsal holds at most %d and %d",
            config->fixture_count, config->space_count, BENCH_FIXTURES_MAX, BENCH_CANOPIES_MAX);
    }
    struct bench_setup *setup = calloc(1, sizeof *setup);
    if (!setup) {
        return err_fail(err, ENOMEM, "no memory for the bench");
    }
    setup_bench(setup, config, options->seed);
    struct bench_model *model = bench_model_create(setup);
    free(setup);
    if (!model) {
        return err_fail(err, ENOMEM, "no memory for the bench");
    }
    int rc = options->faults_path ? bench_faults_load(model, options->faults_path, err) : 0;
    if (rc < 0) {
        bench_model_destroy(model);
        return rc;
    }
    *ret = model;
    return 0;
}
