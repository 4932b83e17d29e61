/* SPDX-License-Identifier: Apache-2.0 */
#include "level_word.h"

#include "parse.h"

#include <stdbool.h>
#include <string.h>

int level_word(const char *text, double *ret, struct err *err)
{
    char number[32];
    const size_t length = strlen(text);
    const bool is_percent = length > 1 && text[length - 1] == '%';
    if (length >= sizeof number) {
        return parse_real("", 0, 1, ret, err);
    }
    memcpy(number, text, length + 1);
    if (is_percent) {
        number[length - 1] = '\0';
    }
    const int rc = parse_real(number, 0, is_percent ? 100 : 1, ret, err);
    if (rc == 0 && is_percent) {
        *ret /= 100;
    }
    return rc;
}
