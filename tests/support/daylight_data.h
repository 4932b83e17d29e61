/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Files of measured daylight, which are not part of the project: from the folder that
 * LAMPWARDEN_DATA names, else from ../shared/data beside the source tree.
 */
#ifndef LAMPWARDEN_TEST_DAYLIGHT_DATA_H
#define LAMPWARDEN_TEST_DAYLIGHT_DATA_H

#include <stdio.h>

/* Open for reading, behind its two lines of heading; close it. Skips the test, with the name of the
 * file and of the variable, where there is none. */
#define daylight_data_open(name) daylight_data_find(SOURCE_DIR "/../shared/data", (name))

FILE *daylight_data_find(const char *beside, const char *name);

#endif
