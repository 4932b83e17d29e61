/* SPDX-License-Identifier: Apache-2.0 */
/* The points one after the other, each onto the disk before the next. */
#include "survey_live_parts.h"

#include "clock.h"
#include "err.h"
#include "interrupt.h"
#include "units.h"
#include "verb.h"

#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#define LOOK_MS  250
#define TELL_S   3.0 /* a wait that is shorter is not worth a word: a carried sensor jumps */
#define UMOL_TOP 5000.0

/* What becomes of one point. */
enum outcome { OUTCOME_READ, OUTCOME_KEY, OUTCOME_GIVEN_UP };

/* Why no reading counts at the moment. */
static void say_why(const struct live *live, const struct stand *stand, char *buffer, size_t size)
{
    const struct live_sight *sight = &live->daemon.sight;
    const double wanted = stand->level;
    if (stand->state == STAND_UNUSABLE) {
        (void)snprintf(buffer, size, "%s", sight->unusable);
    } else if (!units_known(live->level)) {
        (void)snprintf(buffer, size, "the lamps move: %.1f %% now (%s)", 100 * wanted,
                       sight->limiter);
    } else {
        const bool is_meant = !stand_is_level(sight->aim, wanted);
        const int used = snprintf(
            buffer, size, "the lamps stand at %.1f %% (%s), the survey was begun at %.1f %%",
            100 * sight->stand.level, sight->limiter, 100 * wanted);
        if (is_meant && used > 0 && (size_t)used < size) {
            (void)snprintf(buffer + used, size - (size_t)used,
                           "; to hold them there, in another shell: lampwarden hold %s %.1f%% "
                           "--for 1h",
                           live->daemon.space, 100 * wanted);
        }
    }
}

/* A wait of one kind is told once, when it is long enough. */
struct wait {
    int64_t since_ns, bad_since_ns;
    enum stand_state state;
    char quality[16];
    bool is_told;
};

static double seconds_since(int64_t from_ns)
{
    return (double)(clock_boot_ns() - from_ns) / (double)CLOCK_NS_PER_S;
}

static void watch(struct live *live, const struct stand *stand, struct wait *wait)
{
    char why[LIVE_REASON_MAX + 64];
    const struct live_sight *sight = &live->daemon.sight;
    if (stand->state == STAND_SETTLES) {
        wait->bad_since_ns = clock_boot_ns();
    }
    if (stand->state != wait->state || strcmp(wait->quality, sight->quality) != 0) {
        wait->state = stand->state;
        wait->since_ns = clock_boot_ns();
        wait->is_told = false;
        (void)snprintf(wait->quality, sizeof wait->quality, "%s", sight->quality);
    }
    const bool is_good = stand->state == STAND_SETTLES || stand->state == STAND_IS_DONE;
    if (!is_good && !wait->is_told && seconds_since(wait->since_ns) >= TELL_S) {
        say_why(live, stand, why, sizeof why);
        live_show_waiting(live, why);
        wait->is_told = true;
    }
}

/* Readings until they rest. On a screen a word in between ends it (*ret_key); a rig's next words
 * wait for their point. */
static enum outcome measure(struct live *live, struct stand *stand, enum live_key *ret_key)
{
    struct wait wait = {.since_ns = clock_boot_ns(), .bad_since_ns = clock_boot_ns()};
    stand_begin(stand, &live->rules, live->level);
    for (;;) {
        const int64_t now_ns = clock_boot_ns();
        live_look(&live->daemon);
        if (stand_look(stand, &live->daemon.sight.stand) == STAND_IS_DONE) {
            return OUTCOME_READ;
        }
        watch(live, stand, &wait);
        live_show_progress(live, stand);
        if (seconds_since(wait.bad_since_ns) >= live->patience_s) {
            return OUTCOME_GIVEN_UP;
        }
        *ret_key = live->is_screen ? live_key(&live->keys, LOOK_MS) : LIVE_NOTHING;
        if (*ret_key != LIVE_NOTHING && *ret_key != LIVE_ENTER) {
            return OUTCOME_KEY;
        }
        (void)clock_sleep_until(now_ns + LOOK_MS * CLOCK_NS_PER_MS, NULL);
        if (interrupt_came()) {
            *ret_key = LIVE_INTERRUPTED;
            return OUTCOME_KEY;
        }
    }
}

/* The head says what the lamps did, so it is made with the first reading. */
static int store(struct live *live, struct err *err)
{
    int rc = 0;
    if (!units_known(live->level)) {
        live->begun.level = live->daemon.sight.stand.level;
        rc = live_file_head(live, err);
    }
    return rc == 0 ? live_file_store(&live->file, &live->walk, err) : rc;
}

/* Not stored is not done: the point stays where it is. */
static int not_stored(struct live *live, int rc, const struct err *err)
{
    walk_undo(&live->walk);
    if (live->is_screen && live->file.is_there && rc != -EBUSY) {
        (void)snprintf(live->news, sizeof live->news,
                       "! Not stored, so this point stays open: %.400s", err->text);
        return VERB_OK;
    }
    return verb_fail(LIVE_NAME, VERB_FAILED, "point %d is not stored: %s", live->walk.at + 1,
                     err->text);
}

