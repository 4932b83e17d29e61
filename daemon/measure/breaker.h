/* SPDX-License-Identifier: Apache-2.0 */
/*
 * How many LED drivers one circuit breaker bears. Its magnetic part may open at the lower end of
 * its band, a multiple n of the rated current, so drivers that are switched on together must stay
 * below n · rated; a pulse much shorter than half a period of the mains needs more, which is the
 * maker's to say: the margin k. Its thermal part bears the rated current.
 *     drivers = min( floor(k · n · rated / inrush peak), floor(use · rated / running current) )
 * Bands of IEC 60898-1 as texts of the trade quote them (common practice; D up to 20 from memory).
 */
#ifndef LAMPWARDEN_BREAKER_H
#define LAMPWARDEN_BREAKER_H

struct err;

enum breaker_band { BREAKER_B, BREAKER_C, BREAKER_D, BREAKER_BANDS };

struct breaker {
    enum breaker_band band;
    double rated_a; /* 0.5 … 125 */
};

struct breaker_load {
    double running_a; /* of one LED driver at full light, > 0 */
    double inrush_a;  /* its peak, ≥ running_a; NaN: not known, it then does not bind */
    double margin;    /* k, 0.1 … 20; 1: a short pulse counts like a long one */
    double use;       /* share of the rated current that may flow for hours, > 0 … 1 */
};

struct breaker_answer {
    int by_inrush; /* −1: not known */
    int by_running;
    int drivers; /* the smaller; 0: not even one */
};

/* The magnetic band, multiples of the rated current. */
double breaker_least_multiple(enum breaker_band band);
double breaker_most_multiple(enum breaker_band band);

/* 'B', 'C', 'D'. */
char breaker_letter(enum breaker_band band);

/* "C16" → band and rated current. -EINVAL, -ERANGE. */
int breaker_parse(const char *text, struct breaker *ret, struct err *err);

/* -ERANGE with the value and its range. */
int breaker_bears(const struct breaker *breaker, const struct breaker_load *load,
                  struct breaker_answer *ret, struct err *err);

#endif
