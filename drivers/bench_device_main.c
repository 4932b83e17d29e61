/* SPDX-License-Identifier: Apache-2.0 */
/* `lampwarden-bench`: arguments, signals and the poll loop around the bench device. */
#include "bench_device.h"
#include "bench_faults.h"

#include "clock.h"
#include "err.h"
#include "parse.h"

#include <errno.h>
#include <getopt.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

enum { EXIT_STOPPED = 0, EXIT_BROKEN = 1, EXIT_USAGE = 2 };

#define USUAL_ADDRESS "127.0.0.1:1502"

struct settings {
    const char *tcp, *script, *layout;
    struct bench_rtu_options rtu;
    int64_t seed;
    double full_umol, full_watts, trip_drive, trip_cold_c, room_c, room_swing_c, daylight_umol,
        pace;
};

static const char help_head[] =
    "lampwarden-bench - simulated fixtures, sensors and a room, served as a Modbus device\n"
    "\n"
    "Usage: lampwarden-bench [OPTION VALUE]...\n"
    "\n"
    "Where it is served (both may be given; without either: --tcp " USUAL_ADDRESS ")\n"
    "  --tcp ADDRESS:PORT   loopback only, e.g. 127.0.0.1:1502 or [::1]:1502; port 0 takes a free "
    "one\n"
    "  --rtu DEVICE         a serial line or pseudo terminal\n"
    "  --baud N             1200 ... 115200 (19200)\n"
    "  --parity WORD        none, even or odd (even)\n"
    "  --stop N             stop bits, 1 or 2 (1)\n"
    "\n"
    "What is simulated\n"
    "  --layout LIST        fixtures over each canopy: 2,1,1 is two over canopy 0, one each over\n"
    "                       canopies 1 and 2; at most 64 fixtures (1)\n"
    "  --full-umol X        PPFD of each fixture at its canopy at full light, cold (420)\n"
    "  --full-watts X       wall power of each fixture at full light (300)\n"
    "  --trip-drive X       the LED drivers trip above this drive; above 1: never (2)\n"
    "  --trip-cold-c X      ... only while the heatsink is colder than this (200)\n"
    "  --room-c X           mean temperature of the room in C (22)\n"
    "  --room-swing-c X     half its daily swing in K, coldest at the start (2)\n"
    "  --daylight-umol X    steady daylight on every canopy (0)\n"
    "  --seed N             the same seed and commands give the same noise (1)\n"
    "  --pace X             times real time, 0.1 ... 3600 (1)\n"
    "  --script FILE        faults, one a line: FROM LENGTH KIND UNIT [VALUE], # begins a "
    "comment:\n"
    "                         12h  1h    ppfd-silent 0\n"
    "                         14h  30min heat-step   1 25\n"
    "                       times count from the start of the bench; units count from 0\n"
    "\n"
    "  --help, --version\n"
    "\n"
    "Prints one line \"ready on 127.0.0.1:1502\" when it can be asked, and ends on SIGTERM or "
    "SIGINT.\n"
    "Exit status: 0 stopped, 1 could not serve, 2 bad arguments.\n"
    "A simulation without authentication: nothing it says may be taken for a real fixture.\n"
    "\n"
    "Registers. Unit id: 1 + fixture. Functions 1, 3, 4, 5, 6, 15, 16.\n"
    "  coil 0               the switch\n"
    "  holding register 0   drive, 0 ... 10000\n"
    "  input registers, and the same as holding registers 100 higher:\n"
    "    0  PPFD x 10 of the fixture's canopy, unsigned; 65535 is not a number\n"
    "    1  heatsink C x 10, signed     2  wall power W x 10, unsigned\n"
    "    3  air C x 10, signed          4  relative humidity % x 10, unsigned\n"
    "    8  times real time x 10        9  always 19543 (0x4C57)\n"
    "    10 PPFD, 12 heatsink C, 14 wall power W: float in two registers, high word first\n";

