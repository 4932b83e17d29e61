// SPDX-License-Identifier: GPL-2.0
/*
 * vi2c.c - an I2C bus whose chips live in user space.
 *
 * i2c-stub knows SMBus register access only.  Many drivers (mcp4725, scd30,
 * sht3x, ads1015 in some modes, ...) send plain I2C messages, and i2c-stub can
 * neither refuse an acknowledge nor let a register count.  This module offers
 * a bus with the full I2C functionality and hands each transaction to the
 * process that opened /dev/vi2c (see vi2c.h).  Kernel drivers and /dev/i2c-N
 * users above it are the unmodified ones.
 */
#include <linux/completion.h>
#include <linux/fs.h>
#include <linux/i2c.h>
#include <linux/miscdevice.h>
#include <linux/module.h>
#include <linux/mutex.h>
#include <linux/poll.h>
#include <linux/property.h>
#include <linux/slab.h>
#include <linux/uaccess.h>
#include <linux/wait.h>

#include "vi2c.h"

struct vi2c_bus {
    struct i2c_adapter adapter;
    struct mutex lock; /* guards everything below */
    wait_queue_head_t readable;
    struct completion answered;
    struct i2c_msg *msgs; /* transaction in progress, or NULL */
    int nmsgs;
    bool taken; /* the simulator has read it */
    bool closing;
    u32 id;
    int result;
    unsigned int wait_ms;
};

/* Called by the I2C core with the bus locked: one transaction at a time. */
static int vi2c_xfer(struct i2c_adapter *adapter, struct i2c_msg *msgs, int num)
{
    struct vi2c_bus *bus = i2c_get_adapdata(adapter);
    unsigned long left;
    int ret;

    if (num > VI2C_MAX_MSGS)
        return -EOPNOTSUPP;

    mutex_lock(&bus->lock);
    if (bus->closing) {
        mutex_unlock(&bus->lock);
        return -ENXIO;
    }
    reinit_completion(&bus->answered);
    bus->msgs = msgs;
    bus->nmsgs = num;
    bus->taken = false;
    bus->result = -ETIMEDOUT;
    bus->id++;
    mutex_unlock(&bus->lock);
    wake_up_interruptible(&bus->readable);

    left = wait_for_completion_timeout(&bus->answered, msecs_to_jiffies(bus->wait_ms));

    mutex_lock(&bus->lock);
    bus->msgs = NULL; /* a late answer finds nothing to fill */
    ret = left ? bus->result : -ETIMEDOUT;
    mutex_unlock(&bus->lock);
    return ret < 0 ? ret : num;
}

static u32 vi2c_functionality(struct i2c_adapter *adapter)
{
    return I2C_FUNC_I2C | (I2C_FUNC_SMBUS_EMUL & ~I2C_FUNC_SMBUS_QUICK) | I2C_FUNC_SMBUS_QUICK;
}

static const struct i2c_algorithm vi2c_algorithm = {
    .master_xfer = vi2c_xfer,
    .functionality = vi2c_functionality,
};

static int vi2c_open(struct inode *inode, struct file *file)
{
    struct vi2c_bus *bus = kzalloc(sizeof(*bus), GFP_KERNEL);
    int ret;

    if (!bus)
        return -ENOMEM;
    mutex_init(&bus->lock);
    init_waitqueue_head(&bus->readable);
    init_completion(&bus->answered);
    bus->wait_ms = 1000;
    bus->adapter.owner = THIS_MODULE;
    bus->adapter.algo = &vi2c_algorithm;
    bus->adapter.retries = 0;
    strscpy(bus->adapter.name, "vi2c simulated bus", sizeof(bus->adapter.name));
    i2c_set_adapdata(&bus->adapter, bus);

    ret = i2c_add_adapter(&bus->adapter);
    if (ret) {
        kfree(bus);
        return ret;
    }
    file->private_data = bus;
    return nonseekable_open(inode, file);
}

static int vi2c_release(struct inode *inode, struct file *file)
{
    struct vi2c_bus *bus = file->private_data;

    /* Drivers bound on the bus may still transfer while they are removed:
     * let those fail at once instead of waiting for nobody. */
    mutex_lock(&bus->lock);
    bus->closing = true;
    bus->result = -ENXIO;
    complete(&bus->answered);
    mutex_unlock(&bus->lock);
    i2c_del_adapter(&bus->adapter);
    kfree(bus);
    return 0;
}

static bool vi2c_pending(struct vi2c_bus *bus)
{
    return READ_ONCE(bus->msgs) && !READ_ONCE(bus->taken);
}

