/* SPDX-License-Identifier: Apache-2.0 */
/* Ctrl-C and its kin for verbs that have something to put in order before they end. */
#ifndef LAMPWARDEN_INTERRUPT_H
#define LAMPWARDEN_INTERRUPT_H

#include <stdbool.h>

/* From now on SIGINT, SIGTERM and SIGHUP end no more than the system call that waits: -EINTR. */
void interrupt_catch(void);

/* One of them came; it stays so. */
bool interrupt_came(void);

#endif