static void print_help(void)
{
    (void)fputs(help_head, stdout);
    (void)fputs("\nFault kinds:", stdout);
    for (int i = 0; i < BENCH_FAULT_KINDS; i++) {
        (void)printf(" %s", bench_fault_name((enum bench_fault_kind)i));
    }
    (void)fputs("\n\nDimming curve of every fixture (drive, level, share of the full watts):\n",
                stdout);
    for (int i = 0; i < BENCH_CURVE_POINTS; i++) {
        (void)printf("  %.2f  %.3f  %.4f\n", bench_curve[i].drive, bench_curve[i].level,
                     bench_curve[i].watts_share);
    }
}

/* Options with a number in a range. */
static const struct number {
    const char *name;
    size_t offset;
    double low, high;
} numbers[] = {
    {"full-umol", offsetof(struct settings, full_umol), 1, 3000},
    {"full-watts", offsetof(struct settings, full_watts), 1, 3000},
    {"trip-drive", offsetof(struct settings, trip_drive), 0.1, 2},
    {"trip-cold-c", offsetof(struct settings, trip_cold_c), -40, 200},
    {"room-c", offsetof(struct settings, room_c), -20, 60},
    {"room-swing-c", offsetof(struct settings, room_swing_c), 0, 20},
    {"daylight-umol", offsetof(struct settings, daylight_umol), 0, 2500},
    {"pace", offsetof(struct settings, pace), 0.1, 3600},
};

#define NUMBERS_BASE 1000 /* getopt values of the table above */

enum word {
    WORD_TCP = 1,
    WORD_RTU,
    WORD_BAUD,
    WORD_PARITY,
    WORD_STOP,
    WORD_LAYOUT,
    WORD_SEED,
    WORD_SCRIPT,
    WORD_HELP,
    WORD_VERSION
};

static const struct option words[] = {
    {"tcp", required_argument, NULL, WORD_TCP},   {"rtu", required_argument, NULL, WORD_RTU},
    {"baud", required_argument, NULL, WORD_BAUD}, {"parity", required_argument, NULL, WORD_PARITY},
    {"stop", required_argument, NULL, WORD_STOP}, {"layout", required_argument, NULL, WORD_LAYOUT},
    {"seed", required_argument, NULL, WORD_SEED}, {"script", required_argument, NULL, WORD_SCRIPT},
    {"help", no_argument, NULL, WORD_HELP},       {"version", no_argument, NULL, WORD_VERSION},
};

#define WORD_COUNT   (sizeof words / sizeof *words)
#define NUMBER_COUNT (sizeof numbers / sizeof *numbers)

static int read_parity(const char *text, char *ret, struct err *err)
{
    static const char *const names[] = {"none", "even", "odd"};
    for (size_t i = 0; i < 3; i++) {
        if (strcmp(text, names[i]) == 0) {
            *ret = "NEO"[i];
            return 0;
        }
    }
    return err_fail(err, EINVAL, "\"%.32s\" is not one of none, even, odd", text);
}

static int read_word(struct settings *settings, enum word word, const char *text, struct err *err)
{
    int64_t number = 0;
    int code = 0;
    switch (word) {
    case WORD_TCP:
        settings->tcp = text;
        break;
    case WORD_RTU:
        settings->rtu.path = text;
        break;
    case WORD_BAUD:
        code = parse_int(text, 1200, 115200, &number, err);
        settings->rtu.baud = (int)number;
        break;
    case WORD_PARITY:
        code = read_parity(text, &settings->rtu.parity, err);
        break;
    case WORD_STOP:
        code = parse_int(text, 1, 2, &number, err);
        settings->rtu.stop_bits = (int)number;
        break;
    case WORD_LAYOUT:
        settings->layout = text;
        break;
    case WORD_SEED:
        code = parse_int(text, 0, INT64_MAX, &settings->seed, err);
        break;
    case WORD_SCRIPT:
        settings->script = text;
        break;
    case WORD_HELP:
    case WORD_VERSION:
        break;
    }
    return code;
}

