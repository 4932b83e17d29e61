/* SPDX-License-Identifier: Apache-2.0 */
#include "onefile.h"

#include "fileio.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[] = "/tmp/lampwarden-test-XXXXXX";
static char path[64];

int onefile_begin(void **state)
{
    (void)state;
    if (!mkdtemp(folder)) {
        return -1;
    }
    (void)snprintf(path, sizeof path, "%s/data", folder);
    return 0;
}

int onefile_end(void **state)
{
    (void)state;
    (void)unlink(path);
    return rmdir(folder);
}

const char *onefile_path(void)
{
    return path;
}

void onefile_put(const char *text)
{
    assert_int_equal(fileio_replace(path, text, strlen(text), 0600, NULL), 0);
}
