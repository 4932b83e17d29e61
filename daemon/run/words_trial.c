/* SPDX-License-Identifier: Apache-2.0 */
/* What holds an output that is moved by hand away from where it was asked to be. */
#include "words.h"

#include <math.h>
#include <stdio.h>

#define SAME_DRIVE 0.001

/* Its contact may still be closed; else the order to open is just not old enough to be trusted. */
static bool is_doubtful(const struct words_lamp *lamp)
{
    return lamp->state->is_stuck || lamp->now->output_fault || lamp->now->opening_unconfirmed;
}

static void say_drive(const struct words_lamp *lamp, char *buffer, size_t size)
{
    const double asked = lamp->now->try_drive.value;
    const double drive = lamp->verdict->drive;
    const bool is_settled = lamp->state->switching.phase == SWITCHING_CLOSED;
    if (fabs(drive - asked) <= SAME_DRIVE) {
        return;
    }
    if (!lamp->verdict->closed && lamp->rules->has_switch) {
        (void)snprintf(buffer, size, "stays at %.2f: %s", drive,
                       is_doubtful(lamp) ? "its switch is not known to be open"
                                         : "waits until the dark is sure, up to 20 s");
    } else if (lamp->verdict->closed && !is_settled) {
        (void)snprintf(buffer, size, "stays at %.2f while the switch settles", drive);
    } else {
        (void)snprintf(buffer, size, "held at %.2f by: %s", drive,
                       words_limiter(lamp->verdict->limiter));
    }
}

static void say_contact(const struct words_lamp *lamp, char *buffer, size_t size)
{
    const bool asked = lamp->now->try_contact.value > 0.5;
    const struct switching *switching = &lamp->state->switching;
    const struct switching_rules *rules = &lamp->rules->switching;
    const double left_s = (asked ? rules->min_off_s : rules->min_on_s) - switching->since_change_s;
    if (asked == lamp->verdict->closed) {
        return;
    }
    if (asked && lamp->verdict->limiter != LIMITER_REST &&
        lamp->verdict->limiter != LIMITER_BY_HAND) {
        (void)snprintf(buffer, size, "stays open: %s", words_limiter(lamp->verdict->limiter));
    } else if (left_s > 0) {
        (void)snprintf(buffer, size, "stays %s for another %.0f s: minimum %s time of the switch",
                       asked ? "open" : "closed", ceil(left_s), asked ? "off" : "on");
    } else {
        (void)snprintf(buffer, size, "%s",
                       asked ? "waits its turn to close" : "is dimmed before it opens");
    }
}

void words_trial(const struct words_lamp *lamp, bool of_contact, char *buffer, size_t size)
{
    const struct trial *trial = of_contact ? &lamp->now->try_contact : &lamp->now->try_drive;
    buffer[0] = '\0';
    if (!trial_is_on(trial, lamp->boot_ns)) {
        return;
    }
    if (of_contact) {
        say_contact(lamp, buffer, size);
    } else {
        say_drive(lamp, buffer, size);
    }
}
