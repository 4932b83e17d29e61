/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A rig whose truth is known: a fixture of four small Lambertian plates that hangs askew by a known
 * angle, read with known noise, with cells left out and points read twice, over a hundred seeds.
 *
 * Bounds. What is estimated is a sum of readings, T = Σ c E. Noise of standard deviation s (as a
 * share of the reading, divided by √k where k readings were made one) gives it the variance
 * Σ c² s² E² / k; 4.5 standard deviations are passed once in 150,000 times (normal law). Cells left
 * out, never two side by side, hand their part to their neighbours in equal shares: what that does
 * to the sums is reckoned here for each seed, and has to be small itself.
 */
#include "height.h"

#include "err.h"
#include "near.h"
#include "prng.h"
#include "table.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { SEEDS = 100, COLUMNS = 13, ROWS = 9, CELLS = COLUMNS * ROWS, HEIGHTS = 5, DENSE = 48 };

#define WIDTH_CM  120.0
#define DEPTH_CM  80.0
#define NOISE     0.02
#define DEVIATION 4.5
#define PPF       700.0

struct rig {
    struct prng prng;
    double tilt_x, tilt_y; /* sines: to the right and to the back */
    bool is_hole[CELLS];
    int repeats[CELLS];
    int hole_count, repeat_count;
};

/* A plate of intensity I straight ahead gives I cos α cos β / r² (Lambert 1760): α from its own
 * axis, β from the canopy's. I is a π-th of its photons. */
static double light(const struct rig *rig, double height_cm, double x_cm, double y_cm)
{
    const double pi = acos(-1);
    const double h = height_cm / 100;
    const double down = sqrt(1 - rig->tilt_x * rig->tilt_x - rig->tilt_y * rig->tilt_y);
    double umol = 0;
    for (int i = 0; i < 4; i++) {
        const double x = (x_cm - WIDTH_CM / 2) / 100 - (i % 2 ? 0.25 : -0.25);
        const double y = (y_cm - DEPTH_CM / 2) / 100 - (i / 2 ? 0.15 : -0.15);
        const double square = x * x + y * y + h * h;
        const double ahead = x * rig->tilt_x + y * rig->tilt_y + h * down;
        umol += PPF / 4 / pi * ahead * h / (square * square);
    }
    return umol;
}

static double column_cm(int cell)
{
    return WIDTH_CM * (cell % COLUMNS) / (COLUMNS - 1);
}

static double row_cm(int cell)
{
    return DEPTH_CM * (int)(cell / COLUMNS) / (ROWS - 1);
}

static int neighbours(int cell, int ret[4])
{
    int count = 0;
    const int column = cell % COLUMNS;
    const int row = cell / COLUMNS;
    if (column > 0) {
        ret[count++] = cell - 1;
    }
    if (column < COLUMNS - 1) {
        ret[count++] = cell + 1;
    }
    if (row > 0) {
        ret[count++] = cell - COLUMNS;
    }
    if (row < ROWS - 1) {
        ret[count++] = cell + COLUMNS;
    }
    return count;
}

static double part_of(int cell)
{
    const int column = cell % COLUMNS;
    const int row = cell / COLUMNS;
    return (column == 0 || column == COLUMNS - 1 ? 0.5 : 1) *
           (row == 0 || row == ROWS - 1 ? 0.5 : 1);
}

static struct rig hang(uint64_t seed)
{
    struct rig rig = {.prng = {seed}};
    const double side = prng_int(&rig.prng, 0, 1) ? 1 : -1;
    rig.tilt_x = side * sin(prng_real(&rig.prng, 6, 12) * acos(-1) / 180);
    rig.tilt_y = sin(prng_real(&rig.prng, -12, 12) * acos(-1) / 180);
    for (int cell = 0; cell < CELLS; cell++) {
        int around[4];
        bool is_alone = true;
        const int count = neighbours(cell, around);
        for (int i = 0; i < count; i++) {
            is_alone = is_alone && !rig.is_hole[around[i]];
        }
        rig.is_hole[cell] = is_alone && prng_real(&rig.prng, 0, 1) < 0.1;
        rig.repeats[cell] = rig.is_hole[cell] ? 0 : prng_real(&rig.prng, 0, 1) < 0.1 ? 2 : 1;
        rig.hole_count += rig.is_hole[cell];
        rig.repeat_count += rig.repeats[cell] == 2;
    }
    return rig;
}

