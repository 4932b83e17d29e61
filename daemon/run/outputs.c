/* SPDX-License-Identifier: Apache-2.0 */
#include "outputs.h"

#include "err.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const int64_t fault_after_ns = 3 * UNITS_NS_PER_S;
static const int64_t start_grace_ns = 5 * UNITS_NS_PER_S; /* for the first connection */
static const int64_t behind_ns = 5 * UNITS_NS_PER_S;      /* a slow bus may lag behind a ramp */
static const int64_t too_old_ns = 60 * UNITS_NS_PER_S;    /* workers write again every 10 s */
static const int64_t hold_first_ns = 5 * UNITS_NS_PER_S;
static const int64_t hold_last_ns = 600 * UNITS_NS_PER_S;
static const int64_t relapse_ns = 600 * UNITS_NS_PER_S;

struct watch {     /* one output */
    bool is_used;  /* by a fixture of a space */
    double safe;   /* NaN: a dimming output that no fixture uses */
    double wanted; /* NaN: no wish */
    bool obeys;    /* at the last check */
    bool is_fault, has_news;
    int64_t changed_ns; /* since when `obeys` is what it is */
    bool is_checked;
    bool was_cleared;
    int64_t cleared_ns; /* when the last fault ended */
    int64_t hold_ns;    /* how long to obey before the fault ends */
    uint32_t epoch;     /* of the bus at the last check */
    double written;
    int64_t since_ns; /* since when `written` is what it is */
    double seen;      /* on this connection; NaN: nothing or cannot be asked */
    /* of a contact: */
    int64_t closed_ns; /* last check at which it was to be closed; 0: never */
    bool may_conduct;  /* no opening was taken since, nor since the start */
    bool told_closed;  /* the last verdict; the contact may have to wait for its line */
    char reason[256];
};

struct outputs {
    const struct config *config;
    struct watch *watches;
};

static const struct config_fixture *fixture_of(const struct outputs *outputs, int space, int place)
{
    return &outputs->config->fixtures[outputs->config->spaces[space].fixtures[place]];
}

static void use(struct watch *watch, double safe)
{
    watch->is_used = true;
    watch->safe = safe;
    if (isnan(watch->wanted)) {
        watch->wanted = safe;
    }
}

static void mark_used(struct outputs *outputs)
{
    for (int s = 0; s < outputs->config->space_count; s++) {
        const struct space_rules *rules = &outputs->config->spaces[s].rules;
        for (int place = 0; place < rules->fixture_count; place++) {
            const struct config_fixture *fixture = fixture_of(outputs, s, place);
            if (fixture->dim_output >= 0) {
                use(&outputs->watches[fixture->dim_output], rules->fixtures[place].safe_drive);
            }
            if (fixture->switch_output >= 0) {
                use(&outputs->watches[fixture->switch_output], 0);
            }
        }
    }
}

static void carry_over(struct outputs *outputs, const struct outputs *before)
{
    for (int i = 0; i < outputs->config->output_count; i++) {
        for (int k = 0; k < before->config->output_count; k++) {
            if (strcmp(outputs->config->outputs[i].name, before->config->outputs[k].name) == 0) {
                outputs->watches[i] = before->watches[k];
                outputs->watches[i].is_used = false;
            }
        }
    }
}

int outputs_create(const struct config *config, const struct outputs *before, struct outputs **ret,
                   struct err *err)
{
    struct outputs *outputs = calloc(1, sizeof *outputs);
    if (outputs) {
        outputs->config = config;
        outputs->watches = calloc((size_t)config->output_count + 1, sizeof *outputs->watches);
    }
    if (!outputs || !outputs->watches) {
        outputs_destroy(outputs);
        return err_fail(err, ENOMEM, "no memory for the outputs");
    }
    for (int i = 0; i < config->output_count; i++) {
        double safe = config->outputs[i].kind == OUTPUT_SWITCH ? 0 : (double)NAN;
        outputs->watches[i] = (struct watch){.safe = safe,
                                             .wanted = safe,
                                             .hold_ns = hold_first_ns,
                                             .may_conduct = true,
                                             .written = (double)NAN,
                                             .seen = (double)NAN};
    }
    if (before) {
        carry_over(outputs, before);
    }
    mark_used(outputs);
    for (int i = 0; i < config->output_count; i++) {
        if (!outputs->watches[i].is_used) {
            outputs->watches[i].wanted = outputs->watches[i].safe; /* no longer used: dark */
        }
    }
    *ret = outputs;
    return 0;
}

void outputs_destroy(struct outputs *outputs)
{
    if (outputs) {
        free(outputs->watches);
        free(outputs);
    }
}

