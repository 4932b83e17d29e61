/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The two clocks, and nothing else in the program reads one.
 *
 * boot time: monotonic, counts suspend, starts at 0 with the kernel. Every interval and deadline.
 * wall time: seconds since 1970-01-01 UTC. Only for where in the light day we are, and for records.
 * The tick reads both once and hands them down as values; workers read boot time for deadlines.
 */
#ifndef LAMPWARDEN_CLOCK_H
#define LAMPWARDEN_CLOCK_H

#include <pthread.h>
#include <stdint.h>

#define CLOCK_NS_PER_S  INT64_C(1000000000)
#define CLOCK_NS_PER_MS INT64_C(1000000)

int64_t clock_boot_ns(void);
int64_t clock_wall_ns(void);

/* Sleeps until a moment of boot time; returns early (1) when *stop becomes true, else 0.
 * For workers only, in steps of at most 50 ms; the tick's thread never sleeps here. */
int clock_sleep_until(int64_t boot_ns, const _Atomic _Bool *stop);

/* Waits on a condition with its mutex held until it is signalled (0, or for no reason at all, as
 * conditions do) or a moment of boot time has come (-ETIMEDOUT). Suspended time does not end the
 * wait. */
int clock_wait_until(pthread_cond_t *condition, pthread_mutex_t *mutex, int64_t boot_ns);

enum clock_sync { CLOCK_SYNC_NO, CLOCK_SYNC_YES, CLOCK_SYNC_UNKNOWN };

/* What the kernel says of wall time: adjtimex maxerror < 16 s means synchronised. STA_UNSYNC alone
 * is not asked: time daemons that do not discipline the RTC leave it set. When the call is
 * forbidden, the time daemon's stamp file /run/systemd/timesync/synchronized decides. */
enum clock_sync clock_kernel_sync(void);

#endif
