/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The two clocks, and nothing else in the program reads one.
 *
 * boot time: monotonic, counts suspend, starts at 0 with the kernel. Every interval and deadline.
 * wall time: seconds since 1970-01-01 UTC. Only for where in the light day we are, and for records.
 * The tick reads both once and hands them down as values; workers read boot time for deadlines.
 *
 * In a demonstration both are those of a stage: they begin at a chosen moment and go `pace` times
 * as fast. Real time remains for what is real there too: how long a device, a peer or a program
 * may take. In earnest real time and boot time are the same.
 */
#ifndef LAMPWARDEN_CLOCK_H
#define LAMPWARDEN_CLOCK_H

#include <pthread.h>
#include <stdint.h>

#define CLOCK_NS_PER_S  INT64_C(1000000000)
#define CLOCK_NS_PER_MS INT64_C(1000000)

int64_t clock_boot_ns(void);
int64_t clock_wall_ns(void);
int64_t clock_real_ns(void);

/* The stage's time, before any thread runs: wall time begins at wall_ns, the pace is 1 at first. */
void clock_begin_stage(int64_t wall_ns);
/* pace ≥ 1. In a demonstration only. Whoever slows down to 1 also lets time go on (below). */
void clock_set_pace(double pace);
double clock_pace(void); /* 1 in earnest */
/* Stage time stands still at this moment until it is let go further: a machine that cannot keep the
 * pace plays more slowly instead of leaving out seconds. INT64_MAX: it goes on. In earnest:
 * nothing.
 */
void clock_let_go_until(int64_t boot_ns);
/* How long, really, until so much boot time has passed at this pace. */
int64_t clock_to_real_ns(int64_t span_ns);
/* How much boot time passes in a real length. */
int64_t clock_from_real_ns(int64_t real_ns);

/* Sleeps until a moment of boot time; returns early (1) when *stop becomes true, else 0.
 * For workers only, in steps of at most 50 ms; the tick's thread never sleeps here. */
int clock_sleep_until(int64_t boot_ns, const _Atomic _Bool *stop);
/* The same for a moment of real time. */
int clock_sleep_until_real(int64_t real_ns, const _Atomic _Bool *stop);

/* Waits on a condition with its mutex held until it is signalled (0, or for no reason at all, as
 * conditions do) or a moment of boot time has come (-ETIMEDOUT). Suspended time does not end the
 * wait. */
int clock_wait_until(pthread_cond_t *condition, pthread_mutex_t *mutex, int64_t boot_ns);
/* The same for a moment of real time. */
int clock_wait_until_real(pthread_cond_t *condition, pthread_mutex_t *mutex, int64_t real_ns);

enum clock_sync { CLOCK_SYNC_NO, CLOCK_SYNC_YES, CLOCK_SYNC_UNKNOWN };

/* What the kernel says of wall time: adjtimex maxerror < 16 s means synchronised. STA_UNSYNC alone
 * is not asked: time daemons that do not discipline the RTC leave it set. When the call is
 * forbidden, the time daemon's stamp file /run/systemd/timesync/synchronized decides. */
enum clock_sync clock_kernel_sync(void);

#endif
