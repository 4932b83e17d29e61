/* SPDX-License-Identifier: Apache-2.0 */
/* The machines of measure/ on the lamp of a running daemon. */
#include "sweep_run.h"

#include "clock.h"
#include "err.h"
#include "interrupt.h"
#include "parse.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define CEILING_SHARE 0.1   /* of the time, cold and warm each */
#define HELD_SHARE    0.005 /* of the drive: less is the output's own steps */

enum part { PART_COLD, PART_STEPS, PART_WARM };

static const int64_t look_ns = 250 * CLOCK_NS_PER_MS;

static void tell_progress(struct sweep_run *run, enum part part)
{
    static const char *const stages[] = {
        [SWEEP_BEGIN] = "dark",   [SWEEP_FIRST] = "dark",
        [SWEEP_WARM] = "warm-up", [SWEEP_CLIMB] = "up",
        [SWEEP_DESCEND] = "down", [SWEEP_EDGES] = "edges of the dark",
        [SWEEP_BENDS] = "bend",   [SWEEP_LAST] = "last look back",
        [SWEEP_END] = "done",
    };
    const struct lampsight *sight = &run->lamp.sight;
    char watts[24] = "";
    if (units_known(sight->watts)) {
        (void)snprintf(watts, sizeof watts, ", %.1f W", sight->watts);
    }
    char words[160];
    (void)snprintf(words, sizeof words, "%s: drive %.3f, %.1f µmol m⁻² s⁻¹%s, %s",
                   part == PART_STEPS ? stages[run->sweep->stage] : "ceiling", sight->drive,
                   sight->umol, watts, run->lamp.limiter);
    double share = part == PART_WARM ? 1 : 0;
    if (part == PART_STEPS) {
        share = sweep_share(run->sweep, sight->now_s);
    }
    progress_show(&run->progress,
                  run->seeks_ceiling ? CEILING_SHARE + (1 - 2 * CEILING_SHARE) * share : share,
                  words);
}

/* True: the part is over. */
static bool look(struct sweep_run *run, enum part part, struct lampwish *wish)
{
    struct ceilingsearch *search = part == PART_COLD ? &run->finding.cold : &run->finding.warm;
    if (part == PART_STEPS) {
        sweep_look(run->sweep, &run->lamp.sight, wish);
        return run->sweep->is_done;
    }
    ceilingsearch_look(search, &run->lamp.sight, wish);
    return search->is_done;
}

static bool is_answered(void)
{
    struct pollfd input = {.fd = STDIN_FILENO, .events = POLLIN};
    return poll(&input, 1, 250) > 0;
}

/* The lamp stays where it is while a person reads a meter, and the sweep's clock stands still. */
static int wait_for_answer(struct sweep_run *run, const struct lampwish *wish, struct err *err)
{
    const double from_s = run->lamp.uptime_s;
    int rc = 0;
    while (rc == 0 && !interrupt_came() && !is_answered()) {
        rc = sweep_lamp_look(&run->lamp, err);
        if (rc == 0) {
            rc = sweep_lamp_obey(&run->lamp, wish, err);
        }
    }
    run->lamp.paused_s += run->lamp.uptime_s - from_s;
    return interrupt_came() ? -EINTR : rc;
}

static int ask_watts(struct sweep_run *run, const struct lampwish *wish, struct err *err)
{
    struct sweep_step *step = &run->sweep->steps[run->sweep->count - 1];
    char line[64];
    if (step->kind != SWEEP_UP || !step->is_lit) {
        return 0;
    }
    for (;;) {
        progress_clear(&run->progress);
        (void)fprintf(stderr, "watts at drive %.3f (Enter: not known): ", step->drive);
        const int rc = wait_for_answer(run, wish, err);
        if (rc < 0) {
            return rc;
        }
        if (!fgets(line, sizeof line, stdin)) {
            run->asks_watts = false; /* nobody there any more */
            return 0;
        }
        line[strcspn(line, "\r\n")] = '\0';
        if (line[0] == '\0' || parse_real(line, 0, DIMCURVE_WATTS_MAX, &step->watts, err) == 0) {
            return 0;
        }
        (void)fprintf(stderr, "%s\n", err->text);
    }
}

/* Of a step that was to go higher than any before: "held at 0.78 by: PPFD ceiling of the stage". */
static void keep_held(struct sweep_run *run)
{
    const struct sweep *sweep = run->sweep;
    const struct sweep_step *step = &sweep->steps[sweep->count - 1];
    const char *by = strstr(run->lamp.held, "by: ");
    if (by && step->is_lit && step->asked > step->drive + HELD_SHARE &&
        step->drive > sweep->full_drive - HELD_SHARE) {
        (void)snprintf(run->finding.held_by, sizeof run->finding.held_by, "%s", by + 4);
    }
}

static int carry_out(struct sweep_run *run, enum part part, struct err *err)
{
    struct lampwish wish = {0};
    struct lampwish before = {0};
    while (!interrupt_came()) {
        const int64_t now_ns = clock_boot_ns();
        int rc = sweep_lamp_look(&run->lamp, err);
        if (rc < 0) {
            return rc;
        }
        const int count = run->sweep->count;
        before = wish;
        if (look(run, part, &wish)) {
            return 0;
        }
        tell_progress(run, part);
        if (run->sweep->count > count) {
            keep_held(run);
        }
        if (run->asks_watts && run->sweep->count > count) {
            rc = ask_watts(run, &before, err);
        }
        if (rc == 0 && (!run->lamp.sight.has_tripped || wish.acknowledges)) {
            rc = sweep_lamp_obey(&run->lamp, &wish, err);
        }
        if (rc < 0) {
            return rc;
        }
        (void)clock_sleep_until(now_ns + look_ns, NULL);
    }
    return -EINTR;
}

