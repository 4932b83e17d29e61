/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Why the lamps of a space burn as they do at one moment, or did in any stored minute: a sentence,
 * and every rule with the level that it allowed and what it saw. One JSON object a space, for the
 * command, the page and programs; null is what is not known, levels are 0 … 1:
 *
 * space, time (of the minute or of now, at the site's fixed offset), at (the second of which the
 * rules speak), wall_clock (where the civil clock shows another time), is_now, sentence, note;
 *
 * level, asked_level, limiter, limiter_words; ruled_longest, ruled_longest_words and level_mean of
 * the minute; planned_level, floor_level, plan, light_price_per_mol, lamp_cost_per_mol,
 * price_per_kwh, currency, delivered_mol, target_mol, to_come_mol, forecast_mol, ppfd,
 * daylight_umol;
 *
 * rules of the space, the strongest first, each with limiter, words, allowed (null: it had nothing
 * to say), rules (it is the one) and saw; fixtures, each with fixture, level, limiter,
 * limiter_words, pace, asked_level, asked_by, heat, power and its own rules; fixtures_left_out.
 *
 * A reading has value, quality, age_s; it is null where there was none, or where the minute does
 * not keep it. etc/fields.txt says more.
 *
 * A minute that was stored before the chain was kept has a note and no rules.
 */
#ifndef LAMPWARDEN_WHY_H
#define LAMPWARDEN_WHY_H

#include "journal_read.h"
#include "snapshot.h"

#include <jansson.h>

struct civil;
struct err;

/* Of a space of a picture that is ready. */
json_t *why_now(const struct picture *picture, int space);

/* The same as an answer of the daemon: site, time, is_ready, and spaces, of which space −1 means
 * all. */
json_t *why_picture(const struct picture *picture, int space);

struct why_ask {
    const char *space;
    const char *time;          /* as a person writes it (why_time.h); NULL: the newest minute */
    const struct civil *civil; /* the clock on the wall; NULL: not known */
};

/* Of a stored minute, over a connection of the caller's own. -EINVAL, -ERANGE: no such time;
 * -ENOENT: no such space or minute; the sentence names what is stored. */
int why_at(struct journal_reader *reader, const struct why_ask *ask, json_t **ret, struct err *err);

#endif
