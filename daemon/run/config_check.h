/* SPDX-License-Identifier: Apache-2.0 */
/* Shared by the parts of section_check. */
#ifndef LAMPWARDEN_CONFIG_CHECK_H
#define LAMPWARDEN_CONFIG_CHECK_H

#include "config_section.h"
#include "space.h"

/* The supply that all lamps share: config_power.c. */
void check_power(const struct section *site, struct findings *findings);

/* The page for a browser: config_page.c. */
void check_page(const struct section *page, struct findings *findings);
void check_alarm(const struct section *alarm, struct findings *findings); /* config_alarm.c */

/* Protection groups, outputs, curves and owners of the fixtures: config_check_lamp.c. */
void check_lamps(const struct section *root, struct findings *findings);

/* The line of a value, or of the other one where the first is a default. */
static inline int check_line(const struct section *section, int key, int other)
{
    int line = section->values[key].line;
    if (line == 0) {
        line = section->values[other].line;
    }
    return line > 0 ? line : section->line;
}

#endif
