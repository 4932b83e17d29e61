/* SPDX-License-Identifier: Apache-2.0 */
#include "powerplan.h"

#include "err.h"
#include "near.h"
#include "rehearsal.h"
#include "shared_supply.h"
#include "units.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define SPACES 3
#define STEP_S 5

static struct config *config;
static struct powerplan *plan;
static struct space_state states[SPACES];
static struct now nows[SPACES];
static struct verdict verdicts[SPACES];

static int64_t noon_s(void)
{
    return lightday_begin(&config->spaces[0].rules.day, SHARED_DAY) + 12 * 3600;
}

static void begin(const char *power)
{
    struct err err;
    config = shared_supply(power, false);
    assert_int_equal(powerplan_create(config, &plan, &err), 0);
    for (int s = 0; s < SPACES; s++) {
        space_init(&states[s], &config->spaces[s].rules);
        nows[s] = (struct now){.boot_ns = 1000 * UNITS_NS_PER_S,
                               .wall_s = noon_s(),
                               .clock = CLOCK_SYNCHRONISED,
                               .may_close = true,
                               .inputs_settled = true};
    }
}

static void end(void)
{
    powerplan_destroy(plan);
    config_free(config);
}

/* One tick of all; readings by the curves and what was accepted of the lamps, a meter reads
 * `metered` times its curve. */
static void tick(double metered)
{
    const struct powerplan_moment moment = {nows[0].boot_ns, nows[0].wall_s, true,
                                            tariff_price(&config->site.tariff, nows[0].wall_s)};
    powerplan_share(plan, &moment);
    for (int s = 0; s < SPACES; s++) {
        const struct space_rules *rules = &config->spaces[s].rules;
        struct now *now = &nows[s];
        const struct fixture_state *fixture = &states[s].fixtures[0];
        const double watts = shared_supply_w(rules, &states[s]) * metered;
        now->ppfd = (struct reading){space_full_umol(rules, &states[s], 0) * fixture->level,
                                     now->boot_ns, READING_GOOD};
        now->fixtures[0].heat = (struct reading){40, now->boot_ns, READING_GOOD};
        now->fixtures[0].power = (struct reading){watts, now->boot_ns, READING_GOOD};
        powerplan_fill(plan, s, &now->power);
        decide(rules, &states[s], now, &verdicts[s]);
        powerplan_see(plan, s, &(struct powerplan_sight){now, &states[s], &verdicts[s]});
        now->boot_ns += UNITS_NS_PER_S;
        now->wall_s++;
    }
}

static double sum_w(void)
{
    double sum = 0;
    for (int s = 0; s < SPACES; s++) {
        sum += shared_supply_w(&config->spaces[s].rules, &states[s]);
    }
    return sum;
}

static void without_a_limit_nothing_is_shared(void **state)
{
    (void)state;
    struct allotment allotment = {.is_shared = true};
    struct powerplan_view view;
    begin("");
    assert_null(plan);
    tick(1);
    powerplan_fill(plan, 0, &allotment);
    assert_false(allotment.is_shared);
    powerplan_look(plan, &view);
    assert_false(view.is_shared);
    end();
}

static void a_view_says_what_is_drawn_and_whether_it_binds(void **state)
{
    (void)state;
    struct powerplan_view view;
    begin("limit_w = 500.0;");
    for (int i = 0; i < 200; i++) {
        tick(1);
        assert_true(sum_w() <= 500);
    }
    powerplan_look(plan, &view);
    assert_true(view.is_shared && !view.is_short);
    assert_near(view.limit_w, 500, 0);
    assert_near(view.watts, sum_w(), 0.5);
    assert_near(view.watts, 500, 1); /* half of the day is left for all of it */
    assert_true(view.extra_per_kwh > 0);
    const struct allotment_slot *slot = allotment_at(&nows[0].power, nows[0].wall_s);
    assert_non_null(slot);
    assert_true(slot->extra_per_kwh > 0 && slot->watts < 300);
    end();
}

