/* SPDX-License-Identifier: Apache-2.0 */
#include "power_words.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void add_money(double per_kwh, const char *currency, char *buffer, size_t size)
{
    const size_t used = strlen(buffer);
    (void)snprintf(buffer + used, size - used, "%.3f%s%s", per_kwh, currency[0] ? " " : "",
                   currency);
}

/* What holds the lamps: a limit that is never exceeded, or a price that some light is worth. */
static void add_what_binds(const struct powerplan_view *view, const char *currency, char *buffer,
                           size_t size)
{
    const size_t used = strlen(buffer);
    if (view->is_short) {
        (void)snprintf(buffer + used, size - used,
                       "; the lowest levels of all spaces are more than that: they take turns");
    } else if (view->cuts_floor) {
        (void)snprintf(buffer + used, size - used,
                       "; the floors of the stages need more than that: they are cut");
    } else if (view->is_binding && !view->is_soft) {
        (void)snprintf(
            buffer + used, size - used,
            "; more is wanted, but the limit is never exceeded: lamps are dimmed for it");
    } else if (view->is_binding) {
        const bool is_crossed = view->watts > view->soft_w + 0.5; /* 400 is not above 400 */
        (void)snprintf(buffer + used, size - used, "; %s the soft limit of %.0f W a kWh costs ",
                       is_crossed ? "needed for a target although above"
                                  : "more is wanted, but above",
                       view->soft_w);
        add_money(view->soft_price_per_kwh, currency, buffer, size);
        const size_t end = strlen(buffer);
        (void)snprintf(buffer + end, size - end, " more%s",
                       is_crossed ? "" : ": what can wait is dimmed");
    }
}

void power_words_now(const struct powerplan_view *view, const char *currency, char *buffer,
                     size_t size)
{
    buffer[0] = '\0';
    if (!view->is_shared) {
        return;
    }
    const bool has_hard = isfinite(view->limit_w) && view->limit_w > 0;
    const double limit_w = has_hard ? view->limit_w : view->soft_w;
    (void)snprintf(buffer, size, "%.0f of %.0f W%s", view->watts, limit_w,
                   has_hard ? "" : " (soft limit)");
    add_what_binds(view, currency, buffer, size);
}

void power_words_limit(const struct config *config, char *buffer, size_t size)
{
    const struct power_limit *limit = &config->site.power;
    double least_w = 0;
    double most_w = 0;
    buffer[0] = '\0';
    for (int i = 0; i < config->space_count; i++) {
        const struct lampcurve *lamp = &config->spaces[i].rules.lamp;
        least_w += lamp->watts[0];
        most_w += lamp->watts[lamp->count - 1];
    }
    if (isinf(limit->hard_w) && isinf(limit->soft_w)) {
        return;
    }
    (void)snprintf(buffer, size,
                   "power: all lamps together draw %.0f W at their lowest level, "
                   "%.0f W at full light",
                   least_w, most_w);
    size_t used = strlen(buffer);
    if (isfinite(limit->hard_w)) {
        (void)snprintf(buffer + used, size - used, "; never more than %.0f W of it at a time",
                       limit->hard_w);
    }
    used = strlen(buffer);
    if (isfinite(limit->soft_w)) {
        (void)snprintf(buffer + used, size - used, "; above %.0f W a kWh costs ", limit->soft_w);
        add_money(limit->soft_price_per_kwh, config->site.currency, buffer, size);
        used = strlen(buffer);
        (void)snprintf(buffer + used, size - used, " more");
    }
}
