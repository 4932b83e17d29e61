/* SPDX-License-Identifier: Apache-2.0 */
/*
 * I2C chips simulated behind /dev/vi2c (see modules/vi2c.h).
 *
 *   chips DIR NAME@ADDR[:DRIVER] ...
 *
 * NAME is one of the models below, ADDR is hexadecimal.  With ":DRIVER" the
 * kernel driver of that name is bound to the chip.  In DIR:
 *   bus        number of the bus, written once it is up
 *   log        one line for each transaction: "TIME ADDR w 0f ff | r 00 01 = 0"
 *   ADDR.in    what the chip measures (read at each use)
 *   ADDR.fault a test writes "nak", "timeout" or "crc" here; remove to mend
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#include "../modules/vi2c.h"

#define MAX_CHIPS 16

struct chip {
    const struct model *model;
    unsigned int addr;
    char driver[20];
    uint8_t reg[256]; /* register file or last data */
    unsigned int pointer;
};

/* A model sees the write and read halves of a transaction and returns 0 or a
 * negative errno. */
struct model {
    const char *name;
    int (*write)(struct chip *c, const uint8_t *data, unsigned int len);
    int (*read)(struct chip *c, uint8_t *data, unsigned int len);
};

static struct chip chips[MAX_CHIPS];
static int nchips;
static const char *dir;
static FILE *log_file;
static int bus_fd;

/* ---- what tests set --------------------------------------------------- */

static int fault_is(const struct chip *c, const char *word)
{
    char path[256], text[32] = "";
    FILE *f;

    snprintf(path, sizeof(path), "%s/%02x.fault", dir, c->addr);
    f = fopen(path, "r");
    if (f == NULL)
        return 0;
    if (fgets(text, sizeof(text), f) == NULL)
        text[0] = '\0';
    fclose(f);
    return strncmp(text, word, strlen(word)) == 0;
}

static void inputs(const struct chip *c, double *a, double *b)
{
    char path[256];
    FILE *f;

    snprintf(path, sizeof(path), "%s/%02x.in", dir, c->addr);
    f = fopen(path, "r");
    if (f == NULL)
        return;
    if (fscanf(f, "%lf %lf", a, b) < 1)
        *a = 0;
    fclose(f);
}

/* ---- models ----------------------------------------------------------- */

/* Registers with an auto-incremented pointer: PCA9685, ADS1115 and the like. */
static int regs_write(struct chip *c, const uint8_t *d, unsigned int len)
{
    if (len == 0)
        return 0;
    c->pointer = d[0];
    for (unsigned int i = 1; i < len; i++)
        c->reg[c->pointer++ & 0xff] = d[i];
    return 0;
}

static int regs_read(struct chip *c, uint8_t *d, unsigned int len)
{
    for (unsigned int i = 0; i < len; i++)
        d[i] = c->reg[c->pointer++ & 0xff];
    return 0;
}

/* MCP4725: 12-bit DAC.  Fast write is two bytes, the others three. */
static int mcp4725_write(struct chip *c, const uint8_t *d, unsigned int len)
{
    unsigned int value;

    if (len == 2 && (d[0] & 0xc0) == 0) {
        value = (unsigned int)(d[0] & 0x0f) << 8 | d[1];
    } else if (len == 3) {
        value = (unsigned int)d[1] << 4 | d[2] >> 4;
        if ((d[0] & 0xe0) == 0x60) { /* EEPROM too */
            c->reg[3] = (uint8_t)(value >> 8);
            c->reg[4] = (uint8_t)value;
        }
    } else {
        return -EIO;
    }
    c->reg[0] = 0x80; /* ready */
    c->reg[1] = (uint8_t)(value >> 4);
    c->reg[2] = (uint8_t)(value << 4);
    return 0;
}

static int mcp4725_read(struct chip *c, uint8_t *d, unsigned int len)
{
    c->reg[0] |= 0x80;
    for (unsigned int i = 0; i < len; i++)
        d[i] = i < 5 ? c->reg[i] : 0;
    return 0;
}

/* SHT3x: commands of two bytes, answers of two words with a CRC-8 each. */
static uint8_t sht_crc(const uint8_t *d)
{
    uint8_t crc = 0xff;

    for (int i = 0; i < 2; i++) {
        crc ^= d[i];
        for (int b = 0; b < 8; b++)
            crc = (uint8_t)(crc & 0x80 ? crc << 1 ^ 0x31 : crc << 1);
    }
    return crc;
}

static int sht3x_write(struct chip *c, const uint8_t *d, unsigned int len)
{
    c->pointer = len >= 2 ? (unsigned int)(d[0] << 8 | d[1]) : 0;
    return 0;
}

static int sht3x_read(struct chip *c, uint8_t *d, unsigned int len)
{
    double t = 20, rh = 50;
    uint8_t w[6] = {0};
    unsigned int raw;

    if ((c->pointer & 0xff00) == 0x2400 || (c->pointer & 0xff00) == 0x2c00 ||
        c->pointer == 0xe000) {
        inputs(c, &t, &rh);
        raw = (unsigned int)((t + 45) * 65535 / 175 + 0.5);
        w[0] = (uint8_t)(raw >> 8);
        w[1] = (uint8_t)raw;
        raw = (unsigned int)(rh * 65535 / 100 + 0.5);
        w[3] = (uint8_t)(raw >> 8);
        w[4] = (uint8_t)raw;
    } /* status, limits: zeroes */
    w[2] = sht_crc(w);
    w[5] = sht_crc(w + 3);
    if (fault_is(c, "crc"))
        w[2] ^= 0xff;
    memcpy(d, w, len < 6 ? len : 6);
    return 0;
}

