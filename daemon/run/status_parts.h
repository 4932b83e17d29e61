/* SPDX-License-Identifier: Apache-2.0 */
/* Parts of status.h, shared by its files alone. */
#ifndef LAMPWARDEN_STATUS_PARTS_H
#define LAMPWARDEN_STATUS_PARTS_H

#include "status.h"

json_t *status_missing(const struct account *account);  /* {limiter: mol} */
json_t *status_out_of_reach(const struct reach *reach); /* a sentence, or null */

/* Sentences about what is wrong: with one space, and with the daemon and its devices. */
json_t *status_space_faults(const struct picture *picture, int space);
json_t *status_faults(const struct picture *picture);

/* What makes it one; in earnest the field is left out. */
void status_put_demonstration(json_t *object, const struct picture *picture);

/* Outputs as they were asked, written and read back; of one space, or (−1) all of them. */
json_t *status_outputs(const struct picture *picture, int space);
/* Steps of the lamps so far, their ratio, and what a person accepted of it. */
json_t *status_gain(const struct space_state *state);
/* {words, share, spread, last_day …}: the lamps beside their commissioning; null: not known. */
json_t *status_ageing(const struct config_space *space, const struct space_state *state);
/* Watts by the curve and by the fixture's own meter, light by the curve. */
void status_put_observed(json_t *object, const struct fixture_rules *rules,
                         const struct picture_space *its, int place);

#endif
