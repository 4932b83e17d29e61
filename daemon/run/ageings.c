/* SPDX-License-Identifier: Apache-2.0 */
#include "ageings.h"

#include "keepsake.h"

#include <math.h>
#include <stdio.h>

#define LEAST_PERCENT 1.0 /* no sensor tells less */
#define SOME_LOSS     0.97

static const struct keepsake age = {
    .suffix = "/age",
    .words = "the age of the lamps",
    .version = 1,
    .size = sizeof(struct ageing),
};

_Static_assert(sizeof(struct ageing) <= KEEPSAKE_SIZE_MAX, "the age of the lamps can be kept");
_Static_assert(CONFIG_PPFD_SENSORS_MAX == AGEING_SENSORS, "every light sensor is compared");

void ageings_keep(struct journal *journal, const char *space, int64_t wall_s,
                  const struct ageing *ageing)
{
    keepsake_put(&age, journal, space, wall_s, ageing);
}

int ageings_restore(struct journal_reader *reader, const char *space, struct ageing *ret,
                    struct err *err)
{
    struct ageing kept;
    const int code = keepsake_get(&age, reader, space, &kept, err);
    if (code < 0) {
        return code;
    }
    if (!ageing_is_sane(&kept)) {
        return keepsake_damaged(&age, err);
    }
    *ret = kept;
    return 0;
}

void ageings_words(const struct ageing_rules *rules, const struct ageing *ageing, char *buffer,
                   size_t size)
{
    const struct ageing_view view = ageing_view(ageing, rules);
    buffer[0] = '\0';
    if (!view.is_known) {
        return;
    }
    const int used = snprintf(buffer, size, "%.0f %% of commissioning after %lld days, ±%.0f %%",
                              100 * view.share, (long long)(view.last_day - rules->commissioned),
                              ceil(fmax(100 * view.spread, LEAST_PERCENT) - 1e-9));
    if (used <= 0 || (size_t)used >= size) {
        return;
    }
    if (view.fallen >= 0) {
        (void)snprintf(buffer + used, size - (size_t)used,
                       "; light sensor %d of %d shows %.0f %% of what it did beside the others: "
                       "dust on it, or it was moved",
                       view.fallen + 1, rules->sensor_count, 100 * view.fallen_share);
    } else if (view.sensors > 1 && view.share < SOME_LOSS) {
        (void)snprintf(buffer + used, size - (size_t)used,
                       "; all light sensors fell alike: the lamps, or dust on all");
    }
}