/* A stage's floor is no matter of price: it is had above a soft limit too, and only a limit that is
 * never exceeded cuts it. */
static void a_price_cuts_no_floor(void **state)
{
    (void)state;
    static struct stage stages[SPACES];
    struct powerplan_view view;
    for (int is_hard = 0; is_hard < 2; is_hard++) {
        begin(is_hard ? "limit_w = 150.0;"
                      : "limit_w = 500.0; soft_limit_w = 150.0; soft_price_per_kwh = 0.15;");
        for (int s = 0; s < SPACES; s++) {
            stages[s] = config->spaces[s].rules.stages[0];
            stages[s].target_mol = 3; /* half of the day is enough */
            stages[s].floor_umol = s == 2 ? 240 : 0;
            config->spaces[s].rules.stages = &stages[s];
        }
        for (int i = 0; i < 300; i++) {
            tick(1);
        }
        powerplan_look(plan, &view);
        print_message("%.0f W, floor of 240 at %.1f\n", sum_w(), 400 * states[2].level);
        assert_int_equal(view.cuts_floor, is_hard);
        if (is_hard) {
            assert_true(sum_w() <= 150 && 400 * states[2].level < 230);
        } else {
            assert_true(400 * states[2].level > 239);
            assert_true(view.is_binding && view.is_soft);
        }
        end();
    }
}

/* Whose light day ends at noon comes back behind it: that supply is not the others' alone. */
static void tomorrow_of_others_is_reckoned_with(void **state)
{
    (void)state;
    double reach[2];
    for (int i = 0; i < 2; i++) {
        begin("limit_w = 100.0;");
        const int64_t midnight_s = noon_s() - 12 * 3600;
        for (int s = 0; s < SPACES; s++) {
            config->spaces[s].rules.day.start_s = i == 1 && s > 0 ? 12 * 3600 : 0;
            config->spaces[s].rules.first_day -= 3;
            space_init(&states[s], &config->spaces[s].rules);
            nows[s].wall_s = midnight_s + 2 * 3600;
        }
        for (int k = 0; k < 200; k++) {
            tick(1);
        }
        reach[i] = allotment_reach_mol(&nows[0].power);
        end();
    }
    print_message("%.2f mol reachable beside all, %.2f where two light days end at noon\n",
                  reach[0], reach[1]);
    assert_true(isfinite(reach[0]) && reach[1] < 1.4 * reach[0]);
}

/* Meters that read 8 % above the curves: then less by the curves is commanded. */
static void meters_that_read_more_are_believed(void **state)
{
    (void)state;
    begin("limit_w = 500.0;");
    for (int i = 0; i < 400; i++) {
        tick(1.08);
    }
    assert_near(sum_w() * 1.08, 500, 2);
    for (int i = 0; i < 400; i++) {
        tick(0.5); /* … and those that read less are not */
    }
    assert_near(sum_w(), 500, 2);
    end();
}

/* The most that is drawn in so many seconds. */
static double most_w(int seconds, double metered)
{
    double most = 0;
    for (int i = 0; i < seconds; i++) {
        tick(metered);
        most = fmax(most, sum_w());
    }
    return most;
}

/* One lowest level of 31, 21 and 26 W fits, and none of twice that: meters that read so for half an
 * hour keep nobody in the dark for good. */
static void dark_lamps_forget_what_a_meter_read(void **state)
{
    (void)state;
    begin("limit_w = 35.0;");
    assert_true(most_w(600, 1) > 20);
    (void)most_w(1800, 2);
    assert_near(most_w(60, 2), 0, 0);
    const double again_w = most_w(4 * 3600, 1);
    assert_true(again_w > 20 && again_w <= 35);
    end();
}

/* A day under a dark sky that no supply of 60 W can save: what a kilowatt-hour is worth stays a
 * price. The dearest one of the tariff is 0.28. */
