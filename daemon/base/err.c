/* SPDX-License-Identifier: Apache-2.0 */
#include "err.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int err_fail(struct err *err, int code, const char *format, ...)
{
    if (err) {
        va_list args;
        va_start(args, format);
        (void)vsnprintf(err->text, sizeof err->text, format, args); /* cutting is allowed */
        va_end(args);
    }
    return -code;
}

void err_prefix(struct err *err, const char *format, ...)
{
    if (!err) {
        return;
    }
    char words[ERR_TEXT_MAX];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(words, sizeof words, format, args);
    va_end(args);
    struct err joined;
    size_t used = strnlen(words, sizeof words - 3);
    memcpy(joined.text, words, used);
    memcpy(joined.text + used, ": ", 3);
    used += 2;
    size_t room = sizeof joined.text - used - 1;
    size_t length = strnlen(err->text, room);
    memcpy(joined.text + used, err->text, length);
    joined.text[used + length] = '\0';
    *err = joined;
}

const char *err_name(int code)
{
    /* const data: unlike strerror, no shared buffer */
    const char *text = strerrordesc_np(abs(code));
    return text ? text : "unknown error";
}