/* Even noise of that standard deviation. */
static double reading(struct rig *rig, double umol)
{
    const double most = NOISE * sqrt(3);
    return umol * (1 + prng_real(&rig->prng, -most, most));
}

static void parse(const char *notes, const char *rows, struct lightmap *ret)
{
    struct table table;
    struct err err;
    const size_t size = strlen(notes) + strlen(rows) + 64;
    char *text = malloc(size);
    assert_non_null(text);
    (void)snprintf(text, size, "%s\nx_cm,y_cm,ppfd_umol\n%s", notes, rows);
    if (table_parse("rig.csv", text, &table, &err) < 0 || lightmap_of(&table, ret, &err) < 0) {
        fail_msg("%s", err.text);
    }
    table_free(&table);
    free(text);
}

static void survey(struct rig *rig, double height_cm, struct lightmap *ret)
{
    char rows[CELLS * 2 * 48];
    char notes[96];
    char *p = rows;
    for (int cell = 0; cell < CELLS; cell++) {
        const double umol = light(rig, height_cm, column_cm(cell), row_cm(cell));
        for (int i = 0; i < rig->repeats[cell]; i++) {
            p += sprintf(p, "%.4f,%.4f,%.6f\n", column_cm(cell), row_cm(cell), reading(rig, umol));
        }
        if (rig->is_hole[cell]) {
            p += sprintf(p, "%.4f,%.4f,\n", column_cm(cell), row_cm(cell));
        }
    }
    (void)snprintf(notes, sizeof notes, "# height_cm: %g\n# ppf_umol_s: %g", height_cm, PPF);
    parse(notes, rows, ret);
}

/* Of the whole canopy, by the middles of many small parts. */
struct truth {
    double mean, across, along;
};

static struct truth truth_of(const struct rig *rig, double height_cm)
{
    double mean = 0, across = 0, along = 0, square = 0;
    for (int i = 0; i < DENSE * DENSE; i++) {
        const double x = (i % DENSE + 0.5) / DENSE - 0.5;
        const double y = ((int)(i / DENSE) + 0.5) / DENSE - 0.5;
        const double umol = light(rig, height_cm, (x + 0.5) * WIDTH_CM, (y + 0.5) * DEPTH_CM);
        mean += umol;
        across += x * umol;
        along += y * umol;
        square += x * x;
    }
    return (struct truth){mean / (DENSE * DENSE), across / square / (mean / (DENSE * DENSE)),
                          along / square / (mean / (DENSE * DENSE))};
}

/* What a survey without noise would say, and the standard deviation that noise adds. */
struct expected {
    double mean, mean_sd;         /* as a share of the true mean */
    double slope[2], slope_sd[2]; /* across, along */
};

/* A hole's part goes to its neighbours in equal shares: what a cell stands for then. */
static double held_by(const struct rig *rig, int cell)
{
    int around[4];
    double part = rig->is_hole[cell] ? 0 : part_of(cell);
    const int count = neighbours(cell, around);
    for (int i = 0; i < count && part > 0; i++) {
        int beyond[4];
        part += rig->is_hole[around[i]] ? part_of(around[i]) / neighbours(around[i], beyond) : 0;
    }
    return part;
}

