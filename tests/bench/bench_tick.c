/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What one whole tick of the daemon costs, with 1 and with 100 spaces: tick_run as the main loop
 * calls it, a second of simulated time after the other, through a dawn and into the day. What the
 * workers do is not counted, nor what the journal's thread writes; handing the records over is.
 */
#include "clock.h"
#include "config.h"
#include "err.h"
#include "journal.h"
#include "log.h"
#include "stepwise.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

enum { TICKS = 4000, WARM_UP = 100, SPACES_MAX = 100, SPACES_PER_BUS = 50 };

/* 2026-11-09 05:50 UTC: ten minutes before lights-on. */
static const int64_t begin_wall_s = 1794203400;

/* --- the configuration ----------------------------------------------------------------------- */

static void write_buses(FILE *out, int spaces)
{
    (void)fprintf(out, "site = { name = \"Bench\"; utc_offset = \"+00:00\"; };\nbuses = (");
    for (int first = 0; first < spaces; first += SPACES_PER_BUS) {
        (void)fprintf(out, "%s{ name = \"bus%d\"; driver = \"bench\"; layout = \"1",
                      first > 0 ? ", " : "", first / SPACES_PER_BUS);
        for (int i = first + 1; i < spaces && i < first + SPACES_PER_BUS; i++) {
            (void)fprintf(out, ",1");
        }
        (void)fprintf(out, "\"; }");
    }
    (void)fprintf(out, ");\n");
}

static void write_points(FILE *out, int spaces)
{
    static const char *const sensors[] = {"ppfd", "temperature", "power"};
    static const char *const outputs[] = {"dim", "switch"};
    (void)fprintf(out, "sensors = (");
    for (int i = 0; i < 3 * spaces; i++) {
        (void)fprintf(out, "%s{ name = \"%s%d\"; kind = \"%s\"; bus = \"bus%d\"; unit = %d; }\n",
                      i > 0 ? ", " : "", sensors[i % 3], i / 3, sensors[i % 3],
                      i / 3 / SPACES_PER_BUS, i / 3 % SPACES_PER_BUS);
    }
    (void)fprintf(out, ");\noutputs = (");
    for (int i = 0; i < 2 * spaces; i++) {
        (void)fprintf(out, "%s{ name = \"%s%d\"; kind = \"%s\"; bus = \"bus%d\"; unit = %d; }\n",
                      i > 0 ? ", " : "", outputs[i % 2], i / 2, outputs[i % 2],
                      i / 2 / SPACES_PER_BUS, i / 2 % SPACES_PER_BUS);
    }
    (void)fprintf(out, ");\n");
}

static void write_spaces(FILE *out, int spaces)
{
    (void)fprintf(out, "fixtures = (");
    for (int i = 0; i < spaces; i++) {
        (void)fprintf(
            out,
            "%s{ name = \"fixture%d\"; dim = \"dim%d\"; switch = \"switch%d\";"
            " heat_sensors = [ \"temperature%d\" ]; power_sensor = \"power%d\"; ppfd_full = 420.0;"
            " curve = ( { drive = 0.00; level = 0.000; watts = 2.1; },"
            " { drive = 0.08; level = 0.100; watts = 31.3; },"
            " { drive = 0.25; level = 0.255; watts = 72.4; },"
            " { drive = 0.45; level = 0.460; watts = 130.1; },"
            " { drive = 0.70; level = 0.745; watts = 216.5; },"
            " { drive = 0.95; level = 1.000; watts = 300.0; },"
            " { drive = 1.00; level = 1.000; watts = 300.0; } ); }\n",
            i > 0 ? ", " : "", i, i, i, i, i);
    }
    (void)fprintf(out, ");\nstages = ( { name = \"growing\"; days = 0; lights_on = \"06:00\";"
                       " day_length_h = 16.0; target_mol = 13.0; ceiling_umol = 400.0; } );\n"
                       "spaces = (");
    for (int i = 0; i < spaces; i++) {
        (void)fprintf(out,
                      "%s{ name = \"space%d\"; fixtures = [ \"fixture%d\" ];"
                      " ppfd_sensors = [ \"ppfd%d\" ]; stages = [ \"growing\" ];"
                      " start = \"2026-11-02\"; }\n",
                      i > 0 ? ", " : "", i, i, i);
    }
    (void)fprintf(out, ");\n");
}

