/* SPDX-License-Identifier: Apache-2.0 */
/* One question to a Modbus TCP device: are you lampwarden-bench, and how fast do you live? */
#ifndef LAMPWARDEN_BENCH_ASK_H
#define LAMPWARDEN_BENCH_ASK_H

struct err;

/* host: a loopback address. 0 and *ret_pace; -ENODEV: what answers is no bench; -ECONNREFUSED,
 * -ETIMEDOUT … with a sentence. At most 2 s of real time. */
int bench_ask(const char *host, int port, int unit, double *ret_pace, struct err *err);

#endif
