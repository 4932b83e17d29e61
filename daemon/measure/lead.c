/* SPDX-License-Identifier: Apache-2.0 */
#include "lead.h"

#include "err.h"
#include "units.h"

#include <errno.h>

static int check(const char *what, double value, double high, const char *unit, struct err *err)
{
    if (!(value > 0 && value <= high)) {
        return err_fail(err, ERANGE, "%s of %g is out of range (above 0 … %g, %s)", what, value,
                        high, unit);
    }
    return 0;
}

int lead_of(const struct lead *lead, struct lead_answer *ret, struct err *err)
{
    double ohm_per_m = 0;
    int rc = check("length", lead->length_m, 1000, "m", err);
    if (rc == 0) {
        rc = check("current", lead->current_a, 100, "A", err);
    }
    if (rc == 0 && lead->output_v != 0) {
        rc = check("output voltage", lead->output_v, 1000, "V", err);
    }
    if (rc == 0) {
        rc = conductor_ohm_per_m(&lead->conductor, lead->temperature_c, &ohm_per_m, err);
    }
    if (rc < 0) {
        return rc;
    }
    const double ohm = ohm_per_m * 2 * lead->length_m;
    const double drop_v = ohm * lead->current_a;
    if (lead->output_v > 0 && drop_v >= lead->output_v) {
        return err_fail(err, EDOM, "the lead would take %.1f V, and the LED driver gives %g V",
                        drop_v, lead->output_v);
    }
    *ret = (struct lead_answer){
        .ohm = ohm,
        .drop_v = drop_v,
        .loss_w = drop_v * lead->current_a,
        .share = lead->output_v > 0 ? drop_v / lead->output_v : UNITS_NONE,
    };
    return 0;
}

int lead_thinnest(const struct lead *lead, double share, struct lead *ret, struct err *err)
{
    double sizes[CONDUCTOR_SIZES_MAX];
    const int count = conductor_sizes(lead->conductor.make, sizes);
    struct lead tried = *lead;
    for (int i = 0; i < count; i++) {
        struct lead_answer answer = {0};
        tried.conductor.size = sizes[i];
        const int rc = lead_of(&tried, &answer, err);
        if (rc == 0 && answer.share <= share) {
            *ret = tried;
            return 0;
        }
        if (rc < 0 && rc != -EDOM) {
            return rc;
        }
    }
    return err_fail(err, ENOENT, "no size of %s keeps the drop within %g %%: the lead is too long",
                    conductor_source(lead->conductor.make), share * 100);
}
