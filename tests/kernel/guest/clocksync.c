/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Does to the kernel's clock what a time server's client does (adjtimex(2)):
 *
 *   clocksync yes    the clock is synchronised, its error small
 *   clocksync no     it is not
 */
#include <stdio.h>
#include <string.h>
#include <sys/timex.h>

int main(int argc, char **argv)
{
    if (argc != 2)
        return 2;
    int is_synchronised = strcmp(argv[1], "yes") == 0;
    struct timex clock = {.modes = ADJ_STATUS | ADJ_MAXERROR | ADJ_ESTERROR};
    clock.status = is_synchronised ? STA_PLL : STA_UNSYNC;
    /* 16 s is what the kernel takes for "unknown". */
    clock.maxerror = is_synchronised ? 1000 : 16000000;
    clock.esterror = clock.maxerror;
    if (adjtimex(&clock) < 0) {
        perror("adjtimex");
        return 1;
    }
    return 0;
}
