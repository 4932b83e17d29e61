/* SPDX-License-Identifier: Apache-2.0 */
/* One file in a temporary folder of its own, for a test program. */
#ifndef LAMPWARDEN_ONEFILE_H
#define LAMPWARDEN_ONEFILE_H

/* Set-up and teardown of a group of tests. The file is not there until it is put; the teardown
 * fails when anything else is left in the folder. */
int onefile_begin(void **state);
int onefile_end(void **state);

const char *onefile_path(void); /* of a file "data" */
void onefile_put(const char *text);

#endif