static bool is_switch(const struct outputs *outputs, int output)
{
    return outputs->config->outputs[output].kind == OUTPUT_SWITCH;
}

void outputs_want_safe(struct outputs *outputs, bool also_dim)
{
    for (int i = 0; i < outputs->config->output_count; i++) {
        if (also_dim || is_switch(outputs, i)) {
            outputs->watches[i].wanted = outputs->watches[i].safe;
        }
    }
}

/* True when the line of the fixture was seen to stand no brighter than asked. */
static bool line_is_dim(const struct outputs *outputs, int dim_output, double drive)
{
    if (dim_output < 0) {
        return true;
    }
    const struct watch *dim = &outputs->watches[dim_output];
    return dim->obeys && dim->written <= drive + outputs->config->outputs[dim_output].tolerance;
}

void outputs_apply(struct outputs *outputs, int space, const struct verdict *verdict)
{
    int count = outputs->config->spaces[space].rules.fixture_count;
    for (int place = 0; place < count; place++) {
        const struct fixture_verdict *its = &verdict->fixtures[place];
        const struct config_fixture *fixture = fixture_of(outputs, space, place);
        if (fixture->switch_output >= 0) {
            struct watch *contact = &outputs->watches[fixture->switch_output];
            bool is_closed = contact->wanted > 0.5;
            bool close =
                its->closed && (is_closed || line_is_dim(outputs, fixture->dim_output, its->drive));
            contact->wanted = close ? 1 : 0;
            contact->told_closed = its->closed;
        }
        if (fixture->dim_output >= 0) {
            outputs->watches[fixture->dim_output].wanted = its->drive;
        }
    }
}

static bool judge_write(const struct outputs *outputs, int output, struct watch *watch,
                        const struct mailbox_output *out, int64_t age_ns)
{
    double tolerance =
        is_switch(outputs, output) ? 0.5 : outputs->config->outputs[output].tolerance;
    size_t size = sizeof watch->reason;
    if (out->error < 0 && out->error != -EAGAIN) {
        (void)snprintf(watch->reason, size, "cannot be written: %s",
                       out->reason[0] ? out->reason : err_name(out->error));
        return false;
    }
    if (isnan(out->written) || (out->written != watch->wanted && age_ns > behind_ns)) {
        (void)snprintf(watch->reason, size, "the device does not take %.3g", watch->wanted);
        return false;
    }
    if (!isnan(out->seen) && !(fabs(out->seen - out->written) <= tolerance)) {
        (void)snprintf(watch->reason, size, "reads back %.3g after %.3g was written", out->seen,
                       out->written);
        return false;
    }
    /* A closed contact is not written again and again (see mailbox.c); light and watts speak for
     * it. */
    const bool is_closed = is_switch(outputs, output) && out->wanted >= 0.5;
    if (age_ns > too_old_ns && !is_closed) {
        (void)snprintf(watch->reason, size, "not verified for %.0f s", units_seconds(age_ns));
        return false;
    }
    return true;
}

static bool judge(const struct outputs *outputs, int output, const struct channels *channels,
                  int64_t boot_ns, bool *ret_at_once)
{
    struct watch *watch = &outputs->watches[output];
    int bus = outputs->config->outputs[output].bus;
    const char *bus_name = outputs->config->buses[bus].name;
    const struct mailbox_health *health = channels_bus(channels, bus);
    const struct mailbox_output *out = channels_output(channels, output);
    bool is_new_line = health->epoch != watch->epoch;
    bool had_line = watch->epoch != 0;
    watch->epoch = health->epoch;
    if (watch->written != out->written) { /* also from or to "nothing" */
        watch->since_ns = isnan(out->written) ? 0 : boot_ns;
    }
    watch->written = out->written;
    watch->seen = out->seen;
    *ret_at_once = had_line && (is_new_line || !health->is_connected);
    if (!health->is_connected) {
        (void)snprintf(watch->reason, sizeof watch->reason, "bus %s: %s", bus_name,
                       health->reason[0] ? health->reason : "not connected yet");
        return false;
    }
    if (had_line && is_new_line) {
        (void)snprintf(watch->reason, sizeof watch->reason, "bus %s had to connect again",
                       bus_name);
        return false;
    }
    return judge_write(outputs, output, watch, out, boot_ns - out->taken_ns);
}

/* A contact counts as open again only when its device took an opening that was written after the
 * last wish to close: an answer that is lost leaves it open whether it conducts. */
static void watch_opening(struct watch *watch, const struct mailbox_output *out, int64_t boot_ns)
{
    if (watch->wanted > 0.5) {
        watch->closed_ns = boot_ns;
        watch->may_conduct = true;
    } else if (out->written < 0.5 && !(out->seen > 0.5) && out->taken_ns > watch->closed_ns) {
        watch->may_conduct = false;
    }
}

