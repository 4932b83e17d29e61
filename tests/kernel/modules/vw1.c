// SPDX-License-Identifier: GPL-2.0
/*
 * vw1.c - a 1-Wire bus with simulated DS18B20 thermometers on it.
 *
 * The bus is simulated slot by slot: reset, ROM search, match/skip ROM and the
 * function commands that the w1_therm driver uses, so the whole stack above
 * (wire.ko, w1_therm.ko, /sys/bus/w1) is the unmodified one.
 *
 *   insmod vw1.ko count=3
 *   echo 21500,-4000,19000 > /sys/module/vw1/parameters/milli
 *   echo 2 > /sys/module/vw1/parameters/absent      second sensor unplugged
 *   echo 1 > /sys/module/vw1/parameters/corrupt     first one's CRC is wrong
 *   echo 4 > /sys/module/vw1/parameters/unpowered   third forgot: reads 85 degC
 */
#include <linux/module.h>
#include <linux/w1.h>

#define MAX_SENSORS 8

static unsigned int count = 1;
module_param(count, uint, 0444);
MODULE_PARM_DESC(count, "number of sensors (1..8)");

static int milli[MAX_SENSORS] = {20000, 20000, 20000, 20000, 20000, 20000, 20000, 20000};
module_param_array(milli, int, NULL, 0644);
MODULE_PARM_DESC(milli, "temperatures, millidegrees Celsius");

static unsigned int absent;
module_param(absent, uint, 0644);
MODULE_PARM_DESC(absent, "bit mask of sensors that do not answer");

static unsigned int corrupt;
module_param(corrupt, uint, 0644);
MODULE_PARM_DESC(corrupt, "bit mask of sensors with a wrong scratchpad CRC");

static unsigned int unpowered;
module_param(unpowered, uint, 0644);
MODULE_PARM_DESC(unpowered, "bit mask of sensors stuck at the power-on 85 degC");

enum phase { IDLE, ROM_COMMAND, SEARCHING, MATCHING, FUNCTION, READING, WRITING };

struct sensor {
    u8 rom[8];
    u8 pad[9]; /* scratchpad with its CRC */
    enum phase phase;
    unsigned int bit;   /* bits done in this phase */
    unsigned int third; /* SEARCHING: 0 bit, 1 complement, 2 direction */
    u8 shift;           /* command or byte being received */
};

static struct sensor sensors[MAX_SENSORS];

static void seal_pad(struct sensor *s, int i)
{
    s->pad[8] = w1_calc_crc8(s->pad, 8);
    if (corrupt & BIT(i))
        s->pad[8] ^= 0x5a;
}

static void convert(struct sensor *s, int i)
{
    int raw = DIV_ROUND_CLOSEST(milli[i] * 16, 1000);

    if (unpowered & BIT(i))
        raw = 85 * 16;
    s->pad[0] = raw & 0xff;
    s->pad[1] = (raw >> 8) & 0xff;
}

static void command_done(struct sensor *s, int i)
{
    u8 cmd = s->shift;

    s->shift = 0;
    s->bit = 0;
    s->third = 0;
    if (s->phase == ROM_COMMAND) {
        switch (cmd) {
        case 0xf0:
            s->phase = SEARCHING;
            break;
        case 0x55:
            s->phase = MATCHING;
            break;
        case 0xcc:
            s->phase = FUNCTION;
            break;
        default:
            s->phase = IDLE;
            break; /* alarm search: none */
        }
        return;
    }
    switch (cmd) {
    case 0x44:
        convert(s, i);
        s->phase = IDLE;
        break;
    case 0xbe:
        seal_pad(s, i);
        s->phase = READING;
        break;
    case 0x4e:
        s->phase = WRITING;
        break;
    default:
        s->phase = IDLE;
        break; /* copy, recall, read power: all
                * answered by idle ones */
    }
}

/* One time slot of one sensor: the bit that the master sends in, the level
 * that this sensor leaves on the wire out. */
static u8 slot(struct sensor *s, int i, u8 bit)
{
    u8 own;

    switch (s->phase) {
    case ROM_COMMAND:
    case FUNCTION:
        s->shift |= (bit & 1) << s->bit;
        if (++s->bit == 8)
            command_done(s, i);
        return 1;
    case SEARCHING:
        own = (s->rom[s->bit / 8] >> (s->bit % 8)) & 1;
        switch (s->third++) {
        case 0:
            return own;
        case 1:
            return !own;
        }
        s->third = 0;
        if ((bit & 1) != own)
            s->phase = IDLE; /* the search goes elsewhere */
        else if (++s->bit == 64)
            s->phase = IDLE;
        return 1;
    case MATCHING:
        own = (s->rom[s->bit / 8] >> (s->bit % 8)) & 1;
        if ((bit & 1) != own)
            s->phase = IDLE;
        else if (++s->bit == 64) {
            s->phase = FUNCTION;
            s->bit = 0;
        }
        return 1;
    case READING:
        own = (s->pad[s->bit / 8] >> (s->bit % 8)) & 1;
        if (++s->bit == 72)
            s->phase = IDLE;
        return own;
    case WRITING: /* TH, TL, configuration */
        s->shift |= (bit & 1) << (s->bit % 8);
        if (++s->bit % 8 == 0) {
            s->pad[1 + s->bit / 8] = s->shift;
            s->shift = 0;
        }
        if (s->bit == 24)
            s->phase = IDLE;
        return 1;
    default:
        return 1;
    }
}

static u8 vw1_touch_bit(void *data, u8 bit)
{
    u8 wire = bit & 1;
    int i;

    for (i = 0; i < count; i++)
        if (!(absent & BIT(i)))
            wire &= slot(&sensors[i], i, bit);
    return wire;
}

static u8 vw1_reset_bus(void *data)
{
    u8 none = 1;
    int i;

    for (i = 0; i < count; i++) {
        if (absent & BIT(i))
            continue;
        sensors[i].phase = ROM_COMMAND;
        sensors[i].bit = 0;
        sensors[i].third = 0;
        sensors[i].shift = 0;
        none = 0;
    }
    return none; /* 0: a presence pulse came */
}

static struct w1_bus_master vw1_master = {
    .touch_bit = vw1_touch_bit,
    .reset_bus = vw1_reset_bus,
};

static int __init vw1_init(void)
{
    int i;

    count = clamp(count, 1u, (unsigned int)MAX_SENSORS);
    for (i = 0; i < count; i++) {
        struct sensor *s = &sensors[i];
        u8 rom[8] = {0x28, 0x01 + i, 0x4b, 0x46, 0x7f, 0xff, 0x0c};
        u8 pad[8] = {0x50, 0x05, 0x4b, 0x46, 0x7f, 0xff, 0x0c, 0x10};

        rom[7] = w1_calc_crc8(rom, 7);
        memcpy(s->rom, rom, 8);
        memcpy(s->pad, pad, 8);
        seal_pad(s, i);
    }
    return w1_add_master_device(&vw1_master);
}

static void __exit vw1_exit(void)
{
    w1_remove_master_device(&vw1_master);
}

module_init(vw1_init);
module_exit(vw1_exit);
MODULE_DESCRIPTION("1-Wire bus with simulated DS18B20 thermometers");
MODULE_LICENSE("GPL");
