/* SPDX-License-Identifier: Apache-2.0 */
/* Doubles in tests: cmocka's own assert_float_equal compares as float. NaN is never near anything.
 */
#ifndef LAMPWARDEN_TEST_NEAR_H
#define LAMPWARDEN_TEST_NEAR_H

#define assert_near(value, expected, tolerance)                                                    \
    near_check((value), (expected), (tolerance), #value, __FILE__, __LINE__)

void near_check(double value, double expected, double tolerance, const char *text, const char *file,
                int line);

#endif