static int search(struct sweep_run *run, enum part part, struct err *err)
{
    struct sweep_finding *finding = &run->finding;
    const bool is_cold = part == PART_COLD;
    const struct lampwish anew = {true, run->rules.reference_drive, true};
    if (!is_cold && finding->cold.trips + run->sweep->trips > 0) {
        const int rc = sweep_lamp_obey(&run->lamp, &anew, err); /* its ceiling of today is low */
        if (rc < 0) {
            return rc;
        }
    }
    *(is_cold ? &finding->has_cold : &finding->has_warm) = true;
    ceilingsearch_begin(is_cold ? &finding->cold : &finding->warm, &run->ceiling_rules,
                        run->lamp.sight.now_s);
    return carry_out(run, part, err);
}

/* A lower ceiling with the temperature it was found at; NaN: nothing known by this. */
static void keep_below(struct sweep_finding *finding, double ceiling, double heat_c, double margin)
{
    if (units_known(ceiling) && ceiling <= finding->ceiling) {
        finding->ceiling = ceiling;
        finding->ceiling_heat_c = heat_c;
        finding->ceiling_margin = margin;
    }
}

static void find_heat(struct sweep_finding *finding, const struct sweep *sweep)
{
    finding->cold_c = finding->hot_c = UNITS_NONE;
    for (int i = 0; i < sweep->count; i++) {
        const double c = sweep->steps[i].heat_c; /* fmin and fmax pass over what is not known */
        finding->cold_c = fmin(finding->cold_c, c);
        finding->hot_c = fmax(finding->hot_c, c);
    }
}

/* What the configuration shall keep to: by the searches, by what tripped on the way, and by where
 * the curve ends. */
static void conclude(struct sweep_run *run, double cap_before)
{
    struct sweep_finding *finding = &run->finding;
    const struct dimcurve *curve = &finding->result.fit.curve;
    const struct ceilingsearch *searches[] = {finding->has_cold ? &finding->cold : NULL,
                                              finding->has_warm ? &finding->warm : NULL};
    finding->sweep = run->sweep;
    finding->ceiling = curve->points[curve->count - 1].drive;
    finding->ceiling_heat_c = finding->ceiling_margin = UNITS_NONE;
    for (int i = 0; i < 2; i++) {
        double heat_c = UNITS_NONE;
        const double ceiling =
            searches[i] ? ceilingsearch_ceiling(searches[i], &heat_c) : UNITS_NONE;
        const bool has_tripped = searches[i] && searches[i]->trips > 0;
        keep_below(finding, ceiling, heat_c, has_tripped ? searches[i]->rules.margin : UNITS_NONE);
    }
    keep_below(finding, run->sweep->trip_drive - SWEEP_MARGIN, run->sweep->trip_heat_c,
               SWEEP_MARGIN);
    if (finding->ceiling >= 1 - 1e-6) {
        finding->ceiling = UNITS_NONE; /* none needed */
    }
    const bool is_lowered = run->lamp.drive_cap < cap_before - 1e-6;
    finding->cap_today = is_lowered ? run->lamp.drive_cap : UNITS_NONE;
    find_heat(finding, run->sweep);
}

static int run_parts(struct sweep_run *run, struct err *err)
{
    double heat_c = UNITS_NONE;
    const double cap_before = run->lamp.drive_cap;
    int rc = run->seeks_ceiling ? search(run, PART_COLD, err) : 0;
    if (rc == 0 && run->seeks_ceiling) {
        const double held = ceilingsearch_ceiling(&run->finding.cold, &heat_c);
        run->rules.top_drive = units_known(held) ? held : run->ceiling_rules.from_drive / 2;
        run->rules.reference_drive = fmin(run->rules.reference_drive, 0.75 * run->rules.top_drive);
    }
    sweep_begin(run->sweep, &run->rules, run->lamp.sight.now_s);
    if (rc == 0) {
        rc = carry_out(run, PART_STEPS, err);
    }
    if (rc == 0) {
        rc = sweep_result_of(run->sweep, &run->finding.result, err);
    }
    if (rc == 0 && run->seeks_ceiling) {
        rc = search(run, PART_WARM, err);
    }
    if (rc == 0) {
        conclude(run, cap_before);
    }
    return rc;
}

int sweep_run(struct sweep_run *run, struct err *err)
{
    interrupt_catch();
    if (run->asks_watts) {
        (void)setvbuf(stdin, NULL, _IONBF, 0); /* a line in a buffer is nothing to wait for */
    }
    const int rc = run_parts(run, err);
    progress_clear(&run->progress);
    sweep_lamp_release(&run->lamp);
    if (interrupt_came()) {
        return err_fail(err, EINTR, "interrupted: the plan rules again, nothing was written");
    }
    if (rc == -ENODATA) {
        err_prefix(err, "%s: given up", run->lamp.fixture);
    }
    return rc;
}
