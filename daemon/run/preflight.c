/* SPDX-License-Identifier: Apache-2.0 */
#include "preflight.h"

#include "config.h"

#include <stdio.h>

struct config *preflight_load(const char *path)
{
    struct config *config = NULL;
    struct config_report report = {0};
    int code = config_load_guarded(path, &config, &report);
    if (report.text) {
        (void)fputs(report.text, stderr);
    }
    config_report_free(&report);
    return code < 0 ? NULL : config;
}

int preflight_tell(struct config *config, bool print_values)
{
    int code = 0;
    if (print_values) {
        code = config_print(config, stdout);
    } else {
        (void)printf("%s: good: %d space(s), %d fixture(s), %d sensor(s)\n", config->path,
                     config->space_count, config->fixture_count, config->sensor_count);
    }
    config_free(config);
    return code;
}

int preflight_document(void)
{
    return config_document(stdout);
}
