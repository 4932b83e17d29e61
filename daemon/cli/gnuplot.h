/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Plots through the gnuplot program, where it is installed (Debian: gnuplot-nox). A plot is a
 * script that the caller writes; the terminal follows from the file's name: .png, .svg, or "-" for
 * characters on standard output.
 *
 * Colours that people with every kind of colour vision can tell apart, and that keep their order in
 * grey: gnuplot's "cubehelix" palette (Green 2011, Bulletin of the Astronomical Society of India
 * 39, 289) for areas; for lines the eight of Okabe and Ito (2008), with different dashes and marks.
 */
#ifndef LAMPWARDEN_GNUPLOT_H
#define LAMPWARDEN_GNUPLOT_H

#include <stdbool.h>
#include <stdio.h>

struct err;

struct gnuplot {
    FILE *script; /* write the plot here; its errors are told by gnuplot_end */
    bool is_text; /* a terminal of characters: keep it simple */
    char *path;   /* of the script, a temporary file */
    const char *output;
};

/* Opens the script, with terminal, size (in pixels; characters take a ninth by an eighteenth) and
 * line styles 1 … 8 set. -EINVAL: a name of another ending; else as of temporary files. */
int gnuplot_begin(struct gnuplot *plot, const char *output, int width, int height, struct err *err);

/* Runs it and waits. -ENOENT: gnuplot is not installed; -EIO with its first complaint. The output
 * file exists only when it went well. */
int gnuplot_end(struct gnuplot *plot, struct err *err);

/* A text as a quoted string of the script, whatever it holds. */
void gnuplot_quote(struct gnuplot *plot, const char *text);

#endif
