/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A child process reads the file first: what makes libconfig call exit() or overflow its stack ends
 * the child, and the caller keeps running on what it has. Only bytes that a child has survived are
 * read here.
 */
#include "config.h"

#include "clock.h"
#include "config_include.h"
#include "config_node.h"
#include "err.h"
#include "fileio.h"
#include "findings.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#define CHILD_LIMIT_S    5
#define REPORT_BYTES_MAX 262144

enum child_says { CHILD_FAILED = 1, CHILD_GOOD = 0x47, CHILD_BAD = 0x42 }; /* not by chance */

struct answer {
    int errors, warnings;
};

static bool write_all(int fd, const void *data, size_t size)
{
    const char *p = data;
    while (size > 0) {
        ssize_t done = write(fd, p, size);
        if (done <= 0) {
            return false;
        }
        p += done;
        size -= (size_t)done;
    }
    return true;
}

static void quiet_output(void)
{
    int nowhere = open("/dev/null", O_RDWR | O_CLOEXEC);
    if (nowhere >= 0) {
        (void)dup2(nowhere, STDOUT_FILENO);
        (void)dup2(nowhere, STDERR_FILENO);
    }
}

/* The child's whole life; its exit code. What the library prints before an exit would only confuse.
 */
static int be_child(int fd, const char *path, const struct config_whole *whole)
{
    const struct rlimit no_core = {0, 0};
    const struct rlimit cpu = {CHILD_LIMIT_S, CHILD_LIMIT_S};
    (void)prctl(PR_SET_PDEATHSIG, SIGKILL);
    (void)setrlimit(RLIMIT_CORE, &no_core);
    (void)setrlimit(RLIMIT_CPU, &cpu);
    (void)signal(SIGPIPE, SIG_DFL);
    quiet_output();
    struct config *config = NULL;
    struct config_report report;
    int r = config_load_whole(path, whole, &config, &report);
    struct answer answer = {report.errors, report.warnings};
    if (!report.text || !write_all(fd, &answer, sizeof answer) ||
        !write_all(fd, report.text, strlen(report.text))) {
        return CHILD_FAILED;
    }
    return r == 0 ? CHILD_GOOD : CHILD_BAD;
}

/* Reads until the child closes its end; false: too late, too much, or no memory. */
static bool hear(int fd, char *data, size_t room, size_t *ret_size)
{
    int64_t until_ns = clock_real_ns() + CHILD_LIMIT_S * CLOCK_NS_PER_S;
    size_t used = 0;
    for (;;) {
        int64_t left_ms = (until_ns - clock_real_ns()) / CLOCK_NS_PER_MS;
        struct pollfd end = {.fd = fd, .events = POLLIN};
        int ready = left_ms > 0 ? poll(&end, 1, (int)left_ms) : 0;
        if (ready < 0 && errno == EINTR) {
            continue;
        }
        if (ready <= 0 || used == room) {
            return false;
        }
        ssize_t got = read(fd, data + used, room - used);
        if (got < 0 && errno != EINTR) {
            return false;
        }
        if (got == 0) {
            *ret_size = used;
            return true;
        }
        used += got > 0 ? (size_t)got : 0;
    }
}

static int reap(pid_t child)
{
    int status = 0;
    while (waitpid(child, &status, 0) < 0) {
        if (errno != EINTR) {
            return -1; /* somebody else reaps: its answer cannot be trusted */
        }
    }
    return status;
}

static int report_death(const char *path, int status, bool was_late, struct config_report *ret)
{
    char text[160];
    if (was_late) {
        (void)snprintf(text, sizeof text, "reading it took longer than %d s and was stopped",
                       CHILD_LIMIT_S);
    } else if (WIFSIGNALED(status)) {
        (void)snprintf(text, sizeof text,
                       "reading it ended the reader (signal %d): not a usable file",
                       WTERMSIG(status));
    } else {
        (void)snprintf(text, sizeof text,
                       "reading it ended the reader (exit %d): not a usable file",
                       WEXITSTATUS(status));
    }
    int r = findings_report_one(path, text, ret);
    return r < 0 ? r : -EINVAL;
}

/* The child's whole answer lies in data. */
static int take_answer(const char *data, size_t size, struct config_report *ret)
{
    struct answer answer;
    memcpy(&answer, data, sizeof answer);
    size_t length = size - sizeof answer;
    char *text = malloc(length + 1);
    if (!text) {
        *ret = (struct config_report){0, 0, NULL};
        return -ENOMEM;
    }
    memcpy(text, data + sizeof answer, length);
    text[length] = '\0';
    ret->errors = answer.errors;
    ret->warnings = answer.warnings;
    ret->text = text;
    return -EINVAL;
}

/* 0: the same bytes may be read here. Otherwise the report is filled. */
static int try_in_child(const char *path, const struct config_whole *whole,
                        struct config_report *ret)
{
    int ends[2];
    char *data = malloc(REPORT_BYTES_MAX);
    *ret = (struct config_report){0, 0, NULL};
    if (!data || pipe2(ends, O_CLOEXEC) != 0) {
        int code = data ? errno : ENOMEM;
        free(data);
        return -code;
    }
    (void)fflush(NULL); /* an exit() in the child must not write the parent's buffers again */
    pid_t child = fork();
    if (child == 0) {
        (void)close(ends[0]);
        _exit(be_child(ends[1], path, whole));
    }
    int code = errno;
    (void)close(ends[1]);
    if (child < 0) {
        (void)close(ends[0]);
        free(data);
        return -code;
    }
    size_t heard = 0;
    bool was_heard = hear(ends[0], data, REPORT_BYTES_MAX, &heard);
    if (!was_heard) {
        (void)kill(child, SIGKILL);
    }
    (void)close(ends[0]);
    int status = reap(child);
    int r = 0;
    bool is_whole = was_heard && WIFEXITED(status) && heard >= sizeof(struct answer);
    if (!is_whole || (WEXITSTATUS(status) != CHILD_GOOD && WEXITSTATUS(status) != CHILD_BAD)) {
        r = report_death(path, status, !was_heard, ret);
    } else if (WEXITSTATUS(status) == CHILD_BAD) {
        r = take_answer(data, heard, ret);
    }
    free(data);
    return r;
}

int config_load_guarded(const char *path, struct config **ret, struct config_report *ret_report)
{
    char *text = NULL;
    size_t size = 0;
    struct err err;
    *ret = NULL;
    int r = fileio_read(path, CONFIG_BYTES_MAX, &text, &size, &err);
    if (r < 0) {
        (void)findings_report_one(path, err.text, ret_report); /* r says more than no memory */
        return r;
    }
    struct config_whole whole;
    r = config_join(path, text, size, &whole, ret_report);
    free(text);
    if (r < 0) {
        return r;
    }
    r = try_in_child(path, &whole, ret_report);
    if (r == 0) {
        r = config_load_whole(path, &whole, ret, ret_report);
    } else if (!ret_report->text) {
        (void)err_fail(&err, -r, "cannot check it in a process of its own: %s", err_name(r));
        (void)findings_report_one(path, err.text, ret_report);
    }
    config_whole_free(&whole);
    return r;
}
