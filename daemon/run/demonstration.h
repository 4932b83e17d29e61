/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The real daemon on a stage: simulated lamps, a time of its own that goes faster, a folder of its
 * own. Nothing that a grower relies on is touched: every output and sensor must be the bench's, and
 * state, socket and journal lie in RUNTIME/demonstration, where each demonstration begins afresh.
 *
 * What is the bench's: the driver `bench`, or lampwarden-bench behind modbus-tcp on a loopback
 * address, which every unit must say of itself (input registers 8, its pace × 10, and 9, its mark).
 */
#ifndef LAMPWARDEN_DEMONSTRATION_H
#define LAMPWARDEN_DEMONSTRATION_H

#include "app.h"
#include "config.h"

#include <stddef.h>

#define DEMONSTRATION_WORDS 48

/* Where it lives; the options point into it. */
struct demonstration {
    struct app_options options;
    char folder[224], journal[256], socket[256];
};

/* "bench, 720 times as fast"; pace 1: "bench". */
void demonstration_words(double pace, char *buffer, size_t size);

/* Whether everything is simulated, at this pace; else a sentence that names what is not. Asks the
 * benches, for at most 2 s each. */
int demonstration_check(const struct config *config, double pace, struct err *err);

/* Fills the options of the demonstration from those that were given, makes its folder, and begins
 * its time: ten minutes before the first lights-on of tomorrow. Before any thread runs. */
int demonstration_begin(struct demonstration *demonstration, const struct app_options *given,
                        const struct config *config, struct err *err);

/* Throws away what an earlier one left in its folder. With the folder's lock held. */
void demonstration_clear(const char *folder);

#endif
