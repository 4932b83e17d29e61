/* SPDX-License-Identifier: Apache-2.0 */
#include "invented_sun.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

struct daylight *invented_sun(int64_t from_s, int days)
{
    static struct daylight sun;
    const size_t rows = (size_t)days * 24 * 12;
    sun = (struct daylight){
        .rows = {.wall_s = calloc(rows, sizeof(int64_t)), .value = calloc(rows, sizeof(double))},
        .hold_s = 300};
    if (!sun.rows.wall_s || !sun.rows.value) {
        fail_msg("no memory for %zu rows of daylight", rows);
        return NULL;
    }
    uint32_t noise = 12345;
    for (size_t i = 0; i < rows; i++) {
        const double day = (double)i / (24 * 12);
        const double hour = fmod(day, 1) * 24;
        const double season = -cos(2 * 3.14159265358979 * (day + 10) / 365);
        const double half = 6 + 2 * season;
        const double up = (hour - 12) / half;
        noise = noise * 1664525u + 1013904223u;
        const double cloud = 0.25 + 0.75 * (noise >> 8) / 16777216.0;
        sun.rows.wall_s[i] = from_s + (int64_t)i * 300;
        sun.rows.value[i] = fabs(up) < 1 ? (450 + 300 * season) * cos(up * 1.5707963) * cloud : 0;
        sun.rows.count++;
    }
    return &sun;
}
