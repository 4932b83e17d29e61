/* SPDX-License-Identifier: Apache-2.0 */
/* Days of the week and months as people write them: "Mon-Fri", "Sat, Sun", "Nov-Feb, Jul". */
#ifndef LAMPWARDEN_CALENDAR_WORDS_H
#define LAMPWARDEN_CALENDAR_WORDS_H

#include <stdint.h>

/* Bit 0 Monday … bit 6 Sunday; bit 0 January … bit 11 December. A range may run over the end of the
 * week or year; capitals do not matter. -EINVAL: not of that form. */
int calendar_weekdays(const char *text, int64_t *ret_bits);
int calendar_months(const char *text, int64_t *ret_bits);

#endif
