/* SPDX-License-Identifier: Apache-2.0 */
#include "near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

void near_check(double value, double expected, double tolerance, const char *text, const char *file,
                int line)
{
    if (!(fabs(value - expected) <= tolerance)) {
        print_error("%s is %.17g, expected %.17g ± %g\n", text, value, expected, tolerance);
        _fail(file, line);
    }
}
