/* SPDX-License-Identifier: Apache-2.0 */
/* The configuration before anything runs: findings go to stderr, answers to stdout. For the
 * programs' main files. */
#ifndef LAMPWARDEN_PREFLIGHT_H
#define LAMPWARDEN_PREFLIGHT_H

#include <stdbool.h>

struct config;

/* NULL: it is wrong, and every finding was printed. Warnings are printed as well. */
struct config *preflight_load(const char *path);

/* "FILE: 2 spaces … good", or the effective values; frees the configuration. Negative errno: not
 * printed. */
int preflight_tell(struct config *config, bool print_values);

int preflight_document(void);

#endif
