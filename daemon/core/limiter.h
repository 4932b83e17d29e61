/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Limiters: the level is the smallest that any rule allows, and the rule that set it is the
 * limiter. In order of power, strongest first; where two rules allow the same level the stronger
 * one is named. Names are stored in the journal and printed: they never change their spelling.
 */
#ifndef LAMPWARDEN_LIMITER_H
#define LAMPWARDEN_LIMITER_H

enum limiter {
    LIMITER_NOT_RUNNING,     /* the daemon was not running: only in the mol account */
    LIMITER_NIGHT,           /* outside the window, or the stage has not begun */
    LIMITER_CLOCK_UNTRUSTED, /* the time of day is not known */
    LIMITER_OUTPUT_FAULT,    /* an output does not obey */
    LIMITER_HEAT_TRIP,       /* too hot or blind: switch open */
    LIMITER_DRIVER_TRIP,     /* the LED driver shut down: switch open, waiting to re-strike */
    LIMITER_REST,            /* minimum off time of the switch */
    LIMITER_HEAT,            /* heat foldback */
    LIMITER_DRIVE_CEILING,   /* highest drive that the LED driver holds */
    LIMITER_POWER_LIMIT,     /* what all spaces together may draw */
    LIMITER_LIGHT_CEILING,   /* PPFD ceiling of the stage */
    LIMITER_SENSOR_LOST,     /* no PPFD reading: fixed level of the stage */
    LIMITER_BY_HAND,         /* the operator's level */
    LIMITER_DAWN,
    LIMITER_DUSK,
    LIMITER_FULL_LIGHT, /* the plan asks for more than the fixtures can give */
    LIMITER_TARGET_MET,
    LIMITER_PLAN,
    LIMITER_COUNT
};

const char *limiter_name(enum limiter limiter); /* "heat-trip" */

/* The limiter of that name, or LIMITER_COUNT. */
enum limiter limiter_find(const char *name);

#endif
