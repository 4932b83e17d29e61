/* SPDX-License-Identifier: Apache-2.0 */
/*
 * One human sentence about what went wrong, carried beside a negative errno.
 *
 * A fallible function returns 0 or a negative errno and takes a `struct err *` last, which may be
 * NULL. The sentence names the place, the value and the allowed range; it has no trailing newline
 * and no trailing full stop, so that a caller can put words before and behind it. Nothing here
 * logs.
 */
#ifndef LAMPWARDEN_ERR_H
#define LAMPWARDEN_ERR_H

#define ERR_TEXT_MAX 512

struct err {
    char text[ERR_TEXT_MAX];
};

/* Writes the sentence and returns -code (code: a positive errno). */
int err_fail(struct err *err, int code, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Puts "words: " before the sentence already there; longer texts are cut at the end. */
void err_prefix(struct err *err, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The name of an errno in words, safe in threads; code may be positive or negative. */
const char *err_name(int code);

#endif
