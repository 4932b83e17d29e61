/* SPDX-License-Identifier: Apache-2.0 */
/* Whole years with something wrong, and one without, indoors and under an invented sun. */
#include "fault_year.h"

#include <stdio.h>

enum { DAYS = 365 };

int main(void)
{
    for (int kind = 0; kind < FAULT_YEAR_KINDS; kind++) {
        for (int sun = 0; sun < 2; sun++) {
            const struct fault_year year = fault_year_run(kind, sun, DAYS);
            const char *name = fault_year_name(kind);
            const char *place = sun ? "greenhouse" : "indoor";
            printf("plan.fault.%s.%s.missed %d days\n", name, place, year.missed);
            printf("plan.fault.%s.%s.short %.2f mol\n", name, place, year.short_mol);
            printf("plan.fault.%s.%s.ratio %.4f -\n", name, place, year.ratio);
            printf("plan.fault.%s.%s.events %d -\n", name, place, year.events);
            printf("plan.fault.%s.%s.night_breaks %d -\n", name, place, year.night_breaks);
        }
    }
    return 0;
}
