/* SPDX-License-Identifier: Apache-2.0 */
/*
 * All sensors and outputs of the configuration under the configuration's own indices, wherever
 * their bus is: builds the buses, starts a worker for each, carries samples up and wishes down.
 *
 * One thread (the tick's) calls everything here; no call waits for a device except channels_close.
 */
#ifndef LAMPWARDEN_CHANNELS_H
#define LAMPWARDEN_CHANNELS_H

#include "config.h"
#include "mailbox.h"
#include "scan.h"

struct channels;

/* Creates every bus with its points and starts the workers, which connect on their own. A driver
 * that refuses its options is an error; a device that is not there is not. The option texts of
 * `config` must live as long as the channels. */
int channels_open(const struct config *config, struct channels **ret, struct err *err);

/* Makes every output safe, ends the workers side by side within timeout_s; NULL is fine. Returns
 * false when a driver hung: its memory and its device stay in use. */
bool channels_close(struct channels *channels, double timeout_s);

/* Copies the mailboxes. What the functions below return is as of the last fetch. */
void channels_fetch(struct channels *channels);
const struct sample *channels_samples(const struct channels *channels); /* by sensor index */
const struct mailbox_output *channels_output(const struct channels *channels, int output);
const struct mailbox_health *channels_bus(const struct channels *channels, int bus);

/* The scan of a bus; NULL: its driver knows no addresses. Wake it after starting one. */
struct scan *channels_scan(const struct channels *channels, int bus);
void channels_wake(const struct channels *channels, int bus);

/* Notes a wish for one output; channels_send hands all of them to the workers. A wish stands until
 * the next one. */
void channels_want(struct channels *channels, int output, double value);
void channels_send(struct channels *channels);

/* The index of a bus whose driver exceeds its time, or −1. */
int channels_late_bus(const struct channels *channels, int64_t boot_ns);

/* Whether a worker still does what was due by then: the time of a demonstration waits for it. */
bool channels_are_behind(const struct channels *channels, int64_t boot_ns);

#endif
