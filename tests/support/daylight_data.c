/* SPDX-License-Identifier: Apache-2.0 */
#include "daylight_data.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

FILE *daylight_data_find(const char *beside, const char *name)
{
    const char *named = getenv("LAMPWARDEN_DATA");
    const char *folder = named != NULL ? named : beside;
    char path[4096];
    int length = snprintf(path, sizeof path, "%s/%s", folder, name);
    assert_true(length > 0 && (size_t)length < sizeof path);
    FILE *file = fopen(path, "re");
    if (file == NULL) {
        print_message("skipped: no file %s in %s; LAMPWARDEN_DATA names the folder\n", name,
                      folder);
        skip();
    }
    for (int lines = 0; lines < 2;) {
        int one = fgetc(file);
        assert_int_not_equal(one, EOF);
        lines += one == '\n' ? 1 : 0;
    }
    return file;
}