/* Any DAC that only listens: keeps the last bytes for the log. */
static int sink_write(struct chip *c, const uint8_t *d, unsigned int len)
{
    memcpy(c->reg, d, len < sizeof(c->reg) ? len : sizeof(c->reg));
    return 0;
}

static const struct model models[] = {
    {"regs", regs_write, regs_read},
    {"mcp4725", mcp4725_write, mcp4725_read},
    {"sht3x", sht3x_write, sht3x_read},
    {"sink", sink_write, regs_read},
};

/* ---- bus -------------------------------------------------------------- */

static void *bind_drivers(void *arg)
{
    for (int i = 0; i < nchips; i++) {
        struct vi2c_client want = {.addr = (uint16_t)chips[i].addr};

        if (chips[i].driver[0] == '\0')
            continue;
        memcpy(want.name, chips[i].driver, sizeof(want.name));
        if (ioctl(bus_fd, VI2C_NEW_CLIENT, &want) != 0)
            fprintf(stderr, "chips: %s: %s\n", want.name, strerror(errno));
    }
    return arg;
}

static void handle(const uint8_t *req, size_t size)
{
    uint8_t out[sizeof(struct vi2c_reply) + VI2C_MAX_BYTES];
    struct vi2c_reply reply = {0};
    struct vi2c_request head;
    struct vi2c_msg m;
    const uint8_t *data;
    size_t filled = sizeof(reply);
    struct timespec now;
    struct chip *c = NULL;

    (void)size;
    memcpy(&head, req, sizeof(head));
    data = req + sizeof(head) + head.nmsgs * sizeof(m);
    reply.id = head.id;
    clock_gettime(CLOCK_MONOTONIC, &now);
    fprintf(log_file, "%ld.%03ld", (long)now.tv_sec, now.tv_nsec / 1000000);
    for (uint32_t i = 0; i < head.nmsgs && reply.result == 0; i++) {
        memcpy(&m, req + sizeof(head) + i * sizeof(m), sizeof(m));
        if (i == 0) {
            fprintf(log_file, " %02x", m.addr);
            for (int k = 0; k < nchips; k++)
                if (chips[k].addr == m.addr)
                    c = &chips[k];
            if (c == NULL || fault_is(c, "nak"))
                reply.result = -ENXIO;
            else if (fault_is(c, "timeout"))
                reply.result = -ETIMEDOUT;
            if (reply.result != 0)
                break;
        }
        if (m.flags & VI2C_RD) {
            reply.result = c->model->read(c, out + filled, m.len);
            fprintf(log_file, "%s r", i ? " |" : "");
            for (unsigned int k = 0; k < m.len; k++)
                fprintf(log_file, " %02x", out[filled + k]);
            filled += m.len;
        } else {
            reply.result = c->model->write(c, data, m.len);
            fprintf(log_file, "%s w", i ? " |" : "");
            for (unsigned int k = 0; k < m.len; k++)
                fprintf(log_file, " %02x", data[k]);
            data += m.len;
        }
    }
    fprintf(log_file, " = %d\n", reply.result);
    fflush(log_file);
    memcpy(out, &reply, sizeof(reply));
    if (write(bus_fd, out, filled) < 0 && errno != ESTALE)
        perror("chips: write");
}

int main(int argc, char **argv)
{
    uint8_t
        req[sizeof(struct vi2c_request) + VI2C_MAX_MSGS * sizeof(struct vi2c_msg) + VI2C_MAX_BYTES];
    char path[256];
    pthread_t binder;
    int32_t bus;
    FILE *f;

    if (argc < 3) {
        fprintf(stderr, "usage: chips DIR NAME@ADDR[:DRIVER]...\n");
        return 2;
    }
    dir = argv[1];
    for (int i = 2; i < argc && nchips < MAX_CHIPS; i++) {
        struct chip *c = &chips[nchips];
        char name[20];

        if (sscanf(argv[i], "%19[^@]@%x:%19s", name, &c->addr, c->driver) < 2) {
            fprintf(stderr, "chips: bad chip '%s'\n", argv[i]);
            return 2;
        }
        for (size_t k = 0; k < sizeof(models) / sizeof(models[0]); k++)
            if (strcmp(models[k].name, name) == 0)
                c->model = &models[k];
        if (c->model == NULL) {
            fprintf(stderr, "chips: no model '%s'\n", name);
            return 2;
        }
        nchips++;
    }
    snprintf(path, sizeof(path), "%s/log", dir);
    log_file = fopen(path, "w");
    bus_fd = open("/dev/vi2c", O_RDWR);
    if (log_file == NULL || bus_fd < 0 || ioctl(bus_fd, VI2C_GET_BUS, &bus) != 0) {
        perror("chips");
        return 1;
    }
    pthread_create(&binder, NULL, bind_drivers, NULL);
    snprintf(path, sizeof(path), "%s/bus", dir);
    f = fopen(path, "w");
    if (f != NULL) {
        fprintf(f, "%d\n", bus);
        fclose(f);
    }
    for (;;) {
        ssize_t n = read(bus_fd, req, sizeof(req));

        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0) {
            perror("chips: read");
            return 1;
        }
        handle(req, (size_t)n);
    }
}
