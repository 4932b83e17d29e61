/* SPDX-License-Identifier: Apache-2.0 */
#include "near.h"
#include "plan_case.h"
#include "powershare.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define SPREAD    0.01
#define USERS_MAX 4

static const struct power_limit no_limit = {(double)INFINITY, (double)INFINITY, 0};

static struct lampcurve straight_lamp(double full_w)
{
    const double level[] = {0.1, 1};
    const double watts[] = {0.1 * full_w, full_w};
    struct lampcurve lamp;
    lampcurve_of(&lamp, level, watts, 2, 0);
    return lamp;
}

static struct power_user user_of(const struct powercurve *curve, double worth_w)
{
    return (struct power_user){curve, log(worth_w), {0.1, 1}, 1, 0};
}

static void nothing_on_top_while_all_fits(void **state)
{
    (void)state;
    const struct lampcurve lamp = straight_lamp(600);
    struct powercurve curve;
    powercurve_init(&curve, &lamp);
    const struct power_user users[] = {user_of(&curve, 900), user_of(&curve, 900)};
    const struct power_limit limit = {1200, (double)INFINITY, 0};
    assert_near(powershare_extra(&limit, 0.3, users, 2, SPREAD), 0, 0);
    assert_near(powershare_extra(&no_limit, 0.3, users, 2, SPREAD), 0, 0);
    assert_near(powershare_watts(&users[0], 0.3, SPREAD), 600, 1e-9);
}

/* Both lamps cost 600 W of worth for full light: the one whose light is worth more keeps it. */
static void watts_stay_where_they_are_worth_most(void **state)
{
    (void)state;
    const struct lampcurve lamp = straight_lamp(600);
    struct powercurve curve;
    powercurve_init(&curve, &lamp);
    const struct power_user users[] = {user_of(&curve, 300), user_of(&curve, 400)};
    const struct power_limit limit = {700, (double)INFINITY, 0};
    const double extra = powershare_extra(&limit, 0.3, users, 2, SPREAD);
    assert_near(powershare_watts(&users[0], 0.3 + extra, SPREAD), 100, 0.1);
    assert_near(powershare_watts(&users[1], 0.3 + extra, SPREAD), 600, 0.1);
    assert_true(0.3 + extra > 0.49 && 0.3 + extra < 0.52); /* 300 W of worth over 600 W */
}

static void ties_are_shared(void **state)
{
    (void)state;
    const struct lampcurve lamp = straight_lamp(600);
    struct powercurve curve;
    powercurve_init(&curve, &lamp);
    const struct power_user users[] = {user_of(&curve, 400), user_of(&curve, 400)};
    const struct power_limit limit = {700, (double)INFINITY, 0};
    const double extra = powershare_extra(&limit, 0.3, users, 2, SPREAD);
    assert_near(powershare_watts(&users[0], 0.3 + extra, SPREAD), 350, 0.1);
    assert_near(powershare_watts(&users[1], 0.3 + extra, SPREAD), 350, 0.1);
}

/* Three cases of a soft limit: kept, crossed because the light is worth it, and cut by the hard. */
static void a_soft_limit_has_a_price(void **state)
{
    (void)state;
    const struct lampcurve lamp = straight_lamp(600);
    struct powercurve curve;
    powercurve_init(&curve, &lamp);
    const struct power_user cheap = user_of(&curve, 240); /* worth 0.40 a kWh */
    const struct power_user worthy[] = {user_of(&curve, 420), user_of(&curve, 420)};
    struct power_limit limit = {(double)INFINITY, 300, 0.2};
    double extra = powershare_extra(&limit, 0.3, &cheap, 1, SPREAD);
    assert_near(extra, 0.1, 0.005);
    assert_near(powershare_watts(&cheap, 0.3 + extra, SPREAD), 300, 0.1);
    extra = powershare_extra(&limit, 0.3, worthy, 2, SPREAD);
    assert_near(extra, 0.2, 0);
    assert_near(powershare_watts(&worthy[0], 0.3 + extra, SPREAD), 600, 0.1);
    limit.hard_w = 800;
    extra = powershare_extra(&limit, 0.3, worthy, 2, SPREAD);
    assert_near(extra, 0.4, 0.01);
    assert_near(powershare_watts(&worthy[0], 0.3 + extra, SPREAD), 400, 0.1);
}

/* Floors, contacts that may not open yet and levels by hand are drawn whatever they cost. */
static void fixed_needs_come_first(void **state)
{
    (void)state;
    const struct lampcurve lamp = straight_lamp(600);
    struct powercurve curve;
    powercurve_init(&curve, &lamp);
    struct power_user users[] = {
        user_of(&curve, 900), user_of(&curve, 300), {&curve, -(double)INFINITY, {0, 0}, 1, 60}};
    users[1].limits.low = users[1].limits.high = 0.5;
    const struct power_limit limit = {500, (double)INFINITY, 0};
    const double extra = powershare_extra(&limit, 0.3, users, 3, SPREAD);
    assert_near(powershare_watts(&users[0], 0.3 + extra, SPREAD), 140, 0.1);
    assert_near(powershare_watts(&users[1], 0.3 + extra, SPREAD), 300, 1e-9);
    assert_near(powershare_watts(&users[2], 0.3 + extra, SPREAD), 60, 0);
    const struct power_limit little = {200, (double)INFINITY, 0};
    const double most = powershare_extra(&little, 0.3, users, 3, SPREAD);
    assert_true(isfinite(most));
    assert_near(powershare_watts(&users[0], 0.3 + most, SPREAD), 60, 1e-9);
}

static void the_sum_fits_and_no_lower_price_does(void **state)
{
    (void)state;
    struct prng prng = prng_start("the_sum_fits_and_no_lower_price_does");
    for (int round = 0; round < 1000; round++) {
        struct lampcurve lamp[USERS_MAX];
        struct powercurve curve[USERS_MAX];
        struct power_user users[USERS_MAX];
        const int count = (int)prng_int(&prng, 1, USERS_MAX);
        double least_w = 0;
        for (int i = 0; i < count; i++) {
            plan_case_curve(&lamp[i], &prng, prng_real(&prng, 0.02, 0.4), prng_real(&prng, 0, 60));
            powercurve_init(&curve[i], &lamp[i]);
            users[i] = (struct power_user){.curve = &curve[i],
                                           .log_worth = log(prng_real(&prng, 10, 900)),
                                           .limits = {prng_int(&prng, 0, 1) ? 0.1 : 0, 1},
                                           .scale = prng_real(&prng, 0.2, 1.1)};
            least_w += powershare_watts(&users[i], 1e9, SPREAD);
        }
        const double price = prng_real(&prng, -0.1, 0.5);
        const struct power_limit limit = {least_w + prng_real(&prng, 1, 900), (double)INFINITY, 0};
        const double extra = powershare_extra(&limit, price, users, count, SPREAD);
        double sum = 0;
        double before = 0;
        for (int i = 0; i < count; i++) {
            const double whole = fmax(price, 1e-3) + extra;
            sum += powershare_watts(&users[i], whole, SPREAD);
            before += powershare_watts(&users[i], whole * (1 - 1e-5), SPREAD);
        }
        assert_true(extra >= 0);
        assert_true(sum <= limit.hard_w);
        assert_true(extra == 0 || before > limit.hard_w);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_on_top_while_all_fits),
        cmocka_unit_test(watts_stay_where_they_are_worth_most),
        cmocka_unit_test(ties_are_shared),
        cmocka_unit_test(a_soft_limit_has_a_price),
        cmocka_unit_test(fixed_needs_come_first),
        cmocka_unit_test(the_sum_fits_and_no_lower_price_does),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
