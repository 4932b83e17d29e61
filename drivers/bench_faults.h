/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The fault script of the bench: a text file, one fault a line, '#' begins a comment:
 *
 *     FROM LENGTH KIND UNIT [VALUE]
 *     12h  1h     ppfd-silent 0
 *     14h  30min  heat-step   1 25
 *
 * FROM and LENGTH are durations ("90s", "30min", "12h", "1h30min"; FROM may be 0) of bench time
 * since its start; KIND is one of the names below; UNIT counts from 0.
 */
#ifndef LAMPWARDEN_BENCH_FAULTS_H
#define LAMPWARDEN_BENCH_FAULTS_H

#include "bench_model.h"

struct err;

const char *bench_fault_name(enum bench_fault_kind kind); /* "ppfd-stuck" … */

/* Adds every fault of the file; on an error (file:line: what is wrong) none is added. */
int bench_faults_load(struct bench_model *model, const char *path, struct err *err);

#endif