static struct expected expect(const struct rig *rig, double height_cm, const struct truth *truth)
{
    struct expected ret = {.mean = 0};
    double area = 0;
    double dd[2] = {0, 0};
    for (int cell = 0; cell < CELLS; cell++) {
        const double e = light(rig, height_cm, column_cm(cell), row_cm(cell)) / truth->mean;
        const double d[2] = {column_cm(cell) / WIDTH_CM - 0.5, row_cm(cell) / DEPTH_CM - 0.5};
        const double rest = e - 1 - truth->across * d[0] - truth->along * d[1];
        const double c = held_by(rig, cell);
        const double noise = c * NOISE * e / sqrt(rig->repeats[cell] == 2 ? 2 : 1);
        area += part_of(cell);
        ret.mean += c * e;
        ret.mean_sd += noise * noise;
        for (int i = 0; i < 2; i++) {
            dd[i] += part_of(cell) * d[i] * d[i];
            ret.slope[i] += c * d[i] * rest; /* a plane is found whole, whatever is left out */
            ret.slope_sd[i] += d[i] * d[i] * noise * noise;
        }
    }
    ret.mean /= area;
    ret.mean_sd = sqrt(ret.mean_sd) / area;
    ret.slope[0] = truth->across + ret.slope[0] / dd[0];
    ret.slope[1] = truth->along + ret.slope[1] / dd[1];
    for (int i = 0; i < 2; i++) {
        ret.slope_sd[i] = sqrt(ret.slope_sd[i]) / dd[i];
    }
    return ret;
}

/* How far grid and holes alone may lead from the truth. The trapezoid rule misses step² / 12 of
 * the bend of the light: at 50 cm, where that changes by some E / h² over the canopy, 10² / 12 /
 * 50² · 2 = 0.7 % in both directions together; holes add a per cent. */
#define GRID_MEAN  0.02
#define GRID_SLOPE 0.025
#define SECOND     0.15 /* of a shift: holes change the sums that it is divided by, too */

/* How many standard deviations the means were off, over all maps. */
struct tally {
    int count;
    double sum, squares;
};

static void one_map(struct rig *rig, double height_cm, struct lightmap *ret, struct tally *tally)
{
    struct mapstats stats;
    const struct truth truth = truth_of(rig, height_cm);
    const struct expected expected = expect(rig, height_cm, &truth);
    survey(rig, height_cm, ret);
    assert_true(ret->is_grid);
    assert_int_equal(ret->holes, rig->hole_count);
    assert_int_equal(ret->repeated, rig->repeat_count);
    mapstats_of(ret, &stats);
    assert_int_equal(stats.count, CELLS - rig->hole_count);
    assert_near(expected.mean, 1, GRID_MEAN);
    assert_near(stats.area_mean_umol / truth.mean, expected.mean, DEVIATION * expected.mean_sd);
    assert_near(stats.photons_umol_s / (truth.mean * 0.96), expected.mean,
                DEVIATION * expected.mean_sd);
    assert_near(stats.utilisation, stats.photons_umol_s / PPF, 1e-9);
    const double z = (stats.area_mean_umol / truth.mean - expected.mean) / expected.mean_sd;
    tally->count++;
    tally->sum += z;
    tally->squares += z * z;
    const double found[2] = {stats.across, stats.along};
    const double true_slope[2] = {truth.across, truth.along};
    for (int i = 0; i < 2; i++) {
        const double moved = fabs(expected.slope[i] - true_slope[i]);

        assert_true(moved <= GRID_SLOPE);
        assert_near(found[i], expected.slope[i], DEVIATION * expected.slope_sd[i] + SECOND * moved);
    }
    /* so its sign is sure, too */
    assert_true(DEVIATION * expected.slope_sd[0] + GRID_SLOPE < fabs(truth.across));
    assert_true((stats.across > 0) == (rig->tilt_x > 0));
}

/* ln mean = a + b ln h: an error of v as a share of one mean moves b by v · (x − mean x) / Σ (x −
 * mean x)². */
