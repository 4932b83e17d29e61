/* SPDX-License-Identifier: Apache-2.0 */
#include "record.h"

#include "err.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

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

/* Here, or the finding would name a line of what stands around the record. */
static int refuse(const char *path, const char *why, struct config_report *ret_report)
{
    char text[NAME_MOST + 128];
    (void)snprintf(text, sizeof text, "cannot open %.*s: %s\n", NAME_MOST, path, why);
    *ret_report = (struct config_report){.errors = 1, .text = strdup(text)};
    return -EINVAL;
}

int record_load(const char *path, struct config **ret, struct config_report *ret_report)
{
    char text[sizeof around + NAME_MOST];
    const char *slash = strrchr(path, '/');
    const char *name = slash ? slash + 1 : path; /* looked for beside the path */
    if (access(path, R_OK) < 0) {
        return refuse(path, err_name(errno), ret_report);
    }
    if (strpbrk(name, "\"\r\n")) {
        return refuse(path, "no @include takes a name with quotes or line ends", ret_report);
    }
    const int length = snprintf(text, sizeof text, around, name);
    if (length < 0 || length >= (int)sizeof text) {
        return refuse(path, "its name is too long", ret_report);
    }
    return config_load_text(path, text, (size_t)length, ret, ret_report);
}
