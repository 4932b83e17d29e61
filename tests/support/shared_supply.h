/* SPDX-License-Identifier: Apache-2.0 */
/*
 * An invented propagation room on one supply: three spaces with a fixture each (lettuce 300 W,
 * basil 200 W, chrysanthemum 250 W at full light), two windows, three targets, a tariff of three
 * prices.
 */
#ifndef LAMPWARDEN_TEST_SHARED_SUPPLY_H
#define LAMPWARDEN_TEST_SHARED_SUPPLY_H

#include "config.h"

#define SHARED_DAY 20759 /* 2026-11-02, a Monday */

/* power: the inside of site.power, "limit_w = 500.0;", or "" for none. daylight: the last space
 * sees it. Fails the test where it does not load. The caller's: config_free. */
struct config *shared_supply(const char *power, bool daylight);

/* Watts by the dimming curves of what a space was commanded. */
struct space_state;
double shared_supply_w(const struct space_rules *rules, const struct space_state *state);

#endif
