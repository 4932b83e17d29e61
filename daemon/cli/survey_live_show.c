/* SPDX-License-Identifier: Apache-2.0 */
/* What somebody who carries the sensor, or a rig that does, is told. */
#include "survey_live_parts.h"

#include "json_out.h"
#include "units.h"
#include "wrap.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define CLEAR "\033[H\033[2J"
#define ERASE "\r\033[K"
#define BELL  "\a" /* whoever holds the sensor looks at it, not here */

/* One event for a rig: words as key=value, or an object. Takes over `more`. */
static void tell(const struct live *live, const char *event, int index, json_t *more)
{
    const char *const *const places = live->walk.grid.is_in_inches
                                          ? (const char *const[]){"x_in", "y_in"}
                                          : (const char *const[]){"x_cm", "y_cm"};
    const struct walk_spot spot = walk_spot(&live->walk, index);
    json_t *object = json_pack("{s:s,s:i,s:i,s:f,s:f}", "event", event, "point", index + 1, "of",
                               live->walk.count, places[0], spot.x, places[1], spot.y);
    if (more) {
        (void)json_object_update(object, more);
        json_decref(more);
    }
    if (live->words->wants_json) {
        json_out_print(object);
        (void)fflush(stdout);
        return;
    }
    const char *key;
    json_t *value;
    (void)fputs(event, stdout);
    json_object_foreach(object, key, value)
    {
        if (strcmp(key, "event") != 0) {
            char *text = json_dumps(value, JSON_ENCODE_ANY | JSON_REAL_PRECISION(7));
            (void)printf(" %s=%s", key, text ? text : "");
            free(text);
        }
    }
    (void)putchar('\n');
    (void)fflush(stdout);
    json_decref(object);
}

void live_say(const struct live *live, const char *format, ...)
{
    char text[2 * LIVE_REASON_MAX];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    if (live->words->wants_json) {
        json_out_print(json_pack("{s:s,s:o}", "event", "note", "words", json_out_text(text)));
        (void)fflush(stdout);
        return;
    }
    (void)strncat(text, "\n", sizeof text - strlen(text) - 1);
    FILE *out = live->is_screen ? stdout : stderr;
    wrap_text(out, text, 0);
    (void)fflush(out);
}

static void show_screen(const struct live *live)
{
    const char *terminal = getenv("TERM");
    const bool is_dumb = !terminal || strcmp(terminal, "dumb") == 0;
    char height[LIVE_WORDS_MAX];
    live_height_words(live->begun.height_note, height, sizeof height);
    (void)printf("%s%s, %s, by %s\n%s: %d of %d points", is_dumb ? "\n" : CLEAR,
                 live->begun.fixture, height, live->daemon.sensor, live->file.path,
                 walk_number_of(&live->walk, WALK_MEASURED), live->walk.count);
    const int left_out = walk_number_of(&live->walk, WALK_LEFT_OUT);
    if (left_out > 0) {
        (void)printf(", %d left out", left_out);
    }
    (void)puts("\n");
    live_map(live);
    (void)putchar('\n');
    if (live->news[0]) {
        live_say(live, "%s", live->news);
    }
}

void live_show_point(const struct live *live)
{
    const struct walk *walk = &live->walk;
    const struct walk_spot spot = walk_spot(walk, walk->at);
    if (!live->is_screen) {
        tell(live, "point", walk->at, NULL);
        return;
    }
    show_screen(live);
    const struct walk_point *point = &walk->points[walk->at];
    (void)printf("Point %d of %d: x %g, y %g %s", walk->at + 1, walk->count, spot.x, spot.y,
                 walk_unit(&walk->grid));
    if (point->mark == WALK_MEASURED) {
        (void)printf("; it has %.1f", point->reading.umol);
    }
    (void)fputs(".\nEnter measures; ", stdout);
    if (walk->latest >= 0) {
        (void)printf("r again point %d, ", walk->latest + 1);
    }
    (void)printf("%ss skip, NUMBER goes there, q quit: ", walk->at > 0 ? "b back, " : "");
    (void)fflush(stdout);
}

void live_show_end(const struct live *live)
{
    if (!live->is_screen) {
        return;
    }
    show_screen(live);
    (void)printf("No point is open. Enter ends and reports; b back, %sNUMBER goes there: ",
                 live->walk.latest >= 0 ? "r again, " : "");
    (void)fflush(stdout);
}

void live_show_reading(struct live *live, const struct stand *stand)
{
    const int index = live->walk.latest;
    const struct walk_reading *reading = &live->walk.points[index].reading;
    if (!live->is_screen) {
        tell(live, "reading", index,
             json_pack("{s:f,s:f,s:i,s:b}", "ppfd_umol", reading->umol, "spread_umol",
                       reading->spread_umol, "samples", reading->samples, "steady",
                       (int)stand->is_steady));
    } else {
        (void)fputs(BELL, stdout);
    }
    (void)snprintf(live->news, sizeof live->news,
                   "Point %d: %.1f ± %.1f µmol m⁻² s⁻¹ (%d readings%s), stored.", index + 1,
                   reading->umol, reading->spread_umol, reading->samples,
                   stand->is_steady ? "" : "; they did not come to rest: r measures it again");
}

void live_show_left_out(struct live *live, int index)
{
    const struct walk_point *point = &live->walk.points[index];
    if (!live->is_screen) {
        tell(live, point->mark == WALK_MEASURED ? "kept" : "left-out", index, NULL);
    }
    if (point->mark == WALK_MEASURED) {
        (void)snprintf(live->news, sizeof live->news, "Point %d keeps its %.1f µmol m⁻² s⁻¹.",
                       index + 1, point->reading.umol);
    } else {
        (void)snprintf(live->news, sizeof live->news,
                       "Point %d is left out; its number brings it back.", index + 1);
    }
}

void live_show_waiting(const struct live *live, const char *why)
{
    if (live->is_screen) {
        (void)fputs(BELL ERASE, stdout);
        live_say(live, "! It waits: %s", why);
    } else {
        tell(live, "waiting", live->walk.at, json_pack("{s:o}", "why", json_out_text(why)));
    }
}

void live_show_progress(const struct live *live, const struct stand *stand)
{
    const struct live_sight *sight = &live->daemon.sight;
    if (!live->is_screen) {
        return;
    }
    switch (stand->state) {
    case STAND_SETTLES:
    case STAND_IS_DONE:
        (void)printf(ERASE "%.1f µmol m⁻² s⁻¹, %d of %d readings …", sight->stand.umol,
                     stand_samples(stand), stand->rules.samples);
        break;
    case STAND_UNUSABLE:
        (void)printf(ERASE "%s: %s …", live->daemon.sensor,
                     sight->quality[0] ? sight->quality : "no answer");
        break;
    case STAND_MOVED:
        (void)printf(ERASE "the lamps stand at %.1f %% …", 100 * sight->stand.level);
        break;
    }
    (void)fflush(stdout);
}
