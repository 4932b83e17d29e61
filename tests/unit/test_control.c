/* SPDX-License-Identifier: Apache-2.0 */
/* Clients and server live in one thread: the server works only when the test says so. */
#include "control.h"

#include "control_proto.h"
#include "err.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

#include <cmocka.h>

static const int64_t second = 1000000000;

struct rig {
    char folder[64], path[96];
    struct control *control;
    int64_t boot_ns;
    int questions;
    size_t answer_size; /* 0: echo */
};

static char *answer(void *context, const char *line, size_t size)
{
    struct rig *rig = context;
    rig->questions++;
    if (size == 6 && memcmp(line, "silent", 6) == 0) {
        return NULL;
    }
    size_t length = rig->answer_size ? rig->answer_size : size;
    char *text = malloc(length + 1);
    if (text) {
        memset(text, 'x', length);
        memcpy(text, line, rig->answer_size ? 0 : size);
        text[length] = '\0';
    }
    return text;
}

static void begin(struct rig *rig)
{
    struct err err = {""};
    memset(rig, 0, sizeof *rig);
    rig->boot_ns = 1000 * second;
    (void)snprintf(rig->folder, sizeof rig->folder, "/tmp/lampwarden-control-XXXXXX");
    assert_non_null(mkdtemp(rig->folder));
    (void)snprintf(rig->path, sizeof rig->path, "%s/control", rig->folder);
    const struct control_setup setup = {rig->path, "", answer, rig};
    int code = control_open(&setup, &rig->control, &err);
    if (code < 0) {
        print_error("%s\n", err.text);
    }
    assert_int_equal(code, 0);
}

static void end(struct rig *rig)
{
    control_close(rig->control);
    assert_int_equal(access(rig->path, F_OK), -1);
    assert_int_equal(rmdir(rig->folder), 0);
}

static void work(struct rig *rig)
{
    for (int i = 0; i < 50; i++) {
        control_dispatch(rig->control, rig->boot_ns);
    }
}

static int join(struct rig *rig)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    memcpy(address.sun_path, rig->path, strlen(rig->path));
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    assert_int_equal(connect(fd, (struct sockaddr *)&address, sizeof address), 0);
    work(rig);
    return fd;
}

static void say(struct rig *rig, int fd, const char *text)
{
    assert_int_equal(send(fd, text, strlen(text), MSG_NOSIGNAL), strlen(text));
    work(rig);
}

static void hear(int fd, const char *want)
{
    char text[1024];
    ssize_t got = recv(fd, text, sizeof text - 1, 0);
    text[got > 0 ? got : 0] = '\0';
    assert_string_equal(text, want);
}

static bool is_closed(int fd)
{
    char one;
    ssize_t got = 0;
    do {
        got = recv(fd, &one, 1, 0);
    } while (got > 0);
    return got == 0 || errno == ECONNRESET;
}

static void a_line_is_a_question(void **state)
{
    (void)state;
    struct rig rig;
    struct stat file;
    begin(&rig);
    assert_int_equal(stat(rig.path, &file), 0);
    assert_int_equal(file.st_mode & 0777, 0660);
    int fd = join(&rig);
    say(&rig, fd, "hel");
    assert_int_equal(rig.questions, 0);
    say(&rig, fd, "lo\n");
    hear(fd, "hello\n");
    say(&rig, fd, "one\ntwo\nsilent\nthree\n");
    hear(fd, "one\ntwo\nthree\n");
    assert_int_equal(rig.questions, 5);
    close(fd);
    work(&rig);
    end(&rig);
}

/* Whoever sends many questions at once is answered one by one: ticks get their turn between.
 */
static void one_answer_a_turn(void **state)
{
    (void)state;
    struct rig rig;
    char text[81];
    begin(&rig);
    int fd = join(&rig);
    for (int i = 0; i < 40; i++) {
        memcpy(text + 2 * (size_t)i, "q\n", 3);
    }
    assert_int_equal(send(fd, text, 80, MSG_NOSIGNAL), 80);
    for (int i = 1; i <= 40; i++) {
        control_dispatch(rig.control, rig.boot_ns);
        assert_in_range(rig.questions, i - 1, i);
    }
    work(&rig);
    assert_int_equal(rig.questions, 40);
    hear(fd, text);
    close(fd);
    end(&rig);
}

static void too_long_a_line(void **state)
{
    (void)state;
    struct rig rig;
    char text[CONTROL_LINE_MAX + 2];
    begin(&rig);
    int fd = join(&rig);
    memset(text, 'a', CONTROL_LINE_MAX);
    text[CONTROL_LINE_MAX] = '\n';
    text[CONTROL_LINE_MAX + 1] = '\0';
    say(&rig, fd, text);
    assert_int_equal(rig.questions, 1); /* just within */
    char back[CONTROL_LINE_MAX + 1];
    assert_int_equal(recv(fd, back, sizeof back, MSG_WAITALL), CONTROL_LINE_MAX + 1);
    text[CONTROL_LINE_MAX] = 'a';
    say(&rig, fd, text);
    assert_int_equal(rig.questions, 1);
    hear(fd, "{\"jsonrpc\":\"2.0\",\"id\":null,\"error\":{\"code\":-32600,"
             "\"message\":\"the request is too long\"}}\n");
    assert_true(is_closed(fd));
    close(fd);
    end(&rig);
}

