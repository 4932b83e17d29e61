/* SPDX-License-Identifier: Apache-2.0 */
/*
 * A driver that does what a test says: fails to open, fails once, hangs until released, gives
 * garbage, vanishes. The script belongs to the test and is handed over as the text of the bus's
 * only option; its mutex is taken by the worker's calls and by the test alike.
 */
#ifndef LAMPWARDEN_SCRIPT_DRIVER_H
#define LAMPWARDEN_SCRIPT_DRIVER_H

#include "driver.h"

#include <pthread.h>

#define SCRIPT_POINTS_MAX    8
#define SCRIPT_LOG_MAX       512
#define SCRIPT_ADDRESSES_MAX 248

struct script {
    pthread_mutex_t mutex;
    pthread_cond_t released;
    /* what to do */
    int fail_connects, connect_error; /* how many attempts fail, and with what */
    int fail_writes, write_error;
    int read_error; /* while it is not 0 */
    bool is_gone;   /* every call says -EIO */
    bool is_held;   /* reads wait until it becomes false */
    double sensor[SCRIPT_POINTS_MAX];
    int sensor_error[SCRIPT_POINTS_MAX];
    bool is_stuck[SCRIPT_POINTS_MAX];    /* the output keeps its value, and reads back so */
    bool is_there[SCRIPT_ADDRESSES_MAX]; /* who answers a probe */
    int fail_probes, probe_error;        /* how many probes fail, and with what */
    /* what happened */
    int sensor_count, output_count;
    int connects, disconnects, reads, make_safes, destroys, probes;
    int probes_in_a_row; /* since the last read */
    int most_in_a_row;
    double output[SCRIPT_POINTS_MAX]; /* connecting makes them 0 */
    int log_count;
    struct {
        int output;
        double value;
    } log[SCRIPT_LOG_MAX]; /* writes in their order */
};

extern const struct driver script_driver;

void script_init(struct script *script);
void script_finish(struct script *script);

/* Waits for a field to reach a value, at most 20 s; false: it did not. */
bool script_wait(struct script *script, const int *field, int at_least);
bool script_wait_output(struct script *script, int output, double value);

/* Reads or changes a field under the mutex. */
int script_get(struct script *script, const int *field);
void script_set(struct script *script, int *field, int value);
void script_set_flag(struct script *script, bool *field, bool value);

#endif
