/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Modbus RTU framing of the bench device on a serial line or pseudo terminal.
 *
 * A request is answered as soon as its length, known from its function, is there and its CRC fits.
 * Anything else is discarded after a silence: user space cannot measure the 1.5 characters of the
 * standard.
 */
#include "bench_device.h"

#include "clock.h"
#include "err.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#define FRAME_MAX      256 /* MODBUS over Serial Line V1.02, 2.3 */
#define GAP_CHARACTERS 3.5
#define CHARACTER_BITS 11
#define GAP_MIN_NS     (20 * CLOCK_NS_PER_MS) /* schedulers and USB converters split frames */

struct bench_rtu {
    int fd;
    const char *path;
    int64_t gap_ns;
    int64_t last_byte_ns;
    size_t in_size, out_size;
    int64_t out_due_ns;
    uint8_t in[FRAME_MAX], out[FRAME_MAX];
};

static const struct {
    int baud;
    speed_t speed;
} speeds[] = {{1200, B1200},   {2400, B2400},   {4800, B4800},   {9600, B9600},
              {19200, B19200}, {38400, B38400}, {57600, B57600}, {115200, B115200}};

static int set_line(int fd, const struct bench_rtu_options *options, struct err *err)
{
    size_t i = 0;
    while (i < sizeof speeds / sizeof *speeds && speeds[i].baud != options->baud) {
        i++;
    }
    if (i == sizeof speeds / sizeof *speeds) {
        return err_fail(err, EINVAL,
                        "baud %d is not one of 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200",
                        options->baud);
    }
    struct termios line;
    if (tcgetattr(fd, &line) < 0) {
        return err_fail(err, errno, "%s is not a serial line: %s", options->path, err_name(errno));
    }
    cfmakeraw(&line);
    line.c_cflag |= CLOCAL | CREAD;
    line.c_cflag &= ~(tcflag_t)(PARENB | PARODD | CSTOPB | CRTSCTS);
    if (options->parity != 'N') {
        line.c_cflag |= PARENB;
        line.c_iflag |= INPCK | IGNPAR;
    }
    if (options->parity == 'O') {
        line.c_cflag |= PARODD;
    }
    if (options->stop_bits == 2) {
        line.c_cflag |= CSTOPB;
    }
    line.c_cc[VMIN] = 1; /* without bytes a read says EAGAIN; 0 bytes mean the line is gone */
    line.c_cc[VTIME] = 0;
    if (cfsetispeed(&line, speeds[i].speed) < 0 || cfsetospeed(&line, speeds[i].speed) < 0 ||
        tcsetattr(fd, TCSANOW, &line) < 0) {
        return err_fail(err, errno, "%s: cannot set the line: %s", options->path, err_name(errno));
    }
    return 0;
}

int bench_rtu_open(const struct bench_rtu_options *options, struct bench_rtu **ret, struct err *err)
{
    int fd = open(options->path, O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0) {
        return err_fail(err, errno, "%s: %s", options->path, err_name(errno));
    }
    int code = set_line(fd, options, err);
    if (code == 0 && ioctl(fd, TIOCEXCL) < 0) {
        code = err_fail(err, errno, "%s: %s", options->path, err_name(errno));
    }
    struct bench_rtu *rtu = code == 0 ? calloc(1, sizeof *rtu) : NULL;
    if (!rtu) {
        (void)close(fd);
        return code < 0 ? code : err_fail(err, ENOMEM, "no memory for the line");
    }
    rtu->fd = fd;
    rtu->path = options->path;
    double gap_s = GAP_CHARACTERS * CHARACTER_BITS / options->baud;
    rtu->gap_ns = (int64_t)(gap_s * (double)CLOCK_NS_PER_S);
    rtu->gap_ns = rtu->gap_ns > GAP_MIN_NS ? rtu->gap_ns : GAP_MIN_NS;
    *ret = rtu;
    return 0;
}

void bench_rtu_close(struct bench_rtu *rtu)
{
    if (rtu) {
        (void)close(rtu->fd);
        free(rtu);
    }
}

int bench_rtu_fd(const struct bench_rtu *rtu)
{
    return rtu->fd;
}

