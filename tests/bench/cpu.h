/* SPDX-License-Identifier: Apache-2.0 */
/* Time on a processor, for figures. */
#ifndef LAMPWARDEN_CPU_H
#define LAMPWARDEN_CPU_H

#include <time.h>

/* Of the whole process so far, seconds. */
static inline double cpu_s(void)
{
    struct timespec now;
    if (clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now) != 0) {
        return 0;
    }
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

#endif
