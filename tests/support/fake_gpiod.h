/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Stand-ins for libgpiod at link time, with pins that can be watched and faults that can be
 * switched on: fake_gpiod_v1.c for libgpiod 1, fake_gpiod_v2.c for libgpiod 2, over one model of
 * chips and pins.
 *
 * They behave as the libraries do towards the kernel's interfaces, including the trap of the first
 * one, that setting fewer lines than were requested together sets the others to 0. One world for
 * the whole program. A pin's history is a word: one letter for each level since the world began,
 * repeats left out: 'z' not driven, 'L' low, 'H' high.
 */
#ifndef LAMPWARDEN_FAKE_GPIOD_H
#define LAMPWARDEN_FAKE_GPIOD_H

#include <stdbool.h>

void fake_gpiod_reset(void);

/* A chip whose device file is called `device` ("gpiochip0"); returns its index. */
int fake_gpiod_add_chip(const char *device, const char *label, unsigned lines);
void fake_gpiod_add_link(const char *device, int chip); /* another file name of the same chip */
void fake_gpiod_name_line(int chip, unsigned offset, const char *name);

void fake_gpiod_take(int chip, unsigned offset,
                     const char *consumer);      /* somebody else holds it … */
void fake_gpiod_free(int chip, unsigned offset); /* … and lets go */

void fake_gpiod_fail_open(int chip, int error);
void fake_gpiod_fail_set(int chip, int error); /* 0: mended */
void fake_gpiod_fail_get(int chip, int error);
void fake_gpiod_stick(int chip, unsigned offset,
                      int level); /* pin reads so whatever is driven; −1: mended */
void fake_gpiod_unplug(int chip); /* every call says ENODEV; a chip added later may take its name */

const char *fake_gpiod_history(int chip, unsigned offset);
const char *fake_gpiod_consumer(int chip, unsigned offset);
bool fake_gpiod_is_held(int chip, unsigned offset); /* by the program under test */
int fake_gpiod_requests(void);                      /* requests that succeeded since the reset */
int fake_gpiod_open_chips(void);                    /* opened and not closed */

#endif
