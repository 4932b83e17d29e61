/* SPDX-License-Identifier: Apache-2.0 */
/* Metrics of the fixtures. Their index counts through the spaces and the places in them. */
#include "metrics_parts.h"

#include "units.h"

/* One fixture as its space sees it. */
struct seen {
    const struct config_fixture *fixture;
    const struct fixture_verdict *verdict;
    const struct fixture_state *state;
    const struct fixture_now *now;
    const struct tally_fixture *tally;
    int space;
};

static int count(const struct picture *picture)
{
    int fixtures = 0;
    for (int i = 0; picture->is_ready && i < picture->config->space_count; i++) {
        fixtures += picture->config->spaces[i].rules.fixture_count;
    }
    return fixtures;
}

static struct seen look(const struct picture *picture, int index)
{
    int space = 0;
    int place = index;
    while (place >= picture->config->spaces[space].rules.fixture_count) {
        place -= picture->config->spaces[space++].rules.fixture_count;
    }
    const struct picture_space *its = &picture->spaces[space];
    return (struct seen){
        .fixture = &picture->config->fixtures[picture->config->spaces[space].fixtures[place]],
        .verdict = &its->verdict.fixtures[place],
        .state = &its->state.fixtures[place],
        .now = &its->now.fixtures[place],
        .tally = &its->tally.fixtures[place],
        .space = space,
    };
}

static void labels(const struct picture *picture, int index, FILE *out)
{
    const struct seen seen = look(picture, index);
    metrics_label(out, "space", picture->config->spaces[seen.space].name);
    (void)fputc(',', out);
    metrics_label(out, "fixture", seen.fixture->name);
}

static double level(const struct picture *picture, int index, int word)
{
    (void)word;
    return look(picture, index).verdict->level;
}

static double drive(const struct picture *picture, int index, int word)
{
    (void)word;
    return look(picture, index).verdict->drive;
}

static double drive_cap(const struct picture *picture, int index, int word)
{
    (void)word;
    return look(picture, index).state->ceiling.drive_cap;
}

static double closed(const struct picture *picture, int index, int word)
{
    (void)word;
    return look(picture, index).verdict->closed;
}

static double watts(const struct picture *picture, int index, int word)
{
    (void)word;
    return look(picture, index).verdict->watts;
}

static double heatsink(const struct picture *picture, int index, int word)
{
    (void)word;
    return look(picture, index).now->heat.value;
}

static double heat_tripped(const struct picture *picture, int index, int word)
{
    (void)word;
    return look(picture, index).state->heat.is_tripped;
}

static double heat_latched(const struct picture *picture, int index, int word)
{
    (void)word;
    return look(picture, index).state->heat.is_latched;
}

static double driver_resting(const struct picture *picture, int index, int word)
{
    (void)word;
    return ceiling_is_resting(&look(picture, index).state->ceiling);
}

static double stuck(const struct picture *picture, int index, int word)
{
    (void)word;
    return look(picture, index).state->is_stuck;
}

static double unconfirmed(const struct picture *picture, int index, int word)
{
    (void)word;
    const struct fixture_verdict *verdict = look(picture, index).verdict;
    return verdict->is_unknown || verdict->unsure_s > 0;
}

static double lifetime_operations(const struct picture *picture, int index, int word)
{
    (void)word;
    return (double)look(picture, index).state->switching.operations_total;
}

static double operations(const struct picture *picture, int index, int word)
{
    (void)word;
    return (double)look(picture, index).tally->switch_operations;
}

static double heat_trips(const struct picture *picture, int index, int word)
{
    (void)word;
    return (double)look(picture, index).tally->heat_trips;
}

static double driver_trips(const struct picture *picture, int index, int word)
{
    (void)word;
    return (double)look(picture, index).tally->driver_trips;
}

static const struct metric metrics[] = {
    {"fixture_level_ratio", "Level of the fixture, share of its full light.", METRIC_GAUGE, level,
     NULL, NULL},
    {"fixture_drive_ratio", "Drive of its dimming output.", METRIC_GAUGE, drive, NULL, NULL},
    {"fixture_drive_cap_ratio", "Highest drive that its LED driver is given now.", METRIC_GAUGE,
     drive_cap, NULL, NULL},
    {"fixture_closed", "1: its contact is told to be closed.", METRIC_GAUGE, closed, NULL, NULL},
    {"fixture_power_watts", "Its power, by its meter or else by its dimming curve.", METRIC_GAUGE,
     watts, NULL, NULL},
    {"fixture_heatsink_celsius", "Its hottest heatsink sensor.", METRIC_GAUGE, heatsink, NULL,
     NULL},
    {"fixture_heat_tripped", "1: off, too hot or without a reading of its heat.", METRIC_GAUGE,
     heat_tripped, NULL, NULL},
    {"fixture_heat_latched", "1: off until a person releases it.", METRIC_GAUGE, heat_latched, NULL,
     NULL},
    {"fixture_driver_resting", "1: its LED driver tripped and rests.", METRIC_GAUGE, driver_resting,
     NULL, NULL},
    {"fixture_switch_stuck", "1: light or power with its contact told to be open.", METRIC_GAUGE,
     stuck, NULL, NULL},
    {"fixture_opening_unconfirmed", "1: nobody confirmed that its contact is open.", METRIC_GAUGE,
     unconfirmed, NULL, NULL},
    {"fixture_lifetime_switch_operations",
     "Movements of its contact ever counted; may stand a little back after a power cut.",
     METRIC_GAUGE, lifetime_operations, NULL, NULL},
    {"fixture_switch_operations_total", "Movements of its contact since the start.", METRIC_COUNTER,
     operations, NULL, NULL},
    {"fixture_heat_trips_total", "Heat trips since the start.", METRIC_COUNTER, heat_trips, NULL,
     NULL},
    {"fixture_driver_trips_total", "Trips of its LED driver since the start.", METRIC_COUNTER,
     driver_trips, NULL, NULL},
    {0},
};

const struct metric_table metrics_fixtures = {metrics, count, labels};
