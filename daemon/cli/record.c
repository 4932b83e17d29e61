/* SPDX-License-Identifier: Apache-2.0 */
#include "record.h"

#include <errno.h>
#include <string.h>

#define NAME_MOST 512

static const char around[] =
    "site = { utc_offset = \"+00:00\"; };\n"
    "buses = ( { name = \"room\"; driver = \"bench\"; } );\n"
    "outputs = ( { name = \"dim\"; bus = \"room\"; kind = \"dim\"; },\n"
    "  { name = \"contact\"; bus = \"room\"; kind = \"switch\"; } );\n"
    "stages = ( { name = \"any\"; days = 0; lights_on = \"06:00\"; day_length_h = 16.0;\n"
    "  target_mol = 0.01; } );\n"
    "spaces = ( { name = \"any\"; fixtures = [ \"" RECORD_FIXTURE "\" ]; stages = [ \"any\" ];\n"
    "  start = \"2026-01-01\"; } );\n"
    "fixtures = ( { name = \"" RECORD_FIXTURE "\"; dim = \"dim\"; switch = \"contact\";\n"
    "@include \"%s\"\n"
    "} );\n";

int record_load(const char *path, struct config **ret, struct config_report *ret_report)
{
    char text[sizeof around + NAME_MOST];
    const char *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path; /* looked for beside the path */
    const int length = snprintf(text, sizeof text, around, name);
    if (length >= (int)sizeof text) {
        return -ENAMETOOLONG;
    }
    return config_load_text(path, text, (size_t)length, ret, ret_report);
}
