/* SPDX-License-Identifier: Apache-2.0 */
/* A TCP connection that notices a dead peer and never waits past a deadline. */
#ifndef LAMPWARDEN_MODBUS_SOCKET_H
#define LAMPWARDEN_MODBUS_SOCKET_H

#include <stdint.h>

struct err;

/* -EINVAL: not a numeric address. */
int modbus_socket_check(const char *host, int port, struct err *err);

/* host: a numeric address; a name would wait for a name server. The descriptor is the caller's,
 * non-blocking and close-on-exec. Errors: -EINVAL not an address; -ETIMEDOUT; else what connect()
 * said. */
int modbus_socket_connect(const char *host, int port, int64_t deadline_ns, int *ret,
                          struct err *err);

#endif
