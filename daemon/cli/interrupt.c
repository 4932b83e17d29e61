/* SPDX-License-Identifier: Apache-2.0 */
#include "interrupt.h"

#include <signal.h>
#include <stddef.h>

static volatile sig_atomic_t has_come;

static void take(int signal)
{
    (void)signal;
    has_come = 1;
}

void interrupt_catch(void)
{
    const struct sigaction action = {.sa_handler = take};
    (void)sigaction(SIGINT, &action, NULL);
    (void)sigaction(SIGTERM, &action, NULL);
    (void)sigaction(SIGHUP, &action, NULL);
}

bool interrupt_came(void)
{
    return has_come != 0;
}
