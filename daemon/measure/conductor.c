/* SPDX-License-Identifier: Apache-2.0 */
#include "conductor.h"

#include "err.h"

#include <errno.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define M_PER_KFT 304.8

/* Thinnest first. */
static const struct american {
    double awg;
    double solid, stranded; /* Ω per 1000 ft at 75 °C */
} american[] = {
    {18, 7.77, 7.95}, {16, 4.89, 4.99}, {14, 3.07, 3.14},
    {12, 1.93, 1.98}, {10, 1.21, 1.24}, {8, 0.764, 0.778},
};

static const struct metric {
    double mm2;
    double rigid, flexible; /* Ω per km at 20 °C */
} metric[] = {
    {0.5, 36.0, 39.0}, {0.75, 24.5, 26.0}, {1, 18.1, 19.5}, {1.5, 12.1, 13.3},
    {2.5, 7.41, 7.98}, {4, 4.61, 4.95},    {6, 3.08, 3.30}, {10, 1.83, 1.91},
};

enum {
    AMERICAN = sizeof american / sizeof american[0],
    METRIC = sizeof metric / sizeof metric[0],
};

static bool is_american(enum conductor_make make)
{
    return make == CONDUCTOR_AWG_SOLID || make == CONDUCTOR_AWG_STRANDED;
}

int conductor_sizes(enum conductor_make make, double ret[CONDUCTOR_SIZES_MAX])
{
    const int count = is_american(make) ? AMERICAN : METRIC;
    for (int i = 0; i < count; i++) {
        ret[i] = is_american(make) ? american[i].awg : metric[i].mm2;
    }
    return count;
}

static int unknown_size(const struct conductor *conductor, struct err *err)
{
    char list[80] = "";
    double sizes[CONDUCTOR_SIZES_MAX];
    const int count = conductor_sizes(conductor->make, sizes);
    for (int i = 0; i < count; i++) {
        const size_t used = strlen(list);
        (void)snprintf(list + used, sizeof list - used, "%s%g", i > 0 ? ", " : "", sizes[i]);
    }
    return err_fail(err, ENOENT, "%g %s is no size of %s (%s)", conductor->size,
                    is_american(conductor->make) ? "AWG" : "mm²", conductor_source(conductor->make),
                    list);
}

static int american_ohm(const struct conductor *conductor, double temperature_c, double *ret,
                        struct err *err)
{
    for (int i = 0; i < AMERICAN; i++) {
        if (american[i].awg == conductor->size) {
            const double hot =
                conductor->make == CONDUCTOR_AWG_SOLID ? american[i].solid : american[i].stranded;
            *ret = hot / M_PER_KFT * (1 + 0.00323 * (temperature_c - 75));
            return 0;
        }
    }
    return unknown_size(conductor, err);
}

static int metric_ohm(const struct conductor *conductor, double temperature_c, double *ret,
                      struct err *err)
{
    for (int i = 0; i < METRIC; i++) {
        if (metric[i].mm2 == conductor->size) {
            const double cold =
                conductor->make == CONDUCTOR_MM2_RIGID ? metric[i].rigid : metric[i].flexible;
            *ret = cold / 1000 * (230 + temperature_c) / 250;
            return 0;
        }
    }
    return unknown_size(conductor, err);
}

int conductor_ohm_per_m(const struct conductor *conductor, double temperature_c, double *ret,
                        struct err *err)
{
    if (!(temperature_c >= CONDUCTOR_COLD_C && temperature_c <= CONDUCTOR_HOT_C)) {
        return err_fail(err, ERANGE, "conductor temperature %g is out of range (%g … %g, °C)",
                        temperature_c, CONDUCTOR_COLD_C, CONDUCTOR_HOT_C);
    }
    return is_american(conductor->make) ? american_ohm(conductor, temperature_c, ret, err)
                                        : metric_ohm(conductor, temperature_c, ret, err);
}

void conductor_name(const struct conductor *conductor, char *buffer, unsigned size)
{
    static const char *const makes[] = {
        [CONDUCTOR_AWG_SOLID] = "AWG solid",
        [CONDUCTOR_AWG_STRANDED] = "AWG stranded",
        [CONDUCTOR_MM2_RIGID] = "mm² rigid",
        [CONDUCTOR_MM2_FLEXIBLE] = "mm² flexible",
    };
    (void)snprintf(buffer, size, "%g %s", conductor->size, makes[conductor->make]);
}

const char *conductor_source(enum conductor_make make)
{
    return is_american(make) ? "NEC chapter 9 table 8" : "IEC 60228";
}
