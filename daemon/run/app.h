/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The daemon from its options to its end. It only composes: configuration, journal, tick, control
 * socket, and the loop with the second's timer and the signals.
 *
 * Up: folders, lock, list of outputs, journal, workers (outputs safe), loop, READY once every
 * output was verified safe or declared in fault, then light. Down, in reverse: contacts open,
 * dimming lines safe, verified within 3 s, last records, journal closed. After READY only a stop
 * ends it; everything else is a state with a way back.
 */
#ifndef LAMPWARDEN_APP_H
#define LAMPWARDEN_APP_H

#include <stdint.h>

#define APP_PACE_MAX 3600.0

struct config;
struct err;

struct app_options {
    const char *config_path;
    const char *runtime_folder;
    const char *state_folder;
    const char *journal_path; /* NULL: as configured */
    const char *socket_path;  /* NULL: as configured */
    const char *version;
    int64_t build_s; /* wall time of the build */
    double pace;     /* of a demonstration, ≥ 1; 0: in earnest */
};

/* Runs until a stop. Takes over the configuration, which was loaded from options->config_path.
 * Returns 0 after a stop, a negative errno with a sentence when it did not come to READY. No thread
 * may run yet. */
int app_run(const struct app_options *options, struct config *config, struct err *err);

#endif