static ssize_t vi2c_read(struct file *file, char __user *ubuf, size_t count, loff_t *pos)
{
    struct vi2c_bus *bus = file->private_data;
    struct vi2c_request head = {};
    size_t need = sizeof(head), off;
    int i, ret;

    for (;;) {
        mutex_lock(&bus->lock);
        if (vi2c_pending(bus))
            break;
        mutex_unlock(&bus->lock);
        if (file->f_flags & O_NONBLOCK)
            return -EAGAIN;
        ret = wait_event_interruptible(bus->readable, vi2c_pending(bus));
        if (ret)
            return ret;
    }

    for (i = 0; i < bus->nmsgs; i++) {
        need += sizeof(struct vi2c_msg);
        if (!(bus->msgs[i].flags & I2C_M_RD))
            need += bus->msgs[i].len;
    }
    ret = -EMSGSIZE;
    if (need > count)
        goto out;

    ret = -EFAULT;
    head.id = bus->id;
    head.nmsgs = bus->nmsgs;
    if (copy_to_user(ubuf, &head, sizeof(head)))
        goto out;
    off = sizeof(head);
    for (i = 0; i < bus->nmsgs; i++) {
        struct vi2c_msg m = {
            .addr = bus->msgs[i].addr,
            .flags = bus->msgs[i].flags,
            .len = bus->msgs[i].len,
        };
        if (copy_to_user(ubuf + off, &m, sizeof(m)))
            goto out;
        off += sizeof(m);
    }
    for (i = 0; i < bus->nmsgs; i++) {
        if (bus->msgs[i].flags & I2C_M_RD)
            continue;
        if (copy_to_user(ubuf + off, bus->msgs[i].buf, bus->msgs[i].len))
            goto out;
        off += bus->msgs[i].len;
    }
    bus->taken = true;
    ret = off;
out:
    mutex_unlock(&bus->lock);
    return ret;
}

static ssize_t vi2c_write(struct file *file, const char __user *ubuf, size_t count, loff_t *pos)
{
    struct vi2c_bus *bus = file->private_data;
    struct vi2c_reply head;
    size_t off = sizeof(head);
    ssize_t ret;
    int i;

    if (count < sizeof(head) || copy_from_user(&head, ubuf, sizeof(head)))
        return -EINVAL;

    mutex_lock(&bus->lock);
    ret = -ESTALE; /* the master has given up already */
    if (!bus->msgs || !bus->taken || head.id != bus->id)
        goto out;
    if (head.result == 0) {
        for (i = 0; i < bus->nmsgs; i++) {
            struct i2c_msg *m = &bus->msgs[i];

            if (!(m->flags & I2C_M_RD))
                continue;
            ret = -EINVAL;
            if (m->len > count - off)
                goto out;
            ret = -EFAULT;
            if (copy_from_user(m->buf, ubuf + off, m->len))
                goto out;
            off += m->len;
            /* SMBus block read: the first byte tells the length. */
            if (m->flags & I2C_M_RECV_LEN) {
                ret = -EINVAL;
                if (!m->buf[0] || m->buf[0] > I2C_SMBUS_BLOCK_MAX || m->buf[0] > count - off)
                    goto out;
                if (copy_from_user(m->buf + m->len, ubuf + off, m->buf[0]))
                    goto out;
                off += m->buf[0];
                m->len += m->buf[0];
            }
        }
    }
    bus->result = head.result > 0 ? -EIO : head.result;
    bus->msgs = NULL;
    complete(&bus->answered);
    ret = count;
out:
    mutex_unlock(&bus->lock);
    return ret;
}

static __poll_t vi2c_poll(struct file *file, poll_table *wait)
{
    struct vi2c_bus *bus = file->private_data;

    poll_wait(file, &bus->readable, wait);
    return EPOLLOUT | (vi2c_pending(bus) ? EPOLLIN : 0);
}

/* The driver's probe runs inside this call and talks to the chip, so the
 * simulator must answer from another thread than the one that asks. */
static int vi2c_new_client(struct vi2c_bus *bus, const void __user *arg)
{
    static const struct property_entry none[] = {{}};
    struct i2c_board_info info = {};
    struct i2c_client *client;
    struct vi2c_client want;

    if (copy_from_user(&want, arg, sizeof(want)))
        return -EFAULT;
    strscpy(info.type, want.name, sizeof(info.type));
    info.addr = want.addr;
    info.fwnode = fwnode_create_software_node(none, NULL);
    if (IS_ERR(info.fwnode))
        return PTR_ERR(info.fwnode);
    client = i2c_new_client_device(&bus->adapter, &info);
    return PTR_ERR_OR_ZERO(client);
}

static long vi2c_ioctl(struct file *file, unsigned int cmd, unsigned long arg)
{
    struct vi2c_bus *bus = file->private_data;
    u32 ms;

    switch (cmd) {
    case VI2C_GET_BUS:
        return put_user((__s32)bus->adapter.nr, (__s32 __user *)arg);
    case VI2C_SET_WAIT:
        if (get_user(ms, (__u32 __user *)arg))
            return -EFAULT;
        bus->wait_ms = ms;
        return 0;
    case VI2C_NEW_CLIENT:
        return vi2c_new_client(bus, (const void __user *)arg);
    }
    return -ENOTTY;
}

static const struct file_operations vi2c_fops = {
    .owner = THIS_MODULE,
    .open = vi2c_open,
    .release = vi2c_release,
    .read = vi2c_read,
    .write = vi2c_write,
    .poll = vi2c_poll,
    .unlocked_ioctl = vi2c_ioctl,
    .llseek = no_llseek,
};

static struct miscdevice vi2c_misc = {
    .minor = MISC_DYNAMIC_MINOR,
    .name = "vi2c",
    .fops = &vi2c_fops,
};
module_misc_device(vi2c_misc);

MODULE_DESCRIPTION("I2C bus whose chips are simulated in user space");
MODULE_LICENSE("GPL");
