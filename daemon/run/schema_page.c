/* SPDX-License-Identifier: Apache-2.0 */
/* Keys of the page for a browser. */
#include "schema_parts.h"

/* One row a key: its facts first, its help below. */
/* clang-format off */

const struct key schema_page[] = {
    [PAGE_ADDRESS] = {.name = "address", .type = KEY_TEXT, .low = 1, .high = 45,
        .fallback = "127.0.0.1",
        .help = "Where it is offered: an address of this computer, or 0.0.0.0 for all. Any but this "
                "computer's own inner one (127.0.0.1, ::1) needs password_file or behind_proxy."},
    [PAGE_PORT] = {.name = "port", .type = KEY_INT, .low = 1024, .high = 65535, .fallback = "",
        .help = "Its port. Left out: there is no page, and nothing listens."},
    [PAGE_PASSWORD_FILE] = {.name = "password_file", .type = KEY_TEXT, .high = 255, .fallback = "",
        .help = "A file with one line, name:password, that a browser has to know; others may not "
                "read it (mode 0640 or 0600). The page is not encrypted: in a network that you do "
                "not trust let a proxy with TLS stand before it."},
    [PAGE_BEHIND_PROXY] = {.name = "behind_proxy", .type = KEY_BOOL, .fallback = "false",
        .help = "true: a proxy of yours stands before it, asks who may look and encrypts."},
    [PAGE_HOST_NAMES] = {.name = "host_names", .type = KEY_TEXT, .high = 255, .fallback = "",
        .help = "Names, separated by spaces, by which browsers call this computer or the proxy. A "
                "request for any other name than these, localhost and the address is refused."},
    {0},
};
