/* SPDX-License-Identifier: Apache-2.0 */
#include "utf8.h"

#include <stdbool.h>

static bool goes_on(unsigned char byte)
{
    return (byte & 0xC0) == 0x80;
}

/* By the first byte alone. */
static size_t length_of(unsigned char lead)
{
    return lead < 0x80                    ? 1
           : lead >= 0xC2 && lead <= 0xDF ? 2
           : lead >= 0xE0 && lead <= 0xEF ? 3
           : lead >= 0xF0 && lead <= 0xF4 ? 4
                                          : 0;
}

size_t utf8_sequence(const char *at, size_t room)
{
    const unsigned char lead = (unsigned char)at[0];
    const size_t length = length_of(lead);
    if (length > room) {
        return 0;
    }
    for (size_t i = 1; i < length; i++) {
        if (!goes_on((unsigned char)at[i])) {
            return 0;
        }
    }
    const unsigned char second = length > 2 ? (unsigned char)at[1] : 0;
    const bool is_overlong = (lead == 0xE0 && second < 0xA0) || (lead == 0xF0 && second < 0x90);
    const bool is_beyond = (lead == 0xED && second > 0x9F) || (lead == 0xF4 && second > 0x8F);
    return is_overlong || is_beyond ? 0 : length;
}

int utf8_columns(const char *text, size_t bytes)
{
    int columns = 0;
    for (size_t i = 0; i < bytes; i++) {
        columns += !goes_on((unsigned char)text[i]);
    }
    return columns;
}
