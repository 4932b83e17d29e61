/* SPDX-License-Identifier: Apache-2.0 */
#include "level_word.h"

#include "err.h"
#include "parse.h"

#include <errno.h>
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
    double percent = 0;
    if (rc == -ERANGE && !is_percent && parse_real(number, 1, 100, &percent, NULL) == 0) {
        return err_fail(err, ERANGE, "%s is out of range (0 … 1); did you mean %s%%?", number,
                        number);
    }
    if (rc == -ERANGE && is_percent) {
        return err_fail(err, ERANGE, "%s is out of range (0%% … 100%%)", text);
    }
    if (rc == 0 && is_percent) {
        *ret /= 100;
    }
    return rc;
}
