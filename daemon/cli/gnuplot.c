/* SPDX-License-Identifier: Apache-2.0 */
#include "gnuplot.h"

#include "err.h"

#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define COMPLAINT_MAX    400
#define TERMINAL_COLUMNS 79 /* gnuplot fills each line to its last column */

/* Okabe and Ito 2008; the first ones differ most. */
static const char *const colours[] = {"#0072B2", "#D55E00", "#009E73", "#CC79A7",
                                      "#E69F00", "#56B4E9", "#F0E442", "#000000"};

static bool ends_with(const char *text, const char *ending)
{
    const size_t length = strlen(text);
    const size_t tail = strlen(ending);
    return length > tail && strcmp(text + length - tail, ending) == 0;
}

static int write_terminal(struct gnuplot *plot, int width, int height, struct err *err)
{
    if (strcmp(plot->output, "-") == 0) {
        plot->is_text = true;
        const int columns = width / 9 < TERMINAL_COLUMNS ? width / 9 : TERMINAL_COLUMNS;
        (void)fprintf(plot->script, "set terminal dumb size %d, %d\n", columns, height / 18);
        return 0;
    }
    if (ends_with(plot->output, ".svg")) {
        (void)fprintf(plot->script,
                      "set terminal svg size %d, %d enhanced background 'white' font 'sans,14'\n",
                      width, height);
    } else if (ends_with(plot->output, ".png")) {
        (void)fprintf(plot->script,
                      "set terminal pngcairo size %d, %d enhanced background 'white' font "
                      "'sans,11'\n",
                      width, height);
    } else {
        return err_fail(err, EINVAL, "%s: a plot is a .png, a .svg, or - for the terminal",
                        plot->output);
    }
    (void)fputs("set output ", plot->script);
    gnuplot_quote(plot, plot->output);
    (void)fputc('\n', plot->script);
    return 0;
}

int gnuplot_begin(struct gnuplot *plot, const char *output, int width, int height, struct err *err)
{
    char path[] = "/tmp/lampwarden-plot-XXXXXX";
    const int fd = mkostemp(path, O_CLOEXEC);
    if (fd < 0) {
        return err_fail(err, errno, "a script for gnuplot: %s", err_name(errno));
    }
    *plot = (struct gnuplot){.script = fdopen(fd, "w"), .path = strdup(path), .output = output};
    int rc = plot->script && plot->path ? 0 : err_fail(err, ENOMEM, "no memory for a plot");
    if (rc == 0) {
        rc = write_terminal(plot, width, height, err);
    }
    if (rc < 0) {
        if (plot->script) {
            (void)fclose(plot->script);
        } else {
            (void)close(fd);
        }
        (void)unlink(path);
        free(plot->path);
        return rc;
    }
    for (size_t i = 0; i < sizeof colours / sizeof colours[0]; i++) {
        (void)fprintf(plot->script, "set style line %zu lc rgb '%s' lw 2 dt %zu pt %zu ps 0.7\n",
                      i + 1, colours[i], i % 5 + 1, 2 * i + 5);
    }
    (void)fputs("set palette cubehelix start 0.5 cycles -1.2 saturation 1\nset encoding utf8\n",
                plot->script);
    return 0;
}

void gnuplot_quote(struct gnuplot *plot, const char *text)
{
    (void)fputc('\'', plot->script);
    for (; *text; text++) {
        if (*text == '\'') {
            (void)fputc('\'', plot->script);
        }
        (void)fputc((unsigned char)*text < ' ' ? ' ' : *text, plot->script);
    }
    (void)fputc('\'', plot->script);
}

/* What it says on stderr, from a pipe that is read to its end. */
static void read_complaint(int fd, char *buffer, size_t size)
{
    size_t used = 0;
    char rest[512];
    for (;;) {
        const bool is_full = used + 1 >= size;
        const ssize_t got =
            is_full ? read(fd, rest, sizeof rest) : read(fd, buffer + used, size - 1 - used);
        if (got < 0 && errno == EINTR) {
            continue;
        }
        if (got <= 0) {
            break;
        }
        used += is_full ? 0 : (size_t)got;
    }
    buffer[used] = '\0';
}

/* The last line that says something: gnuplot shows the place first. */
static const char *last_line(char *text)
{
    const char *line = "";
    for (char *rest = text; rest;) {
        const char *one = strsep(&rest, "\n");
        one += strspn(one, " \t^");
        if (*one) {
            line = one;
        }
    }
    return line;
}

static int run(const struct gnuplot *plot, char *complaint, size_t size, struct err *err)
{
    char name[] = "gnuplot";
    char option[] = "-d"; /* a person's own settings do not move what is drawn here */
    char *script = strdup(plot->path);
    char *const argv[] = {name, option, script, NULL};
    int pipe_fds[2];
    posix_spawn_file_actions_t actions;
    pid_t child = 0;
    if (!script || pipe2(pipe_fds, O_CLOEXEC) < 0) {
        free(script);
        return err_fail(err, errno, "a pipe from gnuplot: %s", err_name(errno));
    }
    (void)fflush(stdout);
    (void)posix_spawn_file_actions_init(&actions);
    (void)posix_spawn_file_actions_adddup2(&actions, pipe_fds[1], STDERR_FILENO);
    const int code = posix_spawnp(&child, name, &actions, NULL, argv, environ);
    (void)posix_spawn_file_actions_destroy(&actions);
    (void)close(pipe_fds[1]);
    free(script);
    if (code != 0) {
        (void)close(pipe_fds[0]);
        return code == ENOENT
                   ? err_fail(err, ENOENT, "gnuplot is not installed (Debian: gnuplot-nox)")
                   : err_fail(err, code, "gnuplot does not start: %s", err_name(code));
    }
    int status = 0;
    read_complaint(pipe_fds[0], complaint, size);
    (void)close(pipe_fds[0]);
    while (waitpid(child, &status, 0) < 0 && errno == EINTR) {
    }
    if (status != 0) {
        return err_fail(err, EIO, "%s: gnuplot says: %s", plot->output, last_line(complaint));
    }
    return 0;
}

int gnuplot_end(struct gnuplot *plot, struct err *err)
{
    char complaint[COMPLAINT_MAX] = "";
    const bool is_written = !ferror(plot->script);
    const bool is_closed = fclose(plot->script) == 0;
    int rc = is_written && is_closed ? run(plot, complaint, sizeof complaint, err)
                                     : err_fail(err, EIO,
                                                "the script for gnuplot could not be "
                                                "written to /tmp");
    if (rc < 0 && !plot->is_text) {
        (void)unlink(plot->output);
    }
    (void)unlink(plot->path);
    free(plot->path);
    return rc;
}