int64_t bench_rtu_due_ns(const struct bench_rtu *rtu)
{
    int64_t due_ns = BENCH_NEVER_NS;
    if (rtu->out_size) {
        due_ns = rtu->out_due_ns;
    }
    if (rtu->in_size && rtu->last_byte_ns + rtu->gap_ns < due_ns) {
        due_ns = rtu->last_byte_ns + rtu->gap_ns;
    }
    return due_ns;
}

/* CRC-16 of MODBUS over Serial Line V1.02, 6.2.2: start FFFF, polynomial A001 reflected. */
static uint16_t crc16(const uint8_t *bytes, size_t size)
{
    unsigned crc = 0xFFFF;
    for (size_t i = 0; i < size; i++) {
        crc ^= bytes[i];
        for (int bit = 0; bit < 8; bit++) {
            crc = crc & 1 ? crc >> 1 ^ 0xA001 : crc >> 1;
        }
    }
    return (uint16_t)crc;
}

/* Length of a request as its function says; 0: not known yet. */
static size_t request_size(const uint8_t *in, size_t size)
{
    if (size < 2) {
        return 0;
    }
    if (in[1] == 15 || in[1] == 16) {
        return size < 7 ? 0 : 9 + (size_t)in[6];
    }
    return 8;
}

/* Of any length when a silence ended it: a bad length gets its exception only with a good CRC. */
static bool is_whole(const uint8_t *in, size_t size)
{
    return size >= 4 && crc16(in, size - 2) == (in[size - 2] | in[size - 1] << 8);
}

static void answer_frame(struct bench_rtu *rtu, struct bench_device *device, int64_t now_ns)
{
    bench_device_catch_up(device, now_ns);
    int length =
        bench_device_answer(device, rtu->in[0], rtu->in + 1, rtu->in_size - 3, rtu->out + 1);
    rtu->in_size = 0;
    if (length <= 0) {
        return; /* not ours, or silent by script */
    }
    rtu->out[0] = rtu->in[0];
    rtu->out_size = 1 + (size_t)length;
    uint16_t crc = crc16(rtu->out, rtu->out_size);
    rtu->out[rtu->out_size++] = (uint8_t)(crc & 0xFF);
    rtu->out[rtu->out_size++] = (uint8_t)(crc >> 8);
    rtu->out_due_ns = now_ns + bench_device_lateness_ns(device);
}

static int take_in(struct bench_rtu *rtu, int64_t now_ns, struct err *err)
{
    if (rtu->in_size == sizeof rtu->in) {
        rtu->in_size = 0; /* longer than any frame: noise */
    }
    ssize_t got = read(rtu->fd, rtu->in + rtu->in_size, sizeof rtu->in - rtu->in_size);
    if (got < 0 && (errno == EAGAIN || errno == EINTR)) {
        return 0;
    }
    if (got <= 0) {
        return err_fail(err, EIO, "%s: the line is gone", rtu->path);
    }
    rtu->in_size += (size_t)got;
    rtu->last_byte_ns = now_ns;
    return 0;
}

int bench_rtu_serve(struct bench_rtu *rtu, struct bench_device *device, const struct pollfd *fd,
                    int64_t now_ns, struct err *err)
{
    if (fd->revents & (POLLIN | POLLHUP | POLLERR | POLLNVAL)) {
        int code = take_in(rtu, now_ns, err);
        if (code < 0) {
            return code;
        }
    }
    bool is_over = rtu->in_size && now_ns - rtu->last_byte_ns >= rtu->gap_ns;
    bool is_full = rtu->in_size && rtu->in_size == request_size(rtu->in, rtu->in_size);
    if ((is_over || is_full) && is_whole(rtu->in, rtu->in_size)) {
        answer_frame(rtu, device, now_ns); /* a new request overrides an answer still waiting */
    } else if (is_over) {
        rtu->in_size = 0;
    }
    if (rtu->out_size && rtu->out_due_ns <= now_ns) {
        /* a master that does not read loses the answer, as on a real line */
        ssize_t sent = write(rtu->fd, rtu->out, rtu->out_size);
        if (sent < 0 && errno == EIO) {
            return err_fail(err, EIO, "%s: the line is gone", rtu->path);
        }
        rtu->out_size = 0;
    }
    return 0;
}
