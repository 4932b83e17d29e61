/* SPDX-License-Identifier: Apache-2.0 */
/* Apart from the rest of the page: the operator's command asks this and needs no HTTP library. */
#include "page.h"

const char *page_missing(void)
{
#ifdef HAVE_PAGE
    return "";
#else
    return "this program was built without libmicrohttpd (Debian: libmicrohttpd-dev)";
#endif
}
