/* SPDX-License-Identifier: Apache-2.0 */
#include "account.h"

#include "units.h"

#include <string.h>

static double at_least_zero(double value)
{
    return value > 0 ? value : 0;
}

/* What follows from target, delivered and the charges. */
static void settle(struct account *account)
{
    const double open = account->target_mol - account->delivered_mol;
    account->surplus_mol = at_least_zero(-open);
    account->to_come_mol = at_least_zero(open - account_missing_mol(account));
}

static void charge(struct account *account, double more, const double blame[LIMITER_COUNT],
                   enum limiter otherwise)
{
    double sum = 0;
    for (int i = 0; blame && i < LIMITER_COUNT; i++) {
        sum += blame[i];
    }
    if (!blame || !(sum > 0)) {
        account->missing_mol[otherwise] += more;
        return;
    }
    for (int i = 0; i < LIMITER_COUNT; i++) {
        account->missing_mol[i] += more * blame[i] / sum;
    }
}

double account_missing_mol(const struct account *account)
{
    double sum = 0;
    for (int i = 0; i < LIMITER_COUNT; i++) {
        sum += account->missing_mol[i];
    }
    return sum;
}

void account_open(struct account *account, double target_mol, double delivered_mol,
                  const struct account_reach *reach)
{
    memset(account, 0, sizeof *account);
    account->target_mol = target_mol;
    account->delivered_mol = delivered_mol;
    const double open = target_mol - delivered_mol;
    const double by_full = at_least_zero(open - reach->full_mol);
    const double by_drive = at_least_zero(open - reach->drive_mol);
    const double by_ceiling = at_least_zero(open - reach->ceiling_mol);
    account->missing_mol[LIMITER_FULL_LIGHT] = by_full;
    account->missing_mol[LIMITER_DRIVE_CEILING] = at_least_zero(by_drive - by_full);
    account->missing_mol[LIMITER_LIGHT_CEILING] = at_least_zero(by_ceiling - by_drive);
    settle(account);
}

void account_step(struct account *account, double delivered_mol, double rest_mol,
                  const double blame[LIMITER_COUNT], enum limiter otherwise)
{
    account->delivered_mol = delivered_mol;
    const double before = account_missing_mol(account);
    const double after = at_least_zero(account->target_mol - delivered_mol - rest_mol);
    if (after > before) {
        charge(account, after - before, blame, otherwise);
    } else if (after < before) {
        for (int i = 0; i < LIMITER_COUNT; i++) {
            account->missing_mol[i] *= after / before;
        }
    }
    settle(account);
}

void account_retarget(struct account *account, double target_mol, double rest_mol,
                      enum limiter otherwise)
{
    account->target_mol = target_mol;
    account_step(account, account->delivered_mol, rest_mol, NULL, otherwise);
}
