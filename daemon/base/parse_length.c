/* SPDX-License-Identifier: Apache-2.0 */
#include "err.h"
#include "parse.h"

#include <errno.h>
#include <stdio.h>
#include <string.h>

#define NUMBER_MAX 32

static const struct unit {
    const char *name;
    double metres;
} units[] = {
    {"mm", 0.001}, {"cm", 0.01}, {"m", 1}, {"in", 0.0254}, {"ft", 0.3048},
};

enum { UNITS = sizeof units / sizeof units[0] };

int parse_length(const char *text, double low_m, double high_m, double *ret_m, struct err *err)
{
    char quoted[48];
    char number[NUMBER_MAX];
    parse_quote(text, quoted, sizeof quoted);
    const size_t digits = strspn(text, "+-.0123456789eE");
    for (size_t i = 0; i < UNITS && digits < sizeof number; i++) {
        double value = 0;
        (void)snprintf(number, sizeof number, "%.*s", (int)digits, text);
        if (strcmp(text + digits, units[i].name) != 0 ||
            parse_real(number, -1e9, 1e9, &value, err) < 0) {
            continue;
        }
        value *= units[i].metres;
        if (!(value >= low_m && value <= high_m)) {
            return err_fail(err, ERANGE, "%s is out of range (%g … %g, m)", quoted, low_m, high_m);
        }
        *ret_m = value;
        return 0;
    }
    return err_fail(err, EINVAL,
                    "\"%s\" is not a length with its unit (\"30m\", \"15cm\", \"100ft\", \"6in\")",
                    quoted);
}
