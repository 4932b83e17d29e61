/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The mol account: target + surplus = delivered + to come + Σ missing, whatever happens.
 */
#include "account.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>

static const double nobody[LIMITER_COUNT];

static void near(double a, double b)
{
    assert_true(fabs(a - b) <= 1e-9);
}

static void adds_up(const struct account *account)
{
    near(account->target_mol + account->surplus_mol,
         account->delivered_mol + account->to_come_mol + account_missing_mol(account));
    assert_true(account->to_come_mol >= 0 && account->surplus_mol >= 0);
    for (int i = 0; i < LIMITER_COUNT; i++) {
        assert_true(account->missing_mol[i] >= -1e-12);
    }
}

static void open_within_reach(void **state)
{
    (void)state;
    struct account account;
    account_open(&account, 17, 0, &(struct account_reach){24, 22, 20});
    assert_true(account_missing_mol(&account) == 0);
    assert_true(account.to_come_mol == 17);
    adds_up(&account);
}

static void open_out_of_reach_names_who(void **state)
{
    (void)state;
    struct account account;
    account_open(&account, 17, 0, &(struct account_reach){16, 15, 12});
    near(account.missing_mol[LIMITER_FULL_LIGHT], 1);
    near(account.missing_mol[LIMITER_DRIVE_CEILING], 1);
    near(account.missing_mol[LIMITER_LIGHT_CEILING], 3);
    near(account.to_come_mol, 12);
    adds_up(&account);
}

static void a_loss_that_is_made_up_costs_nothing(void **state)
{
    (void)state;
    struct account account;
    double heat[LIMITER_COUNT] = {0};
    heat[LIMITER_HEAT] = 100;
    account_open(&account, 10, 0, &(struct account_reach){20, 20, 20});
    account_step(&account, 0, 12, heat, LIMITER_PLAN); /* eight lost, two to spare */
    assert_true(account_missing_mol(&account) == 0);
    account_step(&account, 10, 0, nobody, LIMITER_PLAN);
    assert_true(account_missing_mol(&account) == 0);
    adds_up(&account);
}

static void only_what_cannot_be_made_up_is_charged(void **state)
{
    (void)state;
    struct account account;
    double blame[LIMITER_COUNT] = {0};
    blame[LIMITER_HEAT] = 300;
    blame[LIMITER_REST] = 100;
    account_open(&account, 10, 0, &(struct account_reach){12, 12, 12});
    account_step(&account, 0, 6, blame, LIMITER_PLAN);
    near(account.missing_mol[LIMITER_HEAT], 3);
    near(account.missing_mol[LIMITER_REST], 1);
    account_step(&account, 8, 0, nobody, LIMITER_PLAN); /* the sun gave two */
    near(account.missing_mol[LIMITER_HEAT], 1.5);
    near(account.missing_mol[LIMITER_REST], 0.5);
    adds_up(&account);
}

static void surplus(void **state)
{
    (void)state;
    struct account account;
    account_open(&account, 10, 0, &(struct account_reach){20, 20, 20});
    account_step(&account, 12.5, 3, nobody, LIMITER_PLAN);
    near(account.surplus_mol, 2.5);
    assert_true(account.to_come_mol == 0);
    adds_up(&account);
}

static void retarget(void **state)
{
    (void)state;
    struct account account;
    account_open(&account, 10, 0, &(struct account_reach){12, 12, 12});
    account_step(&account, 4, 7, nobody, LIMITER_PLAN);
    account_retarget(&account, 13, 7, LIMITER_PLAN);
    near(account.missing_mol[LIMITER_PLAN], 2);
    adds_up(&account);
    account_retarget(&account, 9, 7, LIMITER_PLAN);
    assert_true(account_missing_mol(&account) == 0);
    adds_up(&account);
}

static double any(double high)
{
    return high * (rand() % 10001) / 10000.0;
}

static void always_adds_up(void **state)
{
    (void)state;
    const unsigned seed = 17;
    print_message("seed %u\n", seed);
    srand(seed);
    for (int day = 0; day < 2000; day++) {
        struct account account;
        const double full = any(30);
        const double drive = any(full);
        account_open(&account, any(25), 0, &(struct account_reach){full, drive, any(drive)});
        adds_up(&account);
        double delivered = 0;
        for (int step = 0; step < 50; step++) {
            double blame[LIMITER_COUNT] = {0};
            if (rand() % 2) {
                blame[rand() % LIMITER_COUNT] = any(400);
                blame[rand() % LIMITER_COUNT] = any(400);
            }
            delivered += any(0.6);
            account_step(&account, delivered, any(20), blame,
                         (enum limiter)(rand() % LIMITER_COUNT));
            if (rand() % 20 == 0) {
                account_retarget(&account, any(25), any(20), LIMITER_PLAN);
            }
            adds_up(&account);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(open_within_reach),
        cmocka_unit_test(open_out_of_reach_names_who),
        cmocka_unit_test(a_loss_that_is_made_up_costs_nothing),
        cmocka_unit_test(only_what_cannot_be_made_up_is_charged),
        cmocka_unit_test(surplus),
        cmocka_unit_test(retarget),
        cmocka_unit_test(always_adds_up),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