static void only_so_many_clients(void **state)
{
    (void)state;
    struct rig rig;
    int fds[CONTROL_CLIENTS_MAX];
    char text[256];
    begin(&rig);
    for (int i = 0; i < CONTROL_CLIENTS_MAX; i++) {
        fds[i] = join(&rig);
    }
    int extra = join(&rig);
    ssize_t got = recv(extra, text, sizeof text - 1, 0);
    assert_true(got > 0);
    text[got] = '\0';
    assert_non_null(strstr(text, "too many connections"));
    assert_true(is_closed(extra));
    close(extra);
    close(fds[3]);
    work(&rig);
    extra = join(&rig);
    say(&rig, extra, "now\n");
    hear(extra, "now\n");
    fds[3] = extra;
    for (int i = 0; i < CONTROL_CLIENTS_MAX; i++) {
        say(&rig, fds[i], "still here\n");
        hear(fds[i], "still here\n");
        close(fds[i]);
    }
    end(&rig);
}

static void slow_and_idle_clients_go(void **state)
{
    (void)state;
    struct rig rig;
    begin(&rig);
    int idle = join(&rig);
    int half = join(&rig);
    int deaf = join(&rig);
    say(&rig, half, "half a li");
    rig.answer_size = 4 * 1024 * 1024 / 4;
    say(&rig, deaf, "much\n"); /* more than the socket's buffer holds */
    rig.answer_size = 0;
    control_sweep(rig.control, rig.boot_ns + 4 * second);
    rig.boot_ns += 4 * second;
    say(&rig, half, "n"); /* a byte now and then does not buy time */
    control_sweep(rig.control, rig.boot_ns + 2 * second);
    work(&rig);
    assert_true(is_closed(half));
    assert_true(is_closed(deaf));
    say(&rig, idle, "not yet\n");
    hear(idle, "not yet\n");
    control_sweep(rig.control, rig.boot_ns + 61 * second);
    assert_true(is_closed(idle));
    close(idle);
    close(half);
    close(deaf);
    end(&rig);
}

static void a_big_answer_arrives_whole(void **state)
{
    (void)state;
    struct rig rig;
    static char text[1024 * 1024];
    size_t used = 0;
    begin(&rig);
    int fd = join(&rig);
    rig.answer_size = sizeof text - 1;
    say(&rig, fd, "much\nmore\n");
    assert_int_equal(rig.questions, 1); /* one answer at a time */
    while (used < sizeof text) {
        ssize_t got = recv(fd, text + used, sizeof text - used, 0);
        assert_true(got > 0 || errno == EAGAIN);
        used += got > 0 ? (size_t)got : 0;
        work(&rig);
    }
    assert_int_equal(text[sizeof text - 1], '\n');
    assert_int_equal(rig.questions, 2);
    rig.answer_size = CONTROL_REPLY_MAX + 1;
    close(fd);
    work(&rig);
    fd = join(&rig);
    say(&rig, fd, "too much\n");
    assert_true(is_closed(fd));
    close(fd);
    end(&rig);
}

static void one_daemon_a_socket(void **state)
{
    (void)state;
    struct rig rig;
    struct control *other = NULL;
    struct err err = {""};
    begin(&rig);
    const struct control_setup same = {rig.path, "", answer, &rig};
    assert_int_equal(control_open(&same, &other, &err), -EADDRINUSE);
    assert_int_equal(access(rig.path, F_OK), 0);
    const struct control_setup nowhere = {"/nonexistent/control", "", answer, &rig};
    assert_int_equal(control_open(&nowhere, &other, &err), -ENOENT);
    char path[200];
    memset(path, 'p', sizeof path - 1);
    path[sizeof path - 1] = '\0';
    const struct control_setup too_long = {path, "", answer, &rig};
    assert_int_equal(control_open(&too_long, &other, &err), -ENAMETOOLONG);
    end(&rig);
}

/* A daemon that was killed leaves its socket behind. */
static void a_dead_socket_is_replaced(void **state)
{
    (void)state;
    struct rig rig;
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    begin(&rig);
    control_close(rig.control);
    memcpy(address.sun_path, rig.path, strlen(rig.path));
    int dead = socket(AF_UNIX, SOCK_STREAM, 0);
    assert_int_equal(bind(dead, (struct sockaddr *)&address, sizeof address), 0);
    close(dead);
    const struct control_setup setup = {rig.path, "", answer, &rig};
    assert_int_equal(control_open(&setup, &rig.control, NULL), 0);
    int fd = join(&rig);
    say(&rig, fd, "alive\n");
    hear(fd, "alive\n");
    close(fd);
    end(&rig);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_is_a_question),     cmocka_unit_test(one_answer_a_turn),
        cmocka_unit_test(too_long_a_line),          cmocka_unit_test(only_so_many_clients),
        cmocka_unit_test(slow_and_idle_clients_go), cmocka_unit_test(a_big_answer_arrives_whole),
        cmocka_unit_test(one_daemon_a_socket),      cmocka_unit_test(a_dead_socket_is_replaced),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
