/* SPDX-License-Identifier: Apache-2.0 */
/* The map on the screen: seen from above, the front (y = 0) at the bottom. */
#include "survey_live_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#define MARGIN 8  /* columns left of the map, for y */
#define BELOW  14 /* lines above and below the map */
#define WIDE   6
#define NARROW 2

struct window {
    int first, end;
};

/* As many of `count` as there is room for, around the one at hand. */
static struct window look_at(int at, int count, int room)
{
    const int shown = room < count ? room : count;
    int first = at - shown / 2;
    first = first + shown > count ? count - shown : first;
    first = first < 0 ? 0 : first;
    return (struct window){first, first + shown};
}

static void print_wide(const struct walk_point *point, bool is_here)
{
    char word[16];
    switch (point->mark) {
    case WALK_OPEN:
        (void)printf("%s", is_here ? "  [ ] " : "   ·  ");
        return;
    case WALK_LEFT_OUT:
        (void)printf("%s", is_here ? "  [–] " : "   –  ");
        return;
    case WALK_MEASURED:
        (void)snprintf(word, sizeof word, is_here ? "[%.0f]" : "%.0f ", point->reading.umol);
        (void)printf("%*s", WIDE, word);
        return;
    }
}

static void print_narrow(const struct walk_point *point, bool is_here)
{
    static const char *const marks[] = {
        [WALK_OPEN] = " ·", [WALK_MEASURED] = " o", [WALK_LEFT_OUT] = " –"};
    (void)printf("%s", is_here ? " X" : marks[point->mark]);
}

static void print_axis(const struct live *live, const struct window *columns, bool is_wide)
{
    const struct walk_grid *grid = &live->walk.grid;
    (void)printf("%*s", MARGIN, "");
    for (int column = columns->first; is_wide && column < columns->end; column++) {
        (void)printf("%5g ", grid->margin + column * grid->step_x);
    }
    if (is_wide) {
        (void)printf("x, %s\n", walk_unit(grid));
        return;
    }
    (void)printf(" x from %g to %g %s\n", grid->margin + columns->first * grid->step_x,
                 grid->margin + (columns->end - 1) * grid->step_x, walk_unit(grid));
}

static void print_key(bool is_wide, bool is_part)
{
    (void)printf("%*s%s%s. Front below.\n", MARGIN, "",
                 is_wide ? "µmol m⁻² s⁻¹; [ ] here, · open, – left out"
                         : "X here, o measured, · open, – left out",
                 is_part ? "; a part of it" : "");
}

void live_map(const struct live *live)
{
    const struct walk *walk = &live->walk;
    const bool is_over = walk_is_over(walk);
    const struct walk_spot here = walk_spot(walk, is_over ? walk->count - 1 : walk->at);
    struct winsize size = {0};
    if (ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_col < 40 || size.ws_row < 16) {
        size.ws_col = 80;
        size.ws_row = 24;
    }
    const int room = size.ws_col - MARGIN - 6; /* for the unit behind it */
    const bool is_wide = walk->grid.columns <= room / WIDE;
    const struct window columns =
        look_at(here.column, walk->grid.columns, room / (is_wide ? WIDE : NARROW));
    const struct window rows = look_at(here.row, walk->grid.rows, size.ws_row - BELOW);
    (void)printf("%*s\n", MARGIN - 1, walk->grid.is_in_inches ? "y, in" : "y, cm");
    for (int row = rows.end - 1; row >= rows.first; row--) {
        (void)printf("%7g ", walk->grid.margin + row * walk->grid.step_y);
        for (int column = columns.first; column < columns.end; column++) {
            const int index = walk_index(walk, column, row);
            const bool is_here = !is_over && index == walk->at;
            if (is_wide) {
                print_wide(&walk->points[index], is_here);
            } else {
                print_narrow(&walk->points[index], is_here);
            }
        }
        (void)putchar('\n');
    }
    print_axis(live, &columns, is_wide);
    print_key(is_wide, columns.end - columns.first < walk->grid.columns ||
                           rows.end - rows.first < walk->grid.rows);
}