static int accept_reading(struct live *live, const struct stand *stand)
{
    struct err err;
    struct settle_mean mean;
    stand_mean_of(stand, &mean);
    walk_accept(&live->walk, &(struct walk_reading){fmin(fmax(mean.umol, 0), UMOL_TOP),
                                                    mean.spread_umol, mean.samples});
    const int rc = store(live, &err);
    if (rc < 0) {
        return not_stored(live, rc, &err);
    }
    live->level = units_known(live->level) ? live->level : stand->level;
    live_show_reading(live, stand);
    return VERB_OK;
}

static int skip(struct live *live)
{
    struct err err;
    const int index = live->walk.at;
    walk_skip(&live->walk);
    const int rc = store(live, &err);
    if (rc < 0) {
        return not_stored(live, rc, &err);
    }
    live_show_left_out(live, index);
    return VERB_OK;
}

static void explain(struct live *live)
{
    static const char words[] =
        "Enter measures here, r once more where the last reading was taken, b goes a point back, "
        "s goes on without a reading, a NUMBER goes to that point, q ends for today";
    (void)snprintf(live->news, sizeof live->news, "%s.", words);
    if (!live->is_screen) {
        live_say(live, "not understood; %s", words);
    }
}

/* The end of a walk before its end: what there is, and how it goes on. */
static int leave(const struct live *live, enum live_key key)
{
    const struct walk *walk = &live->walk;
    const int done = walk->count - walk_number_of(walk, WALK_OPEN);
    const char *why = key == LIVE_QUIT   ? "left"
                      : key == LIVE_GONE ? "the input ended"
                                         : "interrupted";
    if (live->is_screen) {
        (void)putchar('\n');
    }
    if (done == 0) {
        live_say(live, "%s before the first point: nothing was written", why);
    } else {
        live_say(live, "%s: %d of %d points are in %s; the same command goes on with the next", why,
                 done, walk->count, live->file.path);
    }
    return key == LIVE_QUIT ? VERB_OK : VERB_FAILED;
}

/* Measures the present point, and whatever somebody says meanwhile. */
static int measure_here(struct live *live, enum live_key *key)
{
    struct stand stand;
    switch (measure(live, &stand, key)) {
    case OUTCOME_READ:
        *key = LIVE_NOTHING;
        return accept_reading(live, &stand);
    case OUTCOME_KEY:
        return VERB_OK;
    case OUTCOME_GIVEN_UP:
        break;
    }
    char why[LIVE_REASON_MAX + 64];
    say_why(live, &stand, why, sizeof why);
    *key = LIVE_GONE;
    return verb_fail(LIVE_NAME, VERB_FAILED, "point %d had no reading that counts for %g s: %s",
                     live->walk.at + 1, live->patience_s, why);
}

/* One word at the prompt; *key becomes what ends the walk, or LIVE_NOTHING. */
static int obey(struct live *live, enum live_key *key)
{
    int code = VERB_OK;
    const enum live_key said = *key;
    *key = LIVE_NOTHING;
    live->news[0] = '\0';
    switch (said) {
    case LIVE_REPEAT:
        if (walk_repeat(&live->walk)) {
            return measure_here(live, key);
        }
        (void)snprintf(live->news, sizeof live->news, "No point was measured yet in this round.");
        break;
    case LIVE_ENTER:
        return measure_here(live, key);
    case LIVE_BACK:
        (void)walk_back(&live->walk);
        break;
    case LIVE_SKIP:
        code = skip(live);
        break;
    case LIVE_GO:
        if (!walk_go(&live->walk, live->keys.number - 1)) {
            (void)snprintf(live->news, sizeof live->news, "There are points 1 to %d.",
                           live->walk.count);
        }
        break;
    case LIVE_STRANGE:
        explain(live);
        break;
    case LIVE_QUIT:
    case LIVE_GONE:
    case LIVE_INTERRUPTED:
        *key = said;
        break;
    case LIVE_NOTHING:
        break;
    }
    return code;
}

static bool ends(enum live_key key)
{
    return key == LIVE_QUIT || key == LIVE_GONE || key == LIVE_INTERRUPTED;
}

int live_walk(struct live *live, bool *ret_is_whole)
{
    enum live_key key = LIVE_NOTHING;
    int code = VERB_OK;
    while (code == VERB_OK && !ends(key)) {
        const bool is_over = walk_is_over(&live->walk);
        if (is_over && !live->is_screen) {
            break;
        }
        if (key == LIVE_NOTHING && is_over) {
            live_show_end(live);
        } else if (key == LIVE_NOTHING) {
            live_show_point(live);
        }
        if (key == LIVE_NOTHING) {
            key = live_key(&live->keys, -1);
        }
        if (is_over && (key == LIVE_ENTER || key == LIVE_QUIT || key == LIVE_SKIP)) {
            break;
        }
        code = obey(live, &key);
    }
    *ret_is_whole = code == VERB_OK && walk_is_over(&live->walk) && !ends(key);
    return code == VERB_OK && ends(key) ? leave(live, key) : code;
}
