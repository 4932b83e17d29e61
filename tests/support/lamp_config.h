/* SPDX-License-Identifier: Apache-2.0 */
/* A small configuration on the in-process bench, for tests of the running daemon's parts. */
#ifndef LAMPWARDEN_LAMP_CONFIG_H
#define LAMPWARDEN_LAMP_CONFIG_H

#include "config.h"

/* One fixture with dimming line, switch, heat and power sensor under one PPFD sensor, in a space
 * "basil" that is lit from `on_s` (second of the UTC day) for `length_h` hours; no journal, no
 * socket; "other_dim" and "other_contact" belong to a second lamp that no fixture uses. The first
 * stage began two days before `wall_s`. target_mol: of the stage. Never NULL. */
struct config *lamp_config(int64_t wall_s, int32_t on_s, double length_h, double target_mol);

#endif
