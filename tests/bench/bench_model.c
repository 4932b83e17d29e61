/* SPDX-License-Identifier: Apache-2.0 */
/* Steps of 1 s of the simulated room in CPU time, with one and with sixteen fixtures. */
#include "bench_model.h"

#include "cpu.h"

#include <stdio.h>

/* Steps per second of CPU time; the sum of readings keeps the work from being optimised away. */
static double measure(const char *layout, int fixtures, double *sum)
{
    static struct bench_setup setup;
    bench_setup_defaults(&setup);
    if (bench_setup_layout(&setup, layout, 420, 300, NULL) < 0) {
        return 0;
    }
    struct bench_model *model = bench_model_create(&setup);
    if (!model) {
        return 0;
    }
    const int steps = 86400 * 16 / fixtures;
    double before = cpu_s();
    for (int i = 0; i < steps; i++) {
        for (int fixture = 0; fixture < fixtures; fixture++) {
            bench_model_set_drive(model, fixture, 0.3 + 0.0001 * (i % 5000));
            bench_model_set_switch(model, fixture, i % 43200 > 600);
        }
        bench_model_step(model, 1);
        double reading = 0;
        (void)bench_model_ppfd(model, 0, &reading);
        *sum += reading;
    }
    double spent = cpu_s() - before;
    bench_model_destroy(model);
    return spent > 0 ? steps / spent : 0;
}

int main(void)
{
    double sum = 0;
    double one = measure("1", 1, &sum), many = measure("4,4,4,4", 16, &sum);
    if (!(one > 0 && many > 0 && sum > 0)) {
        return 1;
    }
    (void)printf("model.steps_per_s_1_fixture %.0f 1/s\n", one);
    (void)printf("model.steps_per_s_16_fixtures %.0f 1/s\n", many);
    (void)printf("model.us_per_fixture_step %.3f us\n", 1e6 / many / 16);
    return 0;
}
