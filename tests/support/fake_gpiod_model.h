/* SPDX-License-Identifier: Apache-2.0 */
/* The kernel's side of both stand-ins for libgpiod: chips, pins, and requests that hold them. */
#ifndef LAMPWARDEN_FAKE_GPIOD_MODEL_H
#define LAMPWARDEN_FAKE_GPIOD_MODEL_H

#include <stdbool.h>

enum { FAKE_PINS_MAX = 128, FAKE_REQUEST_MAX = 64, FAKE_NAME_SIZE = 32 };

struct fake_pin {
    char name[FAKE_NAME_SIZE], consumer[FAKE_NAME_SIZE];
    bool is_taken; /* by somebody else */
    int stuck;     /* −1: not */
    bool is_active_low;
    bool value; /* logical, while driven */
    char history[256];
    int handle;     /* pins of one request share it; 0: not held by the program */
    unsigned place; /* in its request */
};

struct fake_chip {
    char device[FAKE_NAME_SIZE], label[FAKE_NAME_SIZE];
    unsigned pin_count;
    int open_error, set_error, get_error;
    bool is_gone;
    struct fake_pin pins[FAKE_PINS_MAX];
};

struct fake_request {
    unsigned offsets[FAKE_REQUEST_MAX];
    bool values[FAKE_REQUEST_MAX];
    unsigned count;
    bool is_active_low;
    const char *consumer;
};

/* −1, and errno as the kernel has it. */
int fake_fail(int error);

/* By the last part of the path; counts as opened. NULL and errno. */
struct fake_chip *fake_open(const char *path);
void fake_close(void);

/* All pins or none → a handle, or −1 and errno: ENODEV, EINVAL for an offset, EBUSY. */
int fake_hold(struct fake_chip *chip, const struct fake_request *request);
void fake_release(struct fake_chip *chip, int handle);

/* The pin at that place of a request, or NULL. */
struct fake_pin *fake_pin_of(struct fake_chip *chip, int handle, unsigned place);
void fake_drive(struct fake_pin *pin, bool value);
bool fake_level(const struct fake_pin *pin); /* logical */

#endif