static void move_fault(struct watch *watch, bool obeys, bool at_once, int64_t boot_ns)
{
    if (!watch->is_checked || obeys != watch->obeys) {
        watch->changed_ns = boot_ns;
    }
    watch->is_checked = true;
    watch->obeys = obeys;
    int64_t lasted_ns = boot_ns - watch->changed_ns;
    if (watch->is_fault && obeys && lasted_ns >= watch->hold_ns) {
        watch->is_fault = false;
        watch->has_news = true;
        watch->was_cleared = true;
        watch->cleared_ns = boot_ns;
        return;
    }
    int64_t patience_ns = watch->epoch == 0 ? start_grace_ns : fault_after_ns;
    if (!watch->is_fault && !obeys && (at_once || lasted_ns >= patience_ns)) {
        bool is_relapse = watch->was_cleared && boot_ns - watch->cleared_ns < relapse_ns;
        watch->hold_ns = is_relapse ? watch->hold_ns * 2 : hold_first_ns;
        watch->hold_ns = watch->hold_ns > hold_last_ns ? hold_last_ns : watch->hold_ns;
        watch->is_fault = true;
        watch->has_news = true;
    }
}

void outputs_check(struct outputs *outputs, const struct channels *channels, int64_t boot_ns)
{
    for (int i = 0; i < outputs->config->output_count; i++) {
        struct watch *watch = &outputs->watches[i];
        if (!watch->is_used) {
            continue;
        }
        bool at_once = false;
        bool obeys = judge(outputs, i, channels, boot_ns, &at_once);
        move_fault(watch, obeys, at_once, boot_ns);
        watch_opening(watch, channels_output(channels, i), boot_ns);
    }
}

void outputs_pass(const struct outputs *outputs, struct channels *channels)
{
    for (int i = 0; i < outputs->config->output_count; i++) {
        channels_want(channels, i, outputs->watches[i].wanted);
    }
}

void outputs_fill(const struct outputs *outputs, int space, struct now *now)
{
    int count = outputs->config->spaces[space].rules.fixture_count;
    for (int place = 0; place < count; place++) {
        struct fixture_now *its = &now->fixtures[place];
        const struct config_fixture *fixture = fixture_of(outputs, space, place);
        its->output_fault = false;
        its->switch_is_seen = false;
        its->switch_seen_closed = false;
        its->opening_unconfirmed = false;
        its->closing_unconfirmed = false;
        if (fixture->dim_output >= 0) {
            its->output_fault = outputs->watches[fixture->dim_output].is_fault;
        }
        if (fixture->switch_output >= 0) {
            const struct watch *contact = &outputs->watches[fixture->switch_output];
            its->output_fault = its->output_fault || contact->is_fault;
            its->switch_is_seen = !isnan(contact->seen);
            its->switch_seen_closed = contact->seen > 0.5;
            its->closing_unconfirmed = contact->told_closed && !(contact->written > 0.5);
            its->opening_unconfirmed = contact->may_conduct && !(contact->wanted > 0.5);
        }
    }
}

bool outputs_are_decided(const struct outputs *outputs)
{
    for (int i = 0; i < outputs->config->output_count; i++) {
        const struct watch *watch = &outputs->watches[i];
        if (watch->is_used && !watch->obeys && !watch->is_fault) {
            return false;
        }
    }
    return true;
}

bool outputs_obey(const struct outputs *outputs, bool also_dim)
{
    for (int i = 0; i < outputs->config->output_count; i++) {
        const struct watch *watch = &outputs->watches[i];
        bool counts = watch->is_used && (also_dim || is_switch(outputs, i));
        if (counts && !(watch->obeys && watch->written == watch->wanted)) {
            return false;
        }
    }
    return true;
}

bool outputs_news(struct outputs *outputs, struct outputs_news *ret)
{
    for (int i = 0; i < outputs->config->output_count; i++) {
        struct watch *watch = &outputs->watches[i];
        if (watch->has_news) {
            watch->has_news = false;
            *ret = (struct outputs_news){i, watch->is_fault, watch->reason};
            return true;
        }
    }
    return false;
}

void outputs_look(const struct outputs *outputs, int output, struct outputs_view *ret)
{
    const struct watch *watch = &outputs->watches[output];
    *ret = (struct outputs_view){
        .is_used = watch->is_used,
        .obeys = watch->obeys,
        .is_fault = watch->is_fault,
        .asked = watch->wanted,
        .written = watch->written,
        .read_back = watch->seen,
        .since_ns = watch->since_ns,
    };
    if (!watch->obeys || watch->is_fault) {
        (void)snprintf(ret->reason, sizeof ret->reason, "%.159s", watch->reason);
    }
}
