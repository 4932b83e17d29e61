/* SPDX-License-Identifier: Apache-2.0 */
#include "clocktrust.h"

#include "units.h"

#include <stdlib.h>

static const int64_t step_ns = 2 * UNITS_NS_PER_S;
static const int64_t believable_s = 20 * 365 * UNITS_S_PER_DAY; /* after the build */
static const int64_t behind_s = 3600;
static const int64_t ahead_s =
    365 * UNITS_S_PER_DAY; /* of the journal, with nobody's word for it */

void clocktrust_init(struct clocktrust *trust, bool has_sync, int64_t synced_offset_ns)
{
    *trust = (struct clocktrust){
        .trust = CLOCK_UNTRUSTED,
        .reason = "not looked at yet",
        .was_synchronised = has_sync,
        .synced_offset_ns = synced_offset_ns,
    };
}

/* A wrong clock far ahead that were believed would write entries that no right clock can pass. A
 * program that has run for years has seen them pass. */
static bool is_far_ahead(const struct clocktrust_rules *rules, const struct clocktrust *trust,
                         int64_t wall_s, int64_t boot_ns)
{
    int64_t ran_s = (boot_ns - trust->first_boot_ns) / UNITS_NS_PER_S;
    return rules->latest_s > 0 && wall_s > rules->latest_s + ahead_s + ran_s;
}

static enum clock_trust judge(const struct clocktrust_rules *rules, struct clocktrust *trust,
                              int64_t wall_s, int64_t boot_ns, enum clock_sync sync)
{
    trust->is_behind_journal = false;
    if (wall_s < rules->build_s) {
        trust->reason = "earlier than the build of this program";
        return CLOCK_UNTRUSTED;
    }
    if (wall_s > rules->build_s + believable_s) {
        trust->reason = "more than 20 years later than the build of this program";
        return CLOCK_UNTRUSTED;
    }
    if (sync == CLOCK_SYNC_YES) {
        trust->was_synchronised = true;
        trust->synced_offset_ns = trust->offset_ns;
        trust->is_behind_journal = wall_s < rules->latest_s - behind_s;
        trust->reason = trust->is_behind_journal
                            ? "synchronised, although the journal holds later entries"
                            : "synchronised";
        return CLOCK_SYNCHRONISED;
    }
    /* The quartz drifts by seconds a day, far below the step limit between two looks; what breaks
     * the trust is a step since the last synchronisation, found against the offset that slides
     * along with it. */
    if (trust->was_synchronised && llabs(trust->offset_ns - trust->synced_offset_ns) <= step_ns) {
        trust->synced_offset_ns = trust->offset_ns;
        trust->reason = "synchronised earlier since the machine started";
        return CLOCK_HELD_OVER;
    }
    if (wall_s < rules->latest_s) {
        trust->reason = "not synchronised, and earlier than the journal's latest entry";
        return CLOCK_UNTRUSTED;
    }
    if (is_far_ahead(rules, trust, wall_s, boot_ns)) {
        trust->reason = "not synchronised, and over a year later than the journal's latest entry";
        return CLOCK_UNTRUSTED;
    }
    if (rules->trusts_held_over) {
        trust->reason = "not synchronised, but later than every entry of the journal";
        return CLOCK_HELD_OVER;
    }
    trust->reason = "not synchronised since the machine started";
    return CLOCK_UNTRUSTED;
}

struct clocktrust_change clocktrust_step(const struct clocktrust_rules *rules,
                                         struct clocktrust *trust, int64_t boot_ns, int64_t wall_ns,
                                         enum clock_sync sync)
{
    struct clocktrust_change change = {0};
    int64_t offset_ns = wall_ns - boot_ns;
    if (trust->has_offset && llabs(offset_ns - trust->offset_ns) > step_ns) {
        change.stepped = true;
        change.from_s = (boot_ns + trust->offset_ns) / UNITS_NS_PER_S;
        change.to_s = wall_ns / UNITS_NS_PER_S;
    }
    trust->first_boot_ns = trust->has_offset ? trust->first_boot_ns : boot_ns;
    trust->offset_ns = offset_ns;
    trust->has_offset = true;
    enum clock_trust before = trust->trust;
    trust->trust = judge(rules, trust, wall_ns / UNITS_NS_PER_S, boot_ns, sync);
    change.trust_changed = trust->trust != before;
    return change;
}

const char *clocktrust_name(enum clock_trust trust)
{
    switch (trust) {
    case CLOCK_UNTRUSTED:
        return "untrusted";
    case CLOCK_HELD_OVER:
        return "held-over";
    case CLOCK_SYNCHRONISED:
        return "synchronised";
    }
    return "untrusted";
}
