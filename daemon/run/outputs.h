/* SPDX-License-Identifier: Apache-2.0 */
/*
 * From verdicts to wishes, and whether the devices obey.
 *
 * An output obeys when its bus is connected, the device took the newest wish without an error and
 * what was read back afterwards agrees within the tolerance. One that does not for `fault_after` is
 * in fault; a lost connection is a fault at once, since connecting again opens contacts. The way
 * back is to obey for a hold time that starts at 5 s and doubles with every relapse within 10
 * minutes, up to 10 minutes: an adapter that its own contact knocks off the bus does not make the
 * light flicker.
 *
 * A contact is closed only after its fixture's dimming output was seen to obey: no flash of full
 * light from a line that still stands where it was.
 */
#ifndef LAMPWARDEN_OUTPUTS_H
#define LAMPWARDEN_OUTPUTS_H

#include "channels.h"
#include "config.h"
#include "decide.h"

struct outputs;

/* before: outputs of an earlier configuration with the same hardware (a reload), or NULL. */
int outputs_create(const struct config *config, const struct outputs *before, struct outputs **ret,
                   struct err *err);
void outputs_destroy(struct outputs *outputs); /* NULL is fine */

/* Wishes of a daemon that is not ready yet, or stops: contacts open, then (with also_dim) the
 * dimming outputs at their safe drive. */
void outputs_want_safe(struct outputs *outputs, bool also_dim);

/* Takes over one space's verdict. */
void outputs_apply(struct outputs *outputs, int space, const struct verdict *verdict);

/* Looks at what the devices did (channels fetched before), and moves the fault states. */
void outputs_check(struct outputs *outputs, const struct channels *channels, int64_t boot_ns);

/* Hands the wishes on (channels_want for each); the caller sends. */
void outputs_pass(const struct outputs *outputs, struct channels *channels);

/* Fills output_fault and the switch's read-back of every fixture in *now. */
void outputs_fill(const struct outputs *outputs, int space, struct now *now);

/* Every used output obeyed its wish at the last check, or is in fault: the question before READY.
 */
bool outputs_are_decided(const struct outputs *outputs);
/* Every used output obeys, contacts only (also_dim false) or all of them: the question before the
 * end. */
bool outputs_obey(const struct outputs *outputs, bool also_dim);

/* A change of fault state to tell, one a call, in order of the outputs; false: no more. */
struct outputs_news {
    int output;
    bool is_fault;
    const char *reason; /* "bus shelf: connection refused", "reads back 0.42, written 0.80" */
};
bool outputs_news(struct outputs *outputs, struct outputs_news *ret);

/* What is known of one output, as of the last check. */
struct outputs_view {
    bool is_used; /* by a fixture of a space */
    bool obeys, is_fault;
    double asked;     /* NaN: no wish */
    double written;   /* what the device took last on this connection; NaN: nothing yet */
    double read_back; /* NaN: nothing yet, or the device cannot be asked */
    int64_t since_ns; /* boot time since when `written` is what it is; 0: not yet */
    char reason[160]; /* why it does not obey, or did not when its fault began; "": it does */
};
void outputs_look(const struct outputs *outputs, int output, struct outputs_view *ret);

#endif
