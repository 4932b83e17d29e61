/* SPDX-License-Identifier: Apache-2.0 */
/* In the place of page_server.c where its library is missing. */
#include "page_server.h"

#include "err.h"
#include "page.h"

#include <errno.h>

int page_server_start(const struct config_page *config, const struct page_sources *sources,
                      struct page_server **ret, struct err *err)
{
    (void)config;
    (void)sources;
    (void)ret;
    return err_fail(err, ENOTSUP, "%s", page_missing());
}

void page_server_pulse(struct page_server *server, int64_t real_ns)
{
    (void)server;
    (void)real_ns;
}

void page_server_stop(struct page_server *server)
{
    (void)server;
}
