/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Runs inside the machine of the kernel tests and does what the test script on the host asks, over
 * one byte stream (a virtio-serial port).
 *
 *   host -> guest            guest -> host
 *   X <len>\n<script>        R <exit status> <len>\n<stdout and stderr>
 *   P <octal mode> <len> <path>\n<bytes>      R 0 0\n   (put a file)
 *   G <path>\n               R 0 <len>\n<bytes>         (get a file)
 *
 * A script's output goes to an unlinked temporary file, not a pipe: a daemon
 * that the script leaves in the background can't hold up the answer.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

static int port;

static void die(const char *what)
{
    perror(what);
    exit(1);
}

static void read_exact(void *buf, size_t len)
{
    char *p = buf;

    while (len > 0) {
        ssize_t n = read(port, p, len);

        if (n < 0 && errno == EINTR)
            continue;
        if (n <= 0) { /* the host is not connected */
            usleep(10000);
            continue;
        }
        p += n;
        len -= (size_t)n;
    }
}

static void write_all(const void *buf, size_t len)
{
    const char *p = buf;

    while (len > 0) {
        ssize_t n = write(port, p, len);

        if (n < 0 && (errno == EINTR || errno == EAGAIN))
            continue;
        if (n <= 0)
            die("agent: write");
        p += n;
        len -= (size_t)n;
    }
}

static void read_line(char *line, size_t size)
{
    size_t n = 0;

    for (;;) {
        char c;

        read_exact(&c, 1);
        if (c == '\n')
            break;
        if (n + 1 < size)
            line[n++] = c;
    }
    line[n] = '\0';
}

static void answer(int status, const void *data, size_t len)
{
    char head[64];
    int n = snprintf(head, sizeof(head), "R %d %zu\n", status, len);

    write_all(head, (size_t)n);
    write_all(data, len);
}

static void answer_errno(const char *what)
{
    char text[256];
    int n = snprintf(text, sizeof(text), "%s: %s\n", what, strerror(errno));

    answer(255, text, (size_t)n);
}

/* Send a whole file, from its start. */
static void answer_file(int status, int fd)
{
    struct stat st;
    char *data = NULL;
    size_t len = 0, room = 0;

    if (fstat(fd, &st) == 0 && st.st_size > 0)
        room = (size_t)st.st_size;
    lseek(fd, 0, SEEK_SET);
    for (;;) { /* files in sysfs and proc lie on size */
        ssize_t n;

        if (len == room || data == NULL) {
            room = room + 65536;
            data = realloc(data, room);
            if (data == NULL)
                die("agent: realloc");
        }
        n = read(fd, data + len, room - len);
        if (n < 0) {
            answer_errno("read");
            free(data);
            return;
        }
        if (n == 0)
            break;
        len += (size_t)n;
    }
    answer(status, data, len);
    free(data);
}

static void run(size_t len)
{
    char *script = malloc(len + 1);
    int status = 0, out;
    pid_t pid;

    if (script == NULL)
        die("agent: malloc");
    read_exact(script, len);
    script[len] = '\0';
    out = memfd_create("output", MFD_CLOEXEC);
    if (out < 0)
        die("agent: memfd_create");
    pid = fork();
    if (pid < 0)
        die("agent: fork");
    if (pid == 0) {
        int null = open("/dev/null", O_RDONLY);

        /* A process group of its own, so that a background job of one
         * request survives the next. */
        setsid();
        dup2(null, 0);
        dup2(out, 1);
        dup2(out, 2);
        execl("/bin/sh", "sh", "-c", script, (char *)NULL);
        _exit(127);
    }
    free(script);
    while (waitpid(pid, &status, 0) < 0 && errno == EINTR)
        ;
    answer_file(WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status), out);
    close(out);
}

static void put(unsigned int mode, size_t len, const char *path)
{
    char *data = malloc(len ? len : 1);
    int fd;

    if (data == NULL)
        die("agent: malloc");
    read_exact(data, len);
    unlink(path); /* a running program may be replaced */
    fd = open(path, O_WRONLY | O_CREAT | O_TRUNC, mode);
    if (fd < 0 || write(fd, data, len) != (ssize_t)len || fchmod(fd, mode) != 0)
        answer_errno(path);
    else
        answer(0, "", 0);
    if (fd >= 0)
        close(fd);
    free(data);
}

int main(int argc, char **argv)
{
    char line[4096], path[4096];
    unsigned int mode;
    size_t len;

    if (argc != 2) {
        fprintf(stderr, "usage: agent PORT\n");
        return 2;
    }
    port = open(argv[1], O_RDWR | O_CLOEXEC);
    if (port < 0)
        die(argv[1]);
    write_all("HELLO\n", 6);
    for (;;) {
        read_line(line, sizeof(line));
        if (sscanf(line, "X %zu", &len) == 1) {
            run(len);
        } else if (sscanf(line, "P %o %zu %4095[^\n]", &mode, &len, path) == 3) {
            put(mode, len, path);
        } else if (sscanf(line, "G %4095[^\n]", path) == 1) {
            int fd = open(path, O_RDONLY);

            if (fd < 0) {
                answer_errno(path);
            } else {
                answer_file(0, fd);
                close(fd);
            }
        }
    }
}
