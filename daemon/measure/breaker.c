/* SPDX-License-Identifier: Apache-2.0 */
#include "breaker.h"

#include "err.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <string.h>

#define RATED_LOW_A  0.5
#define RATED_HIGH_A 125.0 /* where IEC 60898-1 ends (from memory) */
#define WHOLE        1e-9  /* 80 A / 16 A is five, whatever the last bit says */
#define MANY         100000

static const struct {
    char letter;
    double least, most;
} bands[BREAKER_BANDS] = {
    [BREAKER_B] = {'B', 3, 5},
    [BREAKER_C] = {'C', 5, 10},
    [BREAKER_D] = {'D', 10, 20},
};

double breaker_least_multiple(enum breaker_band band)
{
    return bands[band].least;
}

double breaker_most_multiple(enum breaker_band band)
{
    return bands[band].most;
}

char breaker_letter(enum breaker_band band)
{
    return bands[band].letter;
}

int breaker_parse(const char *text, struct breaker *ret, struct err *err)
{
    char quoted[32];
    for (int i = 0; i < BREAKER_BANDS; i++) {
        struct breaker breaker = {.band = (enum breaker_band)i};
        if (text[0] == bands[i].letter && strchr("0123456789", text[1]) && text[1] != '\0') {
            const int rc = parse_real(text + 1, RATED_LOW_A, RATED_HIGH_A, &breaker.rated_a, err);
            if (rc == 0) {
                *ret = breaker;
            }
            return rc;
        }
    }
    parse_quote(text, quoted, sizeof quoted);
    return err_fail(err, EINVAL, "\"%s\" is no breaker: B, C or D and its amperes, as in C16",
                    quoted);
}

static int check(const char *what, double value, double low, double high, struct err *err)
{
    if (!(value >= low && value <= high)) {
        return err_fail(err, ERANGE, "%s of %g is out of range (%g … %g)", what, value, low, high);
    }
    return 0;
}

static int whole(double count)
{
    return count < MANY ? (int)floor(count * (1 + WHOLE)) : MANY;
}

int breaker_bears(const struct breaker *breaker, const struct breaker_load *load,
                  struct breaker_answer *ret, struct err *err)
{
    int rc = check("rated current", breaker->rated_a, RATED_LOW_A, RATED_HIGH_A, err);
    if (rc == 0) {
        rc = check("running current", load->running_a, 0.001, 1000, err);
    }
    if (rc == 0 && units_known(load->inrush_a)) {
        rc = check("inrush peak", load->inrush_a, load->running_a, 10000, err);
    }
    if (rc == 0) {
        rc = check("margin", load->margin, 0.1, 20, err);
    }
    if (rc == 0) {
        rc = check("use", load->use, 0.05, 1, err);
    }
    if (rc < 0) {
        return rc;
    }
    const double opens_a = load->margin * bands[breaker->band].least * breaker->rated_a;
    struct breaker_answer answer = {
        .by_inrush = units_known(load->inrush_a) ? whole(opens_a / load->inrush_a) : -1,
        .by_running = whole(load->use * breaker->rated_a / load->running_a),
    };
    answer.drivers = answer.by_running;
    if (answer.by_inrush >= 0 && answer.by_inrush < answer.drivers) {
        answer.drivers = answer.by_inrush;
    }
    *ret = answer;
    return 0;
}