/* Returns −1 to go on, else the exit status. */
static int read_arguments(int argc, char **argv, struct settings *settings)
{
    struct option table[WORD_COUNT + NUMBER_COUNT + 1] = {{0}};
    memcpy(table, words, sizeof words);
    for (size_t i = 0; i < NUMBER_COUNT; i++) {
        table[WORD_COUNT + i] =
            (struct option){numbers[i].name, required_argument, NULL, NUMBERS_BASE + (int)i};
    }
    int found = 0, index = 0;
    while ((found = getopt_long(argc, argv, "", table, &index)) != -1) {
        struct err err = {.text = ""};
        int code = 0;
        if (found == WORD_HELP) {
            print_help();
            return EXIT_STOPPED;
        }
        if (found == WORD_VERSION) {
            (void)puts("lampwarden-bench " LAMPWARDEN_VERSION);
            return EXIT_STOPPED;
        }
        if (found >= NUMBERS_BASE) {
            const struct number *number = &numbers[found - NUMBERS_BASE];
            double *place = (void *)((char *)settings + number->offset);
            code = parse_real(optarg, number->low, number->high, place, &err);
        } else if (found != '?') {
            code = read_word(settings, (enum word)found, optarg, &err);
        }
        if (found == '?' || code < 0) {
            if (code < 0) {
                (void)fprintf(stderr, "lampwarden-bench: --%s: %s\n", table[index].name, err.text);
            }
            (void)fputs("Try: lampwarden-bench --help\n", stderr);
            return EXIT_USAGE;
        }
    }
    if (optind < argc) {
        (void)fprintf(stderr, "lampwarden-bench: \"%s\" is one word too many\n", argv[optind]);
        return EXIT_USAGE;
    }
    return -1;
}

static int make_model(const struct settings *settings, struct bench_model **ret, struct err *err)
{
    struct bench_setup setup;
    bench_setup_defaults(&setup);
    setup.seed = (uint64_t)settings->seed;
    setup.room_c = settings->room_c;
    setup.room_swing_c = settings->room_swing_c;
    int code = bench_setup_layout(&setup, settings->layout, settings->full_umol,
                                  settings->full_watts, err);
    if (code < 0) {
        return code;
    }
    for (int i = 0; i < setup.fixture_count; i++) {
        setup.fixtures[i].trip_drive = settings->trip_drive;
        setup.fixtures[i].trip_cold_c = settings->trip_cold_c;
    }
    struct bench_model *model = bench_model_create(&setup);
    if (!model) {
        return err_fail(err, ENOMEM, "no memory for the bench");
    }
    for (int i = 0; i < setup.canopy_count; i++) {
        bench_model_set_daylight(model, i, settings->daylight_umol);
    }
    code = settings->script ? bench_faults_load(model, settings->script, err) : 0;
    if (code < 0) {
        bench_model_destroy(model);
        return code;
    }
    *ret = model;
    return 0;
}

struct lines {
    struct bench_tcp *tcp;
    struct bench_rtu *rtu;
    int stop_fd;
};

static int open_lines(const struct settings *settings, struct lines *lines, struct err *err)
{
    sigset_t stop;
    (void)sigemptyset(&stop);
    (void)sigaddset(&stop, SIGTERM);
    (void)sigaddset(&stop, SIGINT);
    (void)signal(SIGPIPE, SIG_IGN);
    if (sigprocmask(SIG_BLOCK, &stop, NULL) < 0 ||
        (lines->stop_fd = signalfd(-1, &stop, SFD_CLOEXEC | SFD_NONBLOCK)) < 0) {
        return err_fail(err, errno, "signals: %s", err_name(errno));
    }
    int code = 0;
    if (settings->rtu.path) {
        code = bench_rtu_open(&settings->rtu, &lines->rtu, err);
    }
    if (code == 0 && (settings->tcp || !settings->rtu.path)) {
        code = bench_tcp_open(settings->tcp ? settings->tcp : USUAL_ADDRESS, &lines->tcp, err);
    }
    return code;
}