static void a_lost_day_drives_no_price_up(void **state)
{
    (void)state;
    struct err err;
    config = shared_supply("limit_w = 60.0;", true);
    const struct rehearsal_options options = {.from_day = SHARED_DAY, .step_s = 60, .seed = 1};
    struct rehearsal *rehearsal = NULL;
    assert_int_equal(rehearsal_create(config, &options, &rehearsal, &err), 0);
    double most = 0;
    while (rehearsal_seconds(rehearsal) < 86400) {
        rehearsal_step(rehearsal);
        const struct allotment *power = &rehearsal_view(rehearsal, 2).now->power;
        for (int t = 0; t < power->count; t++) {
            most = fmax(most, power->slot[t].extra_per_kwh);
        }
    }
    print_message("at most %.4g a kWh on top\n", most);
    assert_true(most > 0 && most < 100);
    rehearsal_destroy(rehearsal);
    config_free(config);
}

/* What the lamps of all spaces can still give on a supply that none of their days can live with. */
static double reach_mol(double accepted)
{
    double sum = 0;
    begin("limit_w = 200.0;");
    for (int s = 0; s < SPACES; s++) {
        states[s].correction.lamp = accepted;
    }
    for (int i = 0; i < 400; i++) {
        tick(1);
    }
    for (int s = 0; s < SPACES; s++) {
        sum += nows[s].power.reach_mol;
    }
    end();
    return sum;
}

/* The plan counts on lamps as they were accepted, not as they were bought. */
static void lamps_that_have_aged_give_less(void **state)
{
    (void)state;
    const double as_configured = reach_mol(1);
    assert_true(as_configured > 5 && isfinite(as_configured));
    assert_near(reach_mol(0.8), 0.8 * as_configured, 0.005 * as_configured);
}

/* Where power is short for hours, but no day goes without, nobody is told that less can be had. */
static void a_short_hour_is_no_short_day(void **state)
{
    (void)state;
    begin("limit_w = 300.0;");
    for (int s = 0; s < SPACES; s++) {
        config->stages[s].target_mol = 4;
    }
    for (int i = 0; i < 400; i++) {
        tick(1);
    }
    int short_slots = 0;
    for (int t = 0; t < nows[0].power.count; t++) {
        short_slots += nows[0].power.slot[t].extra_per_kwh > 0;
    }
    assert_true(short_slots > 0);
    for (int s = 0; s < SPACES; s++) {
        assert_true(isinf(nows[s].power.reach_mol));
    }
    end();
}

/* What may still burn behind a contact that sticks, or whose opening nobody confirmed, is drawn. */
static void a_lamp_that_may_be_lit_counts(void **state)
{
    (void)state;
    struct powerplan_view view;
    begin("limit_w = 500.0;");
    const struct space_rules *rules = &config->spaces[0].rules;
    struct fixture_state *fixture = &states[0].fixtures[0];
    struct powerplan_sight sight = {&nows[0], &states[0], &verdicts[0]};
    config->fixture_rules[0].safe_drive = 0.5;
    powerplan_see(plan, 0, &sight);
    powerplan_look(plan, &view);
    assert_near(view.watts, 0, 0);
    fixture->is_stuck = true;
    powerplan_see(plan, 0, &sight);
    powerplan_look(plan, &view);
    assert_near(view.watts, dimcurve_watts(&rules->fixtures[0].curve, 0.5), 1e-9);
    fixture->is_stuck = false;
    fixture->lit_level = 1;
    nows[0].fixtures[0].opening_unconfirmed = true;
    powerplan_see(plan, 0, &sight);
    powerplan_look(plan, &view);
    assert_near(view.watts, 300, 1e-9);
    for (int i = 0; i < 300; i++) { /* the others share what it leaves */
        const struct powerplan_moment moment = {nows[1].boot_ns, nows[1].wall_s, true,
                                                tariff_price(&config->site.tariff, nows[1].wall_s)};
        powerplan_share(plan, &moment);
        for (int s = 1; s < SPACES; s++) {
            powerplan_fill(plan, s, &nows[s].power);
            decide(&config->spaces[s].rules, &states[s], &nows[s], &verdicts[s]);
            powerplan_see(plan, s, &(struct powerplan_sight){&nows[s], &states[s], &verdicts[s]});
            nows[s].boot_ns += UNITS_NS_PER_S;
            nows[s].wall_s++;
        }
        assert_true(sum_w() <= 200);
    }
    assert_true(sum_w() > 150);
    end();
}

