/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Reads a second of our driver on TCP over those of a bare loop of libmodbus, six registers each,
 * against the same server on loopback: what connection, checks and plan cost beside the library.
 * The server frames by itself. All on one processor: where two threads happen to run changes their
 * rates many times over. The two take turns of 50 ms, and the upper quartiles of the turns are
 * compared, in which the machine did little else.
 */
#include "clock.h"
#include "err.h"
#include "log.h"
#include "option_fill.h"

#include <modbus.h>

#include <arpa/inet.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <pthread.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

enum { REGISTERS = 6, TURNS = 50, REQUEST = 12, HEADER = 6 };

static const int64_t turn_ns = CLOCK_NS_PER_S / 20;

/* --- the server ------------------------------------------------------------------------------ */

/* One connection. Every register holds 0; ends with its connection. */
static void *serve(void *context)
{
    int fd = *(int *)context, one = 1;
    uint8_t request[REQUEST], answer[HEADER + 3 + 2 * 255] = {0};
    (void)setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
    while (recv(fd, request, sizeof request, MSG_WAITALL) == REQUEST) {
        uint8_t registers = request[11];
        memcpy(answer, request, 8); /* transaction, protocol, length, unit, function */
        answer[5] = (uint8_t)(3 + 2 * registers);
        answer[8] = (uint8_t)(2 * registers);
        ssize_t size = HEADER + 3 + 2 * registers;
        if (send(fd, answer, (size_t)size, MSG_NOSIGNAL) != size) {
            break;
        }
    }
    (void)close(fd);
    return NULL;
}

/* Accepts both connections, a thread each. */
static void *accept_both(void *context)
{
    static int connections[2];
    int listener = *(int *)context;
    pthread_t threads[2];
    int count = 0;
    while (count < 2) {
        connections[count] = accept(listener, NULL, NULL);
        if (connections[count] < 0 ||
            pthread_create(&threads[count], NULL, serve, &connections[count]) != 0) {
            break;
        }
        count++;
    }
    for (int i = 0; i < count; i++) {
        (void)pthread_join(threads[i], NULL);
    }
    return NULL;
}

static int listen_on_loopback(int *ret_port)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof address;
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    if (fd < 0 || bind(fd, (struct sockaddr *)&address, size) != 0 || listen(fd, 2) != 0 ||
        getsockname(fd, (struct sockaddr *)&address, &size) != 0) {
        return -1;
    }
    *ret_port = ntohs(address.sin_port);
    return fd;
}

/* --- the two --------------------------------------------------------------------------------- */

static const struct driver *driver;
static struct bus *bus;
static modbus_t *library;

static bool open_driver(int port)
{
    static struct option_fill bus_options, options; /* its texts outlive the bus */
    struct err err;
    char text[100];
    (void)snprintf(text, sizeof text, "host=127.0.0.1 port=%d", port);
    int rc = driver->create(option_fill(&bus_options, driver->bus_options, text), &bus, &err);
    for (int i = 0; rc >= 0 && i < REGISTERS; i++) {
        (void)snprintf(text, sizeof text, "register=%d", i);
        rc = driver->add_sensor(bus, SENSOR_PPFD,
                                option_fill(&options, driver->sensor_options, text), &err);
    }
    if (rc >= 0) {
        rc = driver->connect(bus, &err);
    }
    if (rc < 0) {
        (void)fprintf(stderr, "%s\n", err.text);
    }
    return rc >= 0;
}

static bool open_library(int port)
{
    library = modbus_new_tcp("127.0.0.1", port);
    return library && modbus_connect(library) == 0;
}

static bool read_driver(void)
{
    struct sample samples[REGISTERS];
    return driver->read(bus, samples, NULL) == 0;
}

static bool read_library(void)
{
    uint16_t words[REGISTERS];
    return modbus_read_registers(library, 0, REGISTERS, words) == REGISTERS;
}

/* Reads for one turn and returns reads a second; 0: a read failed. */
static double take_turn(bool (*read_one)(void))
{
    int64_t begin_ns = clock_boot_ns(), end_ns = begin_ns;
    int reads = 0;
    while (end_ns - begin_ns < turn_ns) {
        if (!read_one()) {
            return 0;
        }
        reads++;
        end_ns = clock_boot_ns();
    }
    return reads / ((double)(end_ns - begin_ns) / 1e9);
}

static int compare(const void *left, const void *right)
{
    const double *a = left, *b = right;
    return (*a > *b) - (*a < *b);
}

static bool measure(void)
{
    double bare[TURNS], ours[TURNS];
    for (int i = 0; i < TURNS; i++) {
        bare[i] = take_turn(read_library);
        ours[i] = take_turn(read_driver);
        if (bare[i] == 0 || ours[i] == 0) {
            (void)fprintf(stderr, "a read failed\n");
            return false;
        }
    }
    qsort(bare, TURNS, sizeof bare[0], compare);
    qsort(ours, TURNS, sizeof ours[0], compare);
    double mine = ours[TURNS * 3 / 4], theirs = bare[TURNS * 3 / 4];
    (void)fprintf(stderr, "bus.tcp_ratio: %.0f of %.0f reads a second\n", mine, theirs);
    (void)printf("bus.tcp_ratio %.3f 1\n", mine / theirs);
    return true;
}

static void stay_here(void)
{
    cpu_set_t here;
    CPU_ZERO(&here);
    CPU_SET((size_t)sched_getcpu(), &here);
    (void)sched_setaffinity(0, sizeof here, &here); /* without it the figure scatters */
}

int main(void)
{
    int port = 0, listener = listen_on_loopback(&port);
    pthread_t server;
    driver = driver_find("modbus-tcp");
    log_set_level(LOG_LEVEL_ERROR);
    stay_here();
    if (listener < 0 || !driver || pthread_create(&server, NULL, accept_both, &listener) != 0) {
        (void)fprintf(stderr, "no loopback, or built without the driver\n");
        return 1;
    }
    /* The program ends with its server's threads; nothing is kept in them. */
    return open_library(port) && open_driver(port) && measure() ? 0 : 1;
}