static int wait_ms(const struct lines *lines, int64_t now_ns)
{
    int64_t due_ns = lines->tcp ? bench_tcp_due_ns(lines->tcp) : BENCH_NEVER_NS;
    if (lines->rtu && bench_rtu_due_ns(lines->rtu) < due_ns) {
        due_ns = bench_rtu_due_ns(lines->rtu);
    }
    if (due_ns == BENCH_NEVER_NS) {
        return -1;
    }
    int64_t wait = (due_ns - now_ns + CLOCK_NS_PER_MS - 1) / CLOCK_NS_PER_MS;
    return (int)(wait < 0 ? 0 : wait > 60000 ? 60000 : wait);
}

static int serve(struct lines *lines, struct bench_device *device, struct err *err)
{
    struct pollfd fds[3 + BENCH_CLIENTS_MAX];
    int code = 0;
    while (code == 0) {
        fds[0] = (struct pollfd){.fd = lines->stop_fd, .events = POLLIN};
        fds[1] =
            (struct pollfd){.fd = lines->rtu ? bench_rtu_fd(lines->rtu) : -1, .events = POLLIN};
        int count = 2 + (lines->tcp ? bench_tcp_poll(lines->tcp, fds + 2) : 0);
        if (poll(fds, (nfds_t)count, wait_ms(lines, clock_boot_ns())) < 0 && errno != EINTR) {
            return err_fail(err, errno, "poll: %s", err_name(errno));
        }
        if (fds[0].revents) {
            return 0;
        }
        int64_t now_ns = clock_boot_ns();
        if (lines->tcp) {
            bench_tcp_serve(lines->tcp, device, fds + 2, now_ns);
        }
        if (lines->rtu) {
            code = bench_rtu_serve(lines->rtu, device, &fds[1], now_ns, err);
        }
    }
    return code;
}

static void say_ready(const struct settings *settings, const struct lines *lines)
{
    (void)printf("ready on %s%s%s\n", lines->tcp ? bench_tcp_name(lines->tcp) : "",
                 lines->tcp && lines->rtu ? " and " : "", lines->rtu ? settings->rtu.path : "");
    (void)fflush(stdout);
}

int main(int argc, char **argv)
{
    struct settings settings = {.layout = "1",
                                .rtu = {.baud = 19200, .parity = 'E', .stop_bits = 1},
                                .seed = 1,
                                .full_umol = 420,
                                .full_watts = 300,
                                .trip_drive = 2,
                                .trip_cold_c = 200,
                                .room_c = 22,
                                .room_swing_c = 2,
                                .pace = 1};
    int status = read_arguments(argc, argv, &settings);
    if (status >= 0) {
        return status;
    }
    struct err err = {.text = ""};
    struct bench_device device = {.pace = settings.pace};
    struct lines lines = {.stop_fd = -1};
    status = EXIT_USAGE;
    int code = make_model(&settings, &device.model, &err);
    if (code == 0) {
        code = open_lines(&settings, &lines, &err);
        status = code == -EINVAL || code == -ERANGE || code == -EACCES ? EXIT_USAGE : EXIT_BROKEN;
    }
    if (code == 0) {
        device.stepped_ns = clock_boot_ns();
        say_ready(&settings, &lines);
        code = serve(&lines, &device, &err);
    }
    if (code < 0) {
        (void)fprintf(stderr, "lampwarden-bench: %s\n", err.text);
    }
    bench_tcp_close(lines.tcp);
    bench_rtu_close(lines.rtu);
    bench_model_destroy(device.model);
    return code < 0 ? status : EXIT_STOPPED;
}