/* The plan of a day on which not even the lowest levels fit keeps within the limit all the same. */
static void a_plan_fits_where_lowest_levels_do_not(void **state)
{
    (void)state;
    begin("limit_w = 60.0;");
    for (int i = 0; i < 400; i++) {
        tick(1);
    }
    int short_slots = 0;
    for (int t = 0; t < nows[0].power.count; t++) {
        double sum = 0;
        for (int s = 0; s < SPACES; s++) {
            sum += nows[s].power.slot[t].extra_per_kwh > 0 ? nows[s].power.slot[t].watts : 0;
        }
        short_slots += sum > 0;
        assert_true(sum <= 60 * 1.001);
    }
    assert_true(short_slots > 15);
    end();
}

/* Two of three lowest levels fit: those that were lit stay lit for their time, nobody flickers, and
 * one that has to leave is counted until it is dark. */
static void what_cannot_be_lit_together_takes_turns(void **state)
{
    (void)state;
    struct err err;
    config = shared_supply("limit_w = 60.0;", false);
    const struct rehearsal_options options = {.from_day = SHARED_DAY, .step_s = STEP_S, .seed = 1};
    struct rehearsal *rehearsal = NULL;
    assert_int_equal(rehearsal_create(config, &options, &rehearsal, &err), 0);
    uint64_t operations = 0;
    double lit_s[SPACES] = {0};
    while (rehearsal_seconds(rehearsal) < 86400) {
        rehearsal_step(rehearsal);
        double sum = 0;
        for (int s = 0; s < SPACES; s++) {
            const struct rehearsal_view view = rehearsal_view(rehearsal, s);
            sum += shared_supply_w(&config->spaces[s].rules, view.state);
            lit_s[s] += view.verdict->level > 0 ? STEP_S : 0;
        }
        if (sum > 60) {
            fail_msg("%.0f s: %.3f W", rehearsal_seconds(rehearsal), sum);
        }
    }
    for (int s = 0; s < SPACES; s++) {
        operations += rehearsal_view(rehearsal, s).state->fixtures[0].switching.operations_total;
    }
    print_message("%.1f, %.1f, %.1f h lit, %d operations\n", lit_s[0] / 3600, lit_s[1] / 3600,
                  lit_s[2] / 3600, (int)operations);
    assert_true(lit_s[0] + lit_s[1] + lit_s[2] > 30 * 3600);
    for (int s = 0; s < SPACES; s++) {
        assert_true(lit_s[s] > 2 * 3600);
    }
    assert_true(operations < 120); /* 54 h of windows, 20 min at least each */
    rehearsal_destroy(rehearsal);
    config_free(config);
}

/* A lamp that is on or off, of the same watts at full light. */
static void make_switched(struct config *of, int space)
{
    struct space_rules *rules = &of->spaces[space].rules;
    struct fixture_rules *fixture = &of->fixture_rules[space];
    const struct dimcurve_point points[] = {{0, 0, 0}, {1, 1, dimcurve_watts(&fixture->curve, 1)}};
    assert_ptr_equal(fixture, rules->fixtures);
    assert_int_equal(dimcurve_init(&fixture->curve, points, 2, NULL), DIMCURVE_OK);
    const struct lampcurve_part part = {&fixture->curve, fixture->full_umol};
    lampcurve_join(&rules->lamp, &part, 1, 0);
    fixture->ceiling.drive_max = fixture->ceiling.drive_floor = 1;
}

