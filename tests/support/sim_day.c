/* SPDX-License-Identifier: Apache-2.0 */
#include "sim_day.h"

#include "err.h"
#include "parse.h"
#include "sim_chain.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#define MUST(watch, truth, ...)                                                                    \
    do {                                                                                           \
        if (!(truth)) {                                                                            \
            broken(watch, #truth, __VA_ARGS__);                                                    \
        }                                                                                          \
    } while (0)

__attribute__((format(printf, 3, 4))) static void broken(const struct sim_watch *watch,
                                                         const char *rule, const char *format, ...)
{
    char when[32];
    char values[200];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(values, sizeof values, format, args);
    va_end(args);
    parse_format_datetime(rehearsal_wall_s(watch->rehearsal), watch->config->site.utc_offset_s,
                          when, sizeof when);
    fail_msg("%s (second %.0f): not %s; %s", when, rehearsal_seconds(watch->rehearsal), rule,
             values);
}

void sim_watch_begin(struct sim_watch *watch, const struct config *config,
                     const struct rehearsal_options *options)
{
    memset(watch, 0, sizeof *watch);
    watch->config = config;
    struct err err;
    if (rehearsal_create(config, options, &watch->rehearsal, &err) < 0) {
        fail_msg("rehearsal: %s", err.text);
    }
    for (int i = 0; i < SPACE_FIXTURES_MAX; i++) {
        watch->contacts[i].since_s = (double)INFINITY;
    }
}

void sim_watch_end(struct sim_watch *watch)
{
    MUST(watch, watch->events[EVENT_CURVE_WRONG] == 0 || watch->curve_may_differ,
         "%d times said that a curve is wrong", watch->events[EVENT_CURVE_WRONG]);
    MUST(watch, watch->events[EVENT_LIGHT_DRIFT] == 0 || watch->light_may_lie,
         "%d times said that the light has drifted", watch->events[EVENT_LIGHT_DRIFT]);
    MUST(watch, watch->events[EVENT_LIGHT_AGED] == 0 || watch->light_may_lie,
         "%d times said that the lamps have aged", watch->events[EVENT_LIGHT_AGED]);
    MUST(watch, watch->events[EVENT_SENSOR_FALLEN] == 0, "%d times said that a light sensor fell",
         watch->events[EVENT_SENSOR_FALLEN]);
    rehearsal_destroy(watch->rehearsal);
}

static void check_account(const struct sim_watch *watch, const struct account *account)
{
    const double left = account->target_mol + account->surplus_mol;
    const double right =
        account->delivered_mol + account->to_come_mol + account_missing_mol(account);
    MUST(watch, fabs(left - right) < 1e-6, "target side %.9f, other side %.9f", left, right);
}

static bool is_urgent(enum limiter limiter)
{
    return limiter <= LIMITER_DRIVER_TRIP;
}

static void check_contact(struct sim_watch *watch, const struct rehearsal_view *view, int i,
                          double dt_s)
{
    const struct fixture_rules *rules = &watch->config->spaces[0].rules.fixtures[i];
    const struct fixture_verdict *verdict = &view->verdict->fixtures[i];
    const double min_drive = dimcurve_min_drive(&rules->curve);
    watch->contacts[i].since_s += dt_s;
    if (verdict->closed != watch->contacts[i].closed) {
        const double since = watch->contacts[i].since_s;
        if (verdict->closed) {
            MUST(watch, since >= rules->switching.min_off_s - 1e-9, "open for %.1f s only", since);
            MUST(watch, verdict->drive <= min_drive + 1e-9, "closed at drive %.3f", verdict->drive);
        } else if (!is_urgent(verdict->limiter)) {
            MUST(watch, since >= rules->switching.min_on_s - 1e-9, "closed for %.1f s only", since);
            MUST(watch, watch->contacts[i].drive <= min_drive + 1e-9, "opened at drive %.3f",
                 watch->contacts[i].drive);
        }
        watch->contacts[i].since_s = 0;
        watch->contacts[i].closed = verdict->closed;
    }
    watch->contacts[i].drive = verdict->drive;
}

static void check_fixture(struct sim_watch *watch, const struct rehearsal_view *view, int i,
                          double dt_s)
{
    const struct fixture_rules *rules = &watch->config->spaces[0].rules.fixtures[i];
    const struct fixture_verdict *verdict = &view->verdict->fixtures[i];
    const struct fixture_state *state = &view->state->fixtures[i];
    MUST(watch, verdict->level >= 0 && verdict->level <= 1, "level %.3f", verdict->level);
    MUST(watch, verdict->drive >= 0 && verdict->drive <= 1, "drive %.3f", verdict->drive);
    MUST(watch, verdict->closed || verdict->level == 0, "open, yet level %.3f", verdict->level);
    MUST(watch, !verdict->closed || verdict->drive <= state->ceiling.drive_cap + 1e-9,
         "drive %.3f above its ceiling %.3f", verdict->drive, state->ceiling.drive_cap);
    MUST(watch, !verdict->closed || verdict->drive <= rules->ceiling.drive_max + 1e-9,
         "drive %.3f above the commissioned ceiling", verdict->drive);
    MUST(watch, !(state->heat.is_tripped && verdict->closed), "closed while tripped at %.1f °C",
         state->heat.last_c);
    const double hot =
        bench_model_true_heatsink_c(rehearsal_model(watch->rehearsal), view->state ? i : 0);
    watch->hottest_c = fmax(watch->hottest_c, hot);
    check_contact(watch, view, i, dt_s);
}

/* What every rule allowed comes to what was decided. */
static void check_chain(struct sim_watch *watch, const struct rehearsal_view *view)
{
    char flaw[200];
    const struct space_rules *rules = &watch->config->spaces[0].rules;
    MUST(watch,
         !sim_chain_flaw(rules, view->state, view->verdict, watch->levels, flaw, sizeof flaw), "%s",
         flaw);
    for (int i = 0; i < rules->fixture_count; i++) {
        watch->levels[i] = view->verdict->fixtures[i].level;
    }
}

static void check_space(struct sim_watch *watch, const struct rehearsal_view *view, double dt_s)
{
    const struct verdict *verdict = view->verdict;
    const struct bench_model *model = rehearsal_model(watch->rehearsal);
    const struct space_rules *rules = &watch->config->spaces[0].rules;
    const bool knows_time = view->now->clock != CLOCK_UNTRUSTED;
    const bool is_night = knows_time && !verdict->place.is_lit;
    for (int i = 0; i < rules->fixture_count; i++) {
        MUST(watch, !(is_night && verdict->fixtures[i].closed) || watch->night_may_break,
             "fixture %d closed in the night by %s", i, limiter_name(verdict->fixtures[i].limiter));
    }
    if (is_night && watch->was_night) { /* what falls in a tick was decided the tick before */
        watch->night_umol_s += bench_model_true_lamp_umol(model, 0) * dt_s;
    }
    watch->was_night = is_night;
    check_account(watch, &verdict->account);
    if (verdict->stage.index >= 0 && !rules->sees_daylight && !watch->light_may_lie) {
        const double ceiling = rules->stages[verdict->stage.index].ceiling_umol;
        const double umol = bench_model_true_umol(model, 0);
        MUST(watch, umol <= ceiling * 1.03, "%.1f µmol above the ceiling of %.1f", umol, ceiling);
    }
    MUST(watch, verdict->events_dropped == 0, "%d events dropped", verdict->events_dropped);
}

/* Nothing meets a target for less than the least that it could have cost. Half a percent is for
 * ramps, which the bound takes as full light for a shorter time, and for quarter hours. */
static void check_costs(const struct sim_watch *watch, const struct day_summary *closed)
{
    const struct account *account = &closed->account;
    const bool has_its_hours = !watch->truth_is_partial; /* else the clock was set */
    if (has_its_hours && units_known(closed->bound_cost) &&
        account->delivered_mol >= account->target_mol) {
        MUST(watch, closed->lamp_cost >= 0.995 * closed->bound_cost - 1e-6,
             "cost %.6f, the least possible %.6f", closed->lamp_cost, closed->bound_cost);
    }
}

static void close_day(struct sim_watch *watch, const struct day_summary *closed)
{
    check_account(watch, &closed->account);
    MUST(watch, closed->account.to_come_mol < 1e-9, "still to come %.6f",
         closed->account.to_come_mol);
    const double delivered = closed->account.delivered_mol;
    if (!watch->light_may_lie && !watch->truth_is_partial) {
        MUST(watch, fabs(delivered - watch->truth_mol) < 0.02 + 0.01 * watch->truth_mol,
             "booked %.3f mol, fell %.3f", delivered, watch->truth_mol);
    }
    MUST(watch, watch->day_count < SIM_DAYS_MAX, "%d days", watch->day_count);
    check_costs(watch, closed);
    watch->days[watch->day_count].summary = *closed;
    watch->days[watch->day_count].truth_mol = watch->truth_mol;
    watch->day_count++;
    watch->truth_mol = 0;
    watch->truth_is_partial = false;
}

void sim_tick(struct sim_watch *watch)
{
    const double before_s = watch->seconds;
    rehearsal_step(watch->rehearsal);
    watch->seconds = rehearsal_seconds(watch->rehearsal);
    const double dt_s = watch->seconds - before_s;
    const struct rehearsal_view view = rehearsal_view(watch->rehearsal, 0);
    const double umol = bench_model_true_umol(rehearsal_model(watch->rehearsal), 0);
    watch->truth_mol += units_mol(umol, watch->had_restart ? 0 : dt_s);
    watch->had_restart = false;
    for (int i = 0; i < view.verdict->event_count; i++) {
        watch->events[view.verdict->events[i].kind]++;
    }
    if (view.verdict->day_closed) {
        close_day(watch, &view.verdict->closed);
    }
    for (int i = 0; i < watch->config->spaces[0].rules.fixture_count; i++) {
        check_fixture(watch, &view, i, dt_s);
    }
    check_space(watch, &view, dt_s);
    check_chain(watch, &view);
    MUST(watch, watch->night_umol_s < 1 || watch->night_may_break, "%.1f µmol m⁻² in the dark",
         watch->night_umol_s);
}

void sim_until_day(struct sim_watch *watch, int days)
{
    while (watch->day_count < days) {
        sim_tick(watch);
    }
}

void sim_for(struct sim_watch *watch, double seconds)
{
    const double until = watch->seconds + seconds;
    while (watch->seconds < until - 1e-6) {
        sim_tick(watch);
    }
}

void sim_restart(struct sim_watch *watch, double down_s)
{
    struct err err;
    if (rehearsal_restart(watch->rehearsal, down_s, &err) < 0) {
        fail_msg("restart: %s", err.text);
    }
    memset(watch->levels, 0, sizeof watch->levels);
    for (int i = 0; i < SPACE_FIXTURES_MAX; i++) {
        if (watch->contacts[i].closed) {
            watch->contacts[i].closed = false;
            watch->contacts[i].since_s = 0;
        }
    }
    watch->had_restart = true;
}
