/* SPDX-License-Identifier: Apache-2.0 */
#include "alarm_run.h"

#include "alarm_words.h"
#include "clock.h"
#include "err.h"
#include "parse.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define LOOK_MS    50 /* whether it has ended without closing its error output */
#define ERRORS_MAX 80 /* bytes of the error output that are kept */

#define UNKNOWN_END (-1) /* no status of waitpid: somebody else reaped it */

/* A program on its way. */
struct child {
    pid_t pid;
    int errors_fd; /* its error output */
    size_t heard;
    char errors[ERRORS_MAX];
};

const char *alarm_outcome_name(enum alarm_outcome outcome)
{
    static const char *const names[ALARM_OUTCOMES] = {"done", "failed", "late", "not_begun"};
    return names[outcome];
}

/* Signals as a program expects them: the daemon ignores some, and its threads block all. */
static int set_attributes(posix_spawnattr_t *attributes)
{
    sigset_t none;
    sigset_t usual;
    sigemptyset(&none);
    sigemptyset(&usual);
    sigaddset(&usual, SIGPIPE);
    sigaddset(&usual, SIGXFSZ);
    int code = posix_spawnattr_setsigmask(attributes, &none);
    code = code ? code : posix_spawnattr_setsigdefault(attributes, &usual);
    return code ? code
                : posix_spawnattr_setflags(attributes, POSIX_SPAWN_SETSIGMASK |
                                                           POSIX_SPAWN_SETSIGDEF |
                                                           POSIX_SPAWN_SETSID);
}