/* Any two of 300, 200 and 250 W, and 26 h of light in 18: each has its turns, and its target. */
static void lamps_that_only_switch_take_turns(void **state)
{
    (void)state;
    struct err err;
    config = shared_supply("limit_w = 560.0;", false);
    for (int s = 0; s < SPACES; s++) {
        make_switched(config, s);
    }
    const struct rehearsal_options options = {.from_day = SHARED_DAY, .step_s = STEP_S, .seed = 1};
    struct rehearsal *rehearsal = NULL;
    assert_int_equal(rehearsal_create(config, &options, &rehearsal, &err), 0);
    double mol[SPACES] = {0};
    uint64_t operations = 0;
    while (rehearsal_seconds(rehearsal) < 86400 - STEP_S) {
        rehearsal_step(rehearsal);
        double sum = 0;
        for (int s = 0; s < SPACES; s++) {
            const struct rehearsal_view view = rehearsal_view(rehearsal, s);
            sum += shared_supply_w(&config->spaces[s].rules, view.state);
            mol[s] = view.verdict->account.delivered_mol;
        }
        if (sum > 560) {
            fail_msg("%.0f s: %.3f W", rehearsal_seconds(rehearsal), sum);
        }
    }
    for (int s = 0; s < SPACES; s++) {
        const struct rehearsal_view view = rehearsal_view(rehearsal, s);
        operations += view.state->fixtures[0].switching.operations_total;
        print_message("%.2f of %.1f mol\n", mol[s], view.verdict->account.target_mol);
        assert_true(mol[s] >= view.verdict->account.target_mol);
    }
    print_message("%d operations\n", (int)operations);
    assert_true(operations < 60);
    rehearsal_destroy(rehearsal);
    config_free(config);
}

/* A limit that is lowered under burning lamps, as a reload does. */
static void a_lower_limit_takes_over_from_burning_lamps(void **state)
{
    (void)state;
    struct err err;
    begin("limit_w = 600.0;");
    for (int i = 0; i < 300; i++) {
        tick(1);
    }
    assert_true(sum_w() > 400);
    powerplan_destroy(plan);
    config->site.power.hard_w = 300;
    assert_int_equal(powerplan_create(config, &plan, &err), 0);
    for (int s = 0; s < SPACES; s++) {
        powerplan_see(plan, s, &(struct powerplan_sight){&nows[s], &states[s], &verdicts[s]});
    }
    for (int i = 0; i < 100; i++) {
        tick(1);
        assert_true(sum_w() <= 300);
        assert_true(verdicts[0].fixtures[0].closed); /* dimmed, not dark */
    }
    assert_near(sum_w(), 300, 1);
    end();
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_short_hour_is_no_short_day),
        cmocka_unit_test(without_a_limit_nothing_is_shared),
        cmocka_unit_test(a_view_says_what_is_drawn_and_whether_it_binds),
        cmocka_unit_test(a_price_cuts_no_floor),
        cmocka_unit_test(tomorrow_of_others_is_reckoned_with),
        cmocka_unit_test(meters_that_read_more_are_believed),
        cmocka_unit_test(dark_lamps_forget_what_a_meter_read),
        cmocka_unit_test(a_lost_day_drives_no_price_up),
        cmocka_unit_test(lamps_that_have_aged_give_less),
        cmocka_unit_test(a_lamp_that_may_be_lit_counts),
        cmocka_unit_test(a_plan_fits_where_lowest_levels_do_not),
        cmocka_unit_test(what_cannot_be_lit_together_takes_turns),
        cmocka_unit_test(lamps_that_only_switch_take_turns),
        cmocka_unit_test(a_lower_limit_takes_over_from_burning_lamps),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