static void one_fixture(uint64_t seed, struct tally *tally)
{
    static const double heights[HEIGHTS] = {50, 60, 70, 80, 90};
    struct rig rig = hang(seed);
    struct lightmap maps[HEIGHTS];
    const struct lightmap *list[HEIGHTS];
    struct height_fall fall;
    double x = 0, xx = 0, exponent = 0, true_exponent = 0, variance = 0;
    for (int i = 0; i < HEIGHTS; i++) {
        list[i] = &maps[i];
        one_map(&rig, heights[i], &maps[i], tally);
        x += log(heights[i]) / HEIGHTS;
    }
    height_fall_of(list, HEIGHTS, &fall);
    for (int i = 0; i < HEIGHTS; i++) {
        const struct truth truth = truth_of(&rig, heights[i]);
        const struct expected expected = expect(&rig, heights[i], &truth);
        const double dx = log(heights[i]) - x;
        xx += dx * dx;
        true_exponent -= dx * log(truth.mean);
        exponent -= dx * log(truth.mean * expected.mean);
        variance += dx * dx * expected.mean_sd * expected.mean_sd;
    }
    assert_near(exponent / xx, true_exponent / xx, GRID_MEAN);
    assert_near(fall.exponent, exponent / xx, DEVIATION * sqrt(variance) / xx);
    for (int i = 0; i < HEIGHTS; i++) {
        lightmap_free(&maps[i]);
    }
}

static void a_fixture_is_recovered(void **state)
{
    (void)state;
    struct prng prng = prng_start("a_fixture_is_recovered");
    struct tally tally = {0};
    for (int round = 0; round < SEEDS; round++) {
        const uint64_t seed = prng_next(&prng);
        print_message("%016llx ", (unsigned long long)seed);
        one_fixture(seed, &tally);
    }
    const double count = tally.count;
    print_message("\nmeans off by %.3f deviations on average, mean square %.3f\n",
                  tally.sum / count, tally.squares / count);
    assert_near(tally.sum / count, 0, 3.5 / sqrt(count)); /* neither too high nor too low */
    assert_near(tally.squares / count, 1, 3.5 * sqrt(2 / count));
}

/* Points thrown at random: the plain mean's standard error is that of a random sample, canopy and
 * noise together. Of 100 seeds it should hold the truth within one error about 68 times and within
 * Student's 2.00 (59 degrees of freedom) about 95 times; a count of 100 with the chance p differs
 * from 100 p by more than 3.5 √(100 p (1 − p)) once in 2000 tries. The mean of z² of 100 maps has a
 * standard deviation of √(2 / 100). */
static void the_standard_error_covers(void **state)
{
    (void)state;
    enum { POINTS = 60 };
    struct prng prng = prng_start("the_standard_error_covers");
    int within_one = 0, within_two = 0;
    double squares = 0;
    for (int round = 0; round < SEEDS; round++) {
        struct rig rig = hang(prng_next(&prng));
        struct lightmap_point points[POINTS];
        const struct lightmap map = {.width_cm = WIDTH_CM,
                                     .depth_cm = DEPTH_CM,
                                     .level = 1,
                                     .count = POINTS,
                                     .points = points};
        struct mapstats stats;
        for (int i = 0; i < POINTS; i++) {
            const double x = prng_real(&rig.prng, 0, WIDTH_CM);
            const double y = prng_real(&rig.prng, 0, DEPTH_CM);
            points[i] = (struct lightmap_point){.x_cm = x,
                                                .y_cm = y,
                                                .umol = reading(&rig, light(&rig, 60, x, y)),
                                                .area_cm2 = 1,
                                                .repeats = 1};
        }
        mapstats_of(&map, &stats);
        const double z = (stats.mean_umol - truth_of(&rig, 60).mean) / stats.mean_se_umol;
        within_one += fabs(z) <= 1;
        within_two += fabs(z) <= 2;
        squares += z * z / SEEDS;
    }
    print_message("within one error %d, within two %d, mean square %.2f\n", within_one, within_two,
                  squares);
    assert_near(within_one, 68, 3.5 * sqrt(100 * 0.68 * 0.32));
    assert_true(within_two >= 95 - 3.5 * sqrt(100 * 0.95 * 0.05));
    assert_near(squares, 1, 3.5 * sqrt(2.0 / SEEDS));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_fixture_is_recovered),
        cmocka_unit_test(the_standard_error_covers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