static struct config *load(int spaces)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) {
        return NULL;
    }
    write_buses(out, spaces);
    write_points(out, spaces);
    write_spaces(out, spaces);
    if (fclose(out) != 0) {
        return NULL;
    }
    struct config *config = NULL;
    struct config_report report = {0};
    if (config_load_text("generated", text, size, &config, &report) < 0) {
        (void)fputs(report.text, stderr);
    }
    config_report_free(&report);
    free(text);
    return config;
}

/* --- the measurement ------------------------------------------------------------------------- */

struct figures {
    double wall_us; /* median of the ticks */
    double cpu_us;  /* mean: the ticks that end a minute count too */
};

static double now_us(clockid_t clock)
{
    struct timespec now = {0};
    (void)clock_gettime(clock, &now);
    return (double)now.tv_sec * 1e6 + (double)now.tv_nsec / 1e3;
}

static int compare(const void *left, const void *right)
{
    const double *a = left, *b = right;
    return (*a > *b) - (*a < *b);
}

static void measure(struct tick *tick, struct journal *journal, struct figures *ret)
{
    static double wall_us[TICKS];
    double cpu_us = 0;
    for (int i = -WARM_UP; i < TICKS; i++) {
        stepwise_devices();
        double cpu = now_us(CLOCK_THREAD_CPUTIME_ID);
        double wall = now_us(CLOCK_MONOTONIC);
        stepwise_tick(tick);
        wall = now_us(CLOCK_MONOTONIC) - wall;
        cpu = now_us(CLOCK_THREAD_CPUTIME_ID) - cpu;
        if (i == -WARM_UP / 2) {
            tick_let_light(tick, clock_boot_ns());
        }
        if (i >= 0) {
            wall_us[i] = wall;
            cpu_us += cpu;
        }
        if (i % 60 == 0) {
            (void)journal_flush(journal, 10);
        }
    }
    qsort(wall_us, TICKS, sizeof wall_us[0], compare);
    *ret = (struct figures){wall_us[TICKS / 2], cpu_us / TICKS};
}

/* Light everywhere, nothing lost: else it was something else that was measured. */
static bool is_usual(struct tick *tick)
{
    const struct picture *picture = snapshot_take(tick_snapshot(tick));
    bool is_good = picture && picture->journal.dropped == 0 && picture->journal.written > 0;
    for (int i = 0; is_good && i < picture->config->space_count; i++) {
        is_good =
            picture->spaces[i].verdict.level > 0.2 && picture->spaces[i].verdict.light_is_measured;
    }
    for (int i = 0; is_good && i < picture->config->output_count; i++) {
        is_good = !picture->outputs[i].is_fault;
    }
    snapshot_release(tick_snapshot(tick), picture);
    return is_good;
}

static bool run(int spaces, const char *folder, struct figures *ret)
{
    char journal_path[256];
    char resume_path[256];
    struct err err = {"the configuration"};
    struct journal *journal = NULL;
    struct tick *tick = NULL;
    (void)snprintf(journal_path, sizeof journal_path, "%s/journal.%d", folder, spaces);
    (void)snprintf(resume_path, sizeof resume_path, "%s/resume.%d", folder, spaces);
    const struct journal_options options = {.path = journal_path, .commit_s = 60};
    struct config *config = load(spaces);
    bool is_good = config && journal_open(&options, &journal, &err) == 0 &&
                   stepwise_open(config, journal, resume_path, begin_wall_s, &tick, &err) == 0;
    if (is_good) {
        measure(tick, journal, ret);
        is_good = is_usual(tick);
        (void)snprintf(err.text, sizeof err.text, "not every space gave light");
    }
    if (!is_good) {
        (void)fprintf(stderr, "%d spaces: %s\n", spaces, err.text);
    }
    tick_destroy(tick);
    journal_close(journal);
    return is_good;
}

int main(int count, char **arguments)
{
    struct figures one;
    struct figures many;
    if (count != 2) {
        (void)fprintf(stderr, "usage: bench_tick FOLDER\n");
        return 2;
    }
    log_set_level(LOG_LEVEL_ERROR);
    if (!run(1, arguments[1], &one) || !run(SPACES_MAX, arguments[1], &many)) {
        return 1;
    }
    (void)printf("tick.us_1_space %.2f us\n", one.wall_us);
    (void)printf("tick.us_100_spaces %.1f us\n", many.wall_us);
    (void)printf("tick.us_per_space %.2f us\n", many.wall_us / SPACES_MAX);
    (void)printf("tick.cpu_us_1_space %.2f us\n", one.cpu_us);
    (void)printf("tick.cpu_us_100_spaces %.1f us\n", many.cpu_us);
    return 0;
}
