/* SPDX-License-Identifier: Apache-2.0 */
#include "powershare.h"

#include "plan_price.h"

#include <math.h>

static const int HALVINGS = 40;
static const double PRICE_SAME = 1e-6; /* in ln: prices this close are one */

double power_limit_w(const struct power_limit *limit, double extra_per_kwh)
{
    return extra_per_kwh < limit->soft_price_per_kwh ? fmin(limit->soft_w, limit->hard_w)
                                                     : limit->hard_w;
}

double powershare_whole_price(double price_per_kwh, double extra_per_kwh)
{
    return fmax(price_per_kwh, PLAN_PRICE_LEAST) + extra_per_kwh;
}

double powershare_log_worth(double price, double full_umol)
{
    return log(3.6 * fmax(price, 0) * full_umol);
}

static double watts_at(const struct power_user *user, double log_price, double spread)
{
    const double log_worth = user->log_worth - log_price;
    const double level = powercurve_level(user->curve, log_worth, spread, &user->limits);
    return fmax(user->least_w, user->scale * powercurve_watts(user->curve, level, &user->limits));
}

double powershare_watts(const struct power_user *user, double price_per_kwh, double spread)
{
    return watts_at(user, log(fmax(price_per_kwh, PLAN_PRICE_LEAST)), spread);
}

static double sum_w(const struct power_user *users, int count, double log_price, double spread)
{
    double sum = 0;
    for (int i = 0; i < count; i++) {
        sum += watts_at(&users[i], log_price, spread);
    }
    return sum;
}

/* The price of energy above which nobody asks for more than his lowest. */
static double highest(const struct power_user *users, int count, double price_per_kwh,
                      double spread)
{
    double most = log(price_per_kwh);
    for (int i = 0; i < count; i++) {
        const struct powercurve *curve = users[i].curve;
        double first = curve->count > 0 ? curve->log_slope[0] : curve->best_log;
        first = fmin(first, curve->best_log);
        most = fmax(most, users[i].log_worth - first + spread);
    }
    return exp(most + PRICE_SAME);
}

/* Between a price at which the sum is too much and one at which nobody can save more. */
static double narrow(const struct power_user *users, int count, double room_w, double from,
                     double to, double spread)
{
    double low = log(from);
    double high = log(to);
    for (int i = 0; i < HALVINGS && high - low > PRICE_SAME; i++) {
        const double middle = 0.5 * (low + high);
        if (sum_w(users, count, middle, spread) > room_w) {
            low = middle;
        } else {
            high = middle;
        }
    }
    return exp(high);
}

double powershare_extra(const struct power_limit *limit, double price_per_kwh,
                        const struct power_user *users, int count, double spread)
{
    const double price = fmax(price_per_kwh, PLAN_PRICE_LEAST);
    if (sum_w(users, count, log(price), spread) <= power_limit_w(limit, 0)) {
        return 0;
    }
    double room_w = limit->hard_w;
    double from = price;
    double to = 0;
    if (limit->soft_w < limit->hard_w) {
        const double dear = price + limit->soft_price_per_kwh;
        const double at_dear_w = sum_w(users, count, log(dear), spread);
        if (at_dear_w > limit->soft_w && at_dear_w <= limit->hard_w) {
            return limit->soft_price_per_kwh; /* worth more than that */
        }
        if (at_dear_w <= limit->soft_w) {
            room_w = limit->soft_w;
            to = dear;
        } else {
            from = dear;
        }
    }
    if (!(to > 0)) {
        to = fmax(highest(users, count, price, spread), from);
    }
    return narrow(users, count, room_w, from, to, spread) - price;
}
