/* SPDX-License-Identifier: Apache-2.0 */
/* Metrics of the daemon itself, its lines and its devices. */
#include "metrics_parts.h"

#include "units.h"

static int one(const struct picture *picture)
{
    (void)picture;
    return 1;
}

static double build_info(const struct picture *picture, int index, int word)
{
    (void)picture;
    (void)index;
    (void)word;
    return 1;
}

static const char *version(int word)
{
    return word == 0 ? LAMPWARDEN_VERSION : NULL;
}

static double ready(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return picture->is_ready;
}

static double crash_loop(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return picture->in_crash_loop;
}

static double uptime(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return picture->started_ns > 0 ? units_seconds(picture->boot_ns - picture->started_ns) : 0;
}

static double demonstration(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return picture->pace > 0;
}

static double pace(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return picture->pace > 0 ? picture->pace : 1;
}

static double last_tick(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return units_seconds(picture->wall_ns);
}

static double ticks(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return (double)picture->ticks;
}

static double missed_ticks(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return (double)picture->overruns;
}

static const char *clock_word(int word)
{
    return word <= CLOCK_SYNCHRONISED ? clocktrust_name((enum clock_trust)word) : NULL;
}

static double clock_state(const struct picture *picture, int index, int word)
{
    (void)index;
    return (int)picture->clock.trust == word;
}

static const char *journal_word(int word)
{
    static const char *const names[] = {"healthy", "waiting", "off"};
    return word <= JOURNAL_OFF ? names[word] : NULL;
}

static double journal_state(const struct picture *picture, int index, int word)
{
    (void)index;
    return (int)(picture->has_journal ? picture->journal.health : JOURNAL_OFF) == word;
}

static double journal_figure(const struct picture *picture, uint64_t value)
{
    return picture->has_journal ? (double)value : UNITS_NONE;
}

static double journal_queued(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return journal_figure(picture, picture->journal.queued);
}

static double journal_written(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return journal_figure(picture, picture->journal.written);
}

static double journal_dropped(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return journal_figure(picture, picture->journal.dropped);
}

static double journal_bytes(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return journal_figure(picture, picture->journal.file_bytes);
}

static double supply_watts(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return picture->power.is_shared ? picture->power.watts : UNITS_NONE;
}

static double supply_limit(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return picture->power.is_shared ? picture->power.limit_w : UNITS_NONE;
}

static double supply_binds(const struct picture *picture, int index, int word)
{
    (void)index;
    (void)word;
    return picture->power.is_shared ? (double)picture->power.is_binding : UNITS_NONE;
}

static const struct metric daemon_metrics[] = {
    {"build_info", "Always 1; the version of the daemon.", METRIC_GAUGE, build_info, "version",
     version},
    {"ready", "1: every output was verified safe at the start, and light is allowed.", METRIC_GAUGE,
     ready, NULL, NULL},
    {"crash_loop", "1: it ended abnormally several times in ten minutes.", METRIC_GAUGE, crash_loop,
     NULL, NULL},
    {"demonstration", "1: lamps and time are simulated.", METRIC_GAUGE, demonstration, NULL, NULL},
    {"pace_ratio", "How many times as fast as real time it plays; 1 in earnest.", METRIC_GAUGE,
     pace, NULL, NULL},
    {"uptime_seconds", "Time since its first tick.", METRIC_GAUGE, uptime, NULL, NULL},
    {"last_tick_timestamp_seconds", "Time of the tick that these values are of, by its clock.",
     METRIC_GAUGE, last_tick, NULL, NULL},
    {"ticks_total", "Ticks since the start, one a second.", METRIC_COUNTER, ticks, NULL, NULL},
    {"missed_ticks_total", "Ticks since the start that came too late and were left out.",
     METRIC_COUNTER, missed_ticks, NULL, NULL},
    {"clock_state", "What is believed of the computer's clock, 1 for the one that holds.",
     METRIC_GAUGE, clock_state, "state", clock_word},
    {"journal_state", "How the stored record does, 1 for the one that holds.", METRIC_GAUGE,
     journal_state, "state", journal_word},
    {"journal_queued_records", "Records that wait in memory for the disk.", METRIC_GAUGE,
     journal_queued, NULL, NULL},
    {"journal_written_records_total", "Records written since the start.", METRIC_COUNTER,
     journal_written, NULL, NULL},
    {"journal_dropped_records_total", "Records lost since the start because the disk took none.",
     METRIC_COUNTER, journal_dropped, NULL, NULL},
    {"journal_size_bytes", "Size of the journal's file and its log.", METRIC_GAUGE, journal_bytes,
     NULL, NULL},
    {"supply_watts", "Power of all lamps on a supply with a limit, as commanded.", METRIC_GAUGE,
     supply_watts, NULL, NULL},
    {"supply_limit_watts", "The limit of that supply.", METRIC_GAUGE, supply_limit, NULL, NULL},
    {"supply_limit_binds", "1: a space has less than it asks for because of that supply.",
     METRIC_GAUGE, supply_binds, NULL, NULL},
    {0},
};

const struct metric_table metrics_daemon = {daemon_metrics, one, NULL};

/* --- lines ----------------------------------------------------------------------------------- */

static int bus_count(const struct picture *picture)
{
    return picture->config->bus_count;
}

static void bus_labels(const struct picture *picture, int index, FILE *out)
{
    metrics_label(out, "bus", picture->config->buses[index].name);
}

static double bus_connected(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->buses[index].is_connected;
}

static double bus_failures(const struct picture *picture, int index, int word)
{
    (void)word;
    return picture->buses[index].failures;
}

static const struct metric bus_metrics[] = {
    {"bus_connected", "1: the devices of the bus answer.", METRIC_GAUGE, bus_connected, NULL, NULL},
    {"bus_failures_total",
     "Connections lost, and attempts to connect that failed, since the start.", METRIC_COUNTER,
     bus_failures, NULL, NULL},
    {0},
};

const struct metric_table metrics_buses = {bus_metrics, bus_count, bus_labels};

/* --- outputs --------------------------------------------------------------------------------- */

static int output_count(const struct picture *picture)
{
    return picture->config->output_count;
}

static void output_labels(const struct picture *picture, int index, FILE *out)
{
    metrics_label(out, "output", picture->config->outputs[index].name);
}

static double output_fault(const struct picture *picture, int index, int word)
{
    (void)word;
    const struct outputs_view *view = &picture->outputs[index];
    return view->is_used ? (double)view->is_fault : UNITS_NONE;
}

static const struct metric output_metrics[] = {
    {"output_fault", "1: the output does not obey.", METRIC_GAUGE, output_fault, NULL, NULL},
    {0},
};

const struct metric_table metrics_outputs = {output_metrics, output_count, output_labels};
