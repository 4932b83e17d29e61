/* SPDX-License-Identifier: GPL-2.0 */
/*
 * vi2c.h - what travels over /dev/vi2c between the kernel and a chip simulator.
 *
 * Opening /dev/vi2c creates a new I2C bus; its number is read with the ioctl
 * VI2C_GET_BUS.  Each I2C transaction on that bus becomes one record that the
 * simulator read()s and answers with one write().  Closing removes the bus.
 */
#ifndef VI2C_H
#define VI2C_H

#include <linux/types.h>
#include <linux/ioctl.h>

#define VI2C_MAX_MSGS  8
#define VI2C_MAX_BYTES 1024 /* payload of one transaction, both directions */

#define VI2C_RD 0x0001 /* as I2C_M_RD: the master reads */

struct vi2c_msg {
    __u16 addr;
    __u16 flags;
    __u16 len;
    __u16 reserved;
};

/* read(): this header, then nmsgs x vi2c_msg, then the bytes of the write
 * messages in order. */
struct vi2c_request {
    __u32 id;
    __u32 nmsgs;
};

/* write(): this header, then the bytes of the read messages in order (when
 * result is 0).  A negative errno in result is what the master gets:
 * -ENXIO is "no acknowledge", -ETIMEDOUT "bus stuck", -EAGAIN "arbitration
 * lost". */
struct vi2c_reply {
    __u32 id;
    __s32 result;
};

#define VI2C_GET_BUS _IOR('v', 0x20, __s32)
/* how long the kernel waits for an answer before -ETIMEDOUT, milliseconds */
#define VI2C_SET_WAIT _IOW('v', 0x21, __u32)

/* Put a device on the bus, as board code would: unlike writing to the bus's
 * new_device file this gives it a firmware node (an empty one), which some
 * drivers (mcp4725) insist on.  It goes when the bus goes. */
struct vi2c_client {
    char name[20];
    __u16 addr;
};
#define VI2C_NEW_CLIENT _IOW('v', 0x22, struct vi2c_client)

#endif
