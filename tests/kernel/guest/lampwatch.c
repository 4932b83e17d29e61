/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Asks the daemon over and over and says on a line what it answers, for the host to read.
 *
 *   lampwatch SOCKET OUTPUT PERIOD_MS [REQUEST…]     REQUESTs are sent in turn, one a round
 *
 *   S <stored_event> <stored_s> <delivered_mol> <unix time of the question>
 *
 * Only what left this program counts as acknowledged. It needs no JSON library: each figure is the
 * number behind the first place at which its name stands in the answer; null counts as 0.
 */
#define _GNU_SOURCE
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

static char answer[1 << 20];

static int reach(const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    snprintf(address.sun_path, sizeof address.sun_path, "%s", path);
    int fd = socket(AF_UNIX, SOCK_STREAM, 0);
    if (fd >= 0 && connect(fd, (struct sockaddr *)&address, sizeof address) != 0) {
        close(fd);
        return -1;
    }
    return fd;
}

/* One line out, one line back; 0 when the daemon hung up. */
static int ask(int fd, const char *request)
{
    size_t have = 0;
    if (dprintf(fd, "%s\n", request) <= 0)
        return 0;
    while (have == 0 || answer[have - 1] != '\n') {
        ssize_t n = read(fd, answer + have, sizeof answer - 1 - have);
        if (n <= 0)
            return 0;
        have += (size_t)n;
    }
    answer[have] = '\0';
    return 1;
}

static double figure(const char *name)
{
    char key[64];
    int length = snprintf(key, sizeof key, "\"%s\":", name);
    const char *at = strstr(answer, key);
    return at ? strtod(at + length, NULL) : 0;
}

static void make_raw(int fd)
{
    struct termios line;
    if (tcgetattr(fd, &line) == 0) {
        cfmakeraw(&line);
        tcsetattr(fd, TCSANOW, &line);
    }
}

int main(int argc, char **argv)
{
    static const char status[] = "{\"jsonrpc\":\"2.0\",\"id\":1,\"method\":\"status\"}";
    if (argc < 4)
        return 2;
    int out = open(argv[2], O_WRONLY | O_NOCTTY | O_CREAT, 0600);
    long period_ms = strtol(argv[3], NULL, 10);
    const struct timespec pause = {period_ms / 1000, period_ms % 1000 * 1000000};
    make_raw(out);
    for (int fd = -1, round = 0;; nanosleep(&pause, NULL)) {
        if (fd < 0 && (fd = reach(argv[1])) < 0)
            continue;
        long now = (long)time(NULL);
        int goes_on = ask(fd, status);
        /* Before it is ready there are no spaces in the answer, so no figure to tell. */
        if (goes_on && strstr(answer, "\"delivered_mol\""))
            dprintf(out, "S %.0f %.0f %.9f %ld\n", figure("stored_event"), figure("stored_s"),
                    figure("delivered_mol"), now);
        if (goes_on && argc > 4)
            goes_on = ask(fd, argv[4 + round++ % (argc - 4)]);
        if (!goes_on) {
            close(fd);
            fd = -1;
        }
    }
}
