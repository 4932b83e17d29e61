/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What is known of the age of each space's lamps (ageing.h), kept in the journal from one run to
 * the next, once a light day; and in words.
 */
#ifndef LAMPWARDEN_AGEINGS_H
#define LAMPWARDEN_AGEINGS_H

#include "ageing.h"
#include "config.h"
#include "journal.h"
#include "journal_read.h"

#define AGEINGS_WORDS_MAX 256

/* Puts a copy into the journal's queue. journal NULL: nothing. */
void ageings_keep(struct journal *journal, const char *space, int64_t wall_s,
                  const struct ageing *ageing);

/* 0 with *ret filled; -ENOENT: none is kept; -EILSEQ, -EPROTO: damaged, of another version. */
int ageings_restore(struct journal_reader *reader, const char *space, struct ageing *ret,
                    struct err *err);

/* "94 % of commissioning after 210 days, ±2 %", with what the sensors say of one another; "" when
 * nothing is known or nobody named a date of commissioning. */
void ageings_words(const struct ageing_rules *rules, const struct ageing *ageing, char *buffer,
                   size_t size);

#endif