/* Standard input and errors are pipes, output goes nowhere, no other descriptor is left. */
static int set_actions(posix_spawn_file_actions_t *actions, int input_fd, int errors_fd)
{
    int code = posix_spawn_file_actions_adddup2(actions, input_fd, STDIN_FILENO);
    code = code ? code : posix_spawn_file_actions_adddup2(actions, errors_fd, STDERR_FILENO);
    code = code
               ? code
               : posix_spawn_file_actions_addopen(actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    code = code ? code : posix_spawn_file_actions_addclosefrom_np(actions, STDERR_FILENO + 1);
    return code ? code : posix_spawn_file_actions_addchdir_np(actions, "/");
}

static int spawn(struct alarm_words *words, int input_fd, int errors_fd, pid_t *ret)
{
    posix_spawnattr_t attributes;
    posix_spawn_file_actions_t actions;
    int code = posix_spawnattr_init(&attributes);
    if (code != 0) {
        return code;
    }
    code = posix_spawn_file_actions_init(&actions);
    if (code == 0) {
        code = set_attributes(&attributes);
        code = code ? code : set_actions(&actions, input_fd, errors_fd);
        code = code ? code
                    : posix_spawn(ret, words->arguments[0], &actions, &attributes, words->arguments,
                                  words->environment);
        (void)posix_spawn_file_actions_destroy(&actions);
    }
    (void)posix_spawnattr_destroy(&attributes);
    return code;
}

/* The sentence is shorter than any pipe: written before the program begins, and nobody waits. */
static int begin(struct alarm_words *words, struct child *ret)
{
    int input[2];
    int errors[2];
    if (pipe2(input, O_CLOEXEC) != 0) {
        return errno;
    }
    if (pipe2(errors, O_CLOEXEC) != 0) {
        const int code = errno;
        (void)close(input[0]);
        (void)close(input[1]);
        return code;
    }
    (void)!write(input[1], words->sentence, strlen(words->sentence)); /* it may also be ignored */
    (void)close(input[1]);
    const int code = spawn(words, input[0], errors[1], &ret->pid);
    (void)close(input[0]);
    (void)close(errors[1]);
    ret->errors_fd = errors[0];
    ret->heard = 0;
    if (code != 0) {
        (void)close(errors[0]);
    }
    return code;
}

/* Keeps the beginning of its error output and throws the rest away, so that it never waits for
 * long. Read is only what is there. */
static void hear(struct child *child)
{
    char more[1024];
    struct pollfd wait = {.fd = child->errors_fd, .events = POLLIN};
    if (poll(&wait, 1, LOOK_MS) <= 0) {
        return;
    }
    const ssize_t got = read(child->errors_fd, more, sizeof more);
    if (got <= 0) {
        (void)poll(NULL, 0, LOOK_MS / 10); /* closed, and perhaps not ended: no busy loop */
        return;
    }
    size_t take = sizeof child->errors - 1 - child->heard;
    take = (size_t)got < take ? (size_t)got : take;
    memcpy(child->errors + child->heard, more, take);
    child->heard += take;
}

static void describe(const struct child *child, int status, struct alarm_result *ret)
{
    char said[ERRORS_MAX];
    char line[ERRORS_MAX];
    (void)snprintf(line, sizeof line, "%.*s", (int)strcspn(child->errors, "\n"), child->errors);
    parse_quote(line, said, sizeof said);
    if (status == 0) {
        ret->outcome = ALARM_DONE;
        ret->reason[0] = '\0';
        return;
    }
    ret->outcome = ALARM_FAILED;
    if (status == UNKNOWN_END) {
        (void)snprintf(ret->reason, sizeof ret->reason, "how it ended is not known");
        return;
    }
    const bool is_code = WIFEXITED(status);
    (void)snprintf(ret->reason, sizeof ret->reason, "%s %d%s%s", is_code ? "exit code" : "signal",
                   is_code ? WEXITSTATUS(status) : WTERMSIG(status), said[0] ? ": " : "", said);
}

/* It stays a zombie until it is reaped, and its number its own. */
static bool has_ended(const struct child *child)
{
    siginfo_t info = {.si_pid = 0};
    return waitid(P_PID, (id_t)child->pid, &info, WEXITED | WNOHANG | WNOWAIT) != 0 ||
           info.si_pid != 0;
}

/* Until it has ended; true: its time was over first. The group dies with it. */
static bool attend(struct child *child, int64_t limit_ns, const _Atomic int64_t *by_ns,
                   int *ret_status)
{
    bool is_late = false;
    while (!has_ended(child)) {
        const int64_t now_ns = clock_real_ns();
        if (now_ns >= limit_ns || now_ns >= atomic_load(by_ns)) {
            is_late = true;
            break;
        }
        hear(child);
    }
    (void)kill(-child->pid, SIGKILL);                       /* none may be left: that is as well */
    if (waitpid(child->pid, ret_status, 0) != child->pid) { /* ended or killed: it comes at once */
        *ret_status = UNKNOWN_END;
    }
    size_t before;
    do {
        before = child->heard;
        hear(child); /* what it said last */
    } while (child->heard != before);
    child->errors[child->heard] = '\0';
    (void)close(child->errors_fd);
    return is_late;
}

void alarm_run(const char *const *command, const struct alarm_message *message, double limit_s,
               const _Atomic int64_t *by_ns, struct alarm_result *ret)
{
    struct child child = {.errors_fd = -1};
    const int64_t begun_ns = clock_real_ns();
    struct alarm_words *words = malloc(sizeof *words);
    int code = words ? -alarm_words_fill(command, message, words) : ENOMEM;
    code = code ? code : begin(words, &child);
    free(words);
    if (code != 0) {
        *ret = (struct alarm_result){.outcome = ALARM_NOT_BEGUN};
        (void)snprintf(ret->reason, sizeof ret->reason, "%.90s: %s", command[0], err_name(code));
        return;
    }
    int status = 0;
    const int64_t limit_ns = begun_ns + (int64_t)(limit_s * 1e9);
    if (attend(&child, limit_ns, by_ns, &status)) {
        ret->outcome = ALARM_LATE;
        (void)snprintf(ret->reason, sizeof ret->reason, "it took too long and was killed");
    } else {
        describe(&child, status, ret);
    }
    ret->seconds = (double)(clock_real_ns() - begun_ns) * 1e-9;
}
