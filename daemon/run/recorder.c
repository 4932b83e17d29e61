/* SPDX-License-Identifier: Apache-2.0 */
#include "recorder.h"

#include "clock.h"
#include "units.h"
#include "words.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define MINUTE_S     60
#define LAST_TICKS   2
#define DAY_EVERY_NS (600 * CLOCK_NS_PER_S)
#define DAY_NEWS_NS  (60 * CLOCK_NS_PER_S)

static void begin_minute(struct recorder *recorder, int64_t minute_s)
{
    static const struct recorder_mean none;
    recorder->minute_s = minute_s;
    recorder->sample_count = 0;
    recorder->sample_every = 1;
    recorder->sample_skip = 0;
    recorder->lamp = recorder->daylight = recorder->level = recorder->drive = none;
    recorder->watts = recorder->air = recorder->humidity = none;
    recorder->heatsink_max = UNITS_NONE;
    memset(recorder->limiter_seconds, 0, sizeof recorder->limiter_seconds);
    recorder->worst = READING_GOOD;
    recorder->has_moment = false;
}

void recorder_init(struct recorder *recorder, const struct config *config, int space,
                   int64_t sure_s)
{
    *recorder = (struct recorder){.config = config, .space = space, .trusted_s = sure_s};
    begin_minute(recorder, -1);
}

static const struct config_space *space_of(const struct recorder *recorder)
{
    return &recorder->config->spaces[recorder->space];
}

static void mean_add(struct recorder_mean *mean, double value, double dt_s)
{
    if (units_known(value)) {
        mean->sum += value * dt_s;
        mean->seconds += dt_s;
    }
}

static double mean_of(const struct recorder_mean *mean)
{
    return mean->seconds > 0 ? mean->sum / mean->seconds : UNITS_NONE;
}

static int compare(const void *a, const void *b)
{
    double left = *(const double *)a;
    double right = *(const double *)b;
    return (left > right) - (left < right);
}

static double median(double *samples, int count)
{
    if (count == 0) {
        return UNITS_NONE;
    }
    qsort(samples, (size_t)count, sizeof *samples, compare);
    return count % 2 ? samples[count / 2] : (samples[count / 2 - 1] + samples[count / 2]) / 2;
}

static void keep_sample(struct recorder *recorder, double value)
{
    if (recorder->sample_skip > 0) {
        recorder->sample_skip--;
        return;
    }
    if (recorder->sample_count == RECORDER_SAMPLES_MAX) {
        for (int i = 0; i < RECORDER_SAMPLES_MAX / 2; i++) {
            recorder->samples[i] = recorder->samples[2 * i];
        }
        recorder->sample_count = RECORDER_SAMPLES_MAX / 2;
        recorder->sample_every *= 2;
    }
    recorder->samples[recorder->sample_count++] = value;
    recorder->sample_skip = recorder->sample_every - 1;
}

static enum limiter longest_limiter(const struct recorder *recorder)
{
    unsigned longest = 0; /* of equals the stronger one, as everywhere */
    for (unsigned i = 1; i < LIMITER_COUNT; i++) {
        if (recorder->limiter_seconds[i] > recorder->limiter_seconds[longest]) {
            longest = i;
        }
    }
    return (enum limiter)longest;
}

static void end_minute(struct recorder *recorder, struct journal *journal)
{
    if (recorder->minute_s >= 0 && recorder->level.seconds > 0) {
        struct journal_minute *row = &recorder->row;
        row->wall_s = recorder->minute_s;
        row->ppfd_umol = median(recorder->samples, recorder->sample_count);
        row->lamp_umol = mean_of(&recorder->lamp);
        row->daylight_umol = mean_of(&recorder->daylight);
        row->level = mean_of(&recorder->level);
        row->drive = mean_of(&recorder->drive);
        row->limiter = longest_limiter(recorder);
        row->heatsink_c = recorder->heatsink_max;
        row->air_c = mean_of(&recorder->air);
        row->humidity_percent = mean_of(&recorder->humidity);
        row->watts = mean_of(&recorder->watts);
        row->quality = recorder->worst;
        row->chain[0] = '\0';
        if (recorder->has_moment) {
            moment_write(&recorder->moment, row->chain, sizeof row->chain);
        }
        (void)journal_put_minute(journal, row); /* a loss is counted by the journal */
    }
    begin_minute(recorder, -1);
}

static double good_value(const struct reading *reading)
{
    return reading_is_good(reading) ? reading->value : UNITS_NONE;
}

static void collect(struct recorder *recorder, const struct recorder_tick *tick)
{
    const struct now *now = tick->now;
    const struct verdict *verdict = tick->verdict;
    double dt_s = units_clamp(tick->dt_s, 0, MINUTE_S);
    double ppfd = good_value(&now->ppfd);
    if (units_known(ppfd)) {
        keep_sample(recorder, ppfd);
    }
    if (now->ppfd.quality > recorder->worst) {
        recorder->worst = now->ppfd.quality;
    }
    mean_add(&recorder->lamp, verdict->lamp_umol, dt_s);
    mean_add(&recorder->daylight, verdict->daylight_umol, dt_s);
    mean_add(&recorder->level, verdict->level, dt_s);
    mean_add(&recorder->drive, verdict->fixtures[0].drive, dt_s);
    mean_add(&recorder->watts, verdict->watts, dt_s);
    mean_add(&recorder->air, good_value(&tick->air->temperature), dt_s);
    mean_add(&recorder->humidity, good_value(&tick->air->humidity), dt_s);
    for (int i = 0; i < space_of(recorder)->rules.fixture_count; i++) {
        /* fmax takes the one that is known */
        recorder->heatsink_max = fmax(recorder->heatsink_max, good_value(&now->fixtures[i].heat));
    }
    if ((unsigned)verdict->limiter < LIMITER_COUNT) {
        recorder->limiter_seconds[verdict->limiter] += dt_s;
    }
}

static void remember_end(struct recorder *recorder, const struct recorder_tick *tick)
{
    struct journal_minute *row = &recorder->row;
    (void)snprintf(row->space, sizeof row->space, "%s", space_of(recorder)->name);
    row->light_day = tick->state->light_day;
    row->delivered_mol = tick->verdict->account.delivered_mol;
    row->target_mol = tick->verdict->account.target_mol;
    row->price_per_kwh = tick->now->price_per_kwh;
    const struct nightguard *guard = &tick->state->nightguard;
    row->night_dose_umol_m2 = guard->in_night ? guard->dose_umol_m2 : UNITS_NONE;
    row->night_longest_s = guard->in_night ? guard->longest_s : UNITS_NONE;
    row->night_possible_umol_m2 = guard->in_night ? tick->state->night_possible : UNITS_NONE;
}

/* The minute's last ticks, as far as they can be foreseen, and its first: nothing is prepared in
 * between that nobody will read. */
static void take_moment(struct recorder *recorder, const struct recorder_tick *tick)
{
    const double left_s = (double)(recorder->minute_s + MINUTE_S - tick->now->wall_s);
    if (!recorder->has_moment || left_s <= LAST_TICKS * tick->dt_s) {
        moment_take(space_of(recorder), recorder->config, tick->now, tick->state, tick->verdict,
                    &recorder->moment);
        recorder->has_moment = true;
    }
}

static int64_t floor_minute(int64_t wall_s)
{
    int64_t rest = wall_s % MINUTE_S;
    return wall_s - (rest < 0 ? rest + MINUTE_S : rest);
}

static bool has_time(const struct recorder *recorder, const struct recorder_tick *tick)
{
    return tick->now->clock != CLOCK_UNTRUSTED ||
           space_of(recorder)->rules.clock_policy == CLOCK_POLICY_CARRY_ON;
}

static void record_minute(struct recorder *recorder, struct journal *journal,
                          const struct recorder_tick *tick)
{
    if (!has_time(recorder, tick)) {
        end_minute(recorder, journal);
        return;
    }
    int64_t minute_s = floor_minute(tick->now->wall_s);
    if (minute_s != recorder->minute_s) {
        end_minute(recorder, journal);
        begin_minute(recorder, minute_s);
    }
    collect(recorder, tick);
    remember_end(recorder, tick);
    if (journal) {
        take_moment(recorder, tick);
    }
}

void recorder_day(const struct config *config, int space, const struct day_summary *summary,
                  bool is_closed, struct journal_day *ret)
{
    const struct config_space *rules = &config->spaces[space];
    *ret = (struct journal_day){
        .utc_offset_s = rules->rules.day.utc_offset_s,
        .is_closed = is_closed,
        .begin_s = lightday_begin(&rules->rules.day, summary->light_day),
        .summary = *summary,
    };
    (void)snprintf(ret->space, sizeof ret->space, "%s", rules->name);
    (void)snprintf(ret->currency, sizeof ret->currency, "%s", config->site.currency);
    if (summary->stage_index >= 0 && summary->stage_index < rules->rules.stage_count) {
        (void)snprintf(ret->stage, sizeof ret->stage, "%s",
                       rules->rules.stages[summary->stage_index].name);
    }
}

static void put_running_day(struct recorder *recorder, struct journal *journal,
                            const struct space_state *state)
{
    if (!state->is_begun) {
        return;
    }
    struct day_summary summary;
    struct journal_day day;
    decide_summary(&space_of(recorder)->rules, state, &summary);
    recorder_day(recorder->config, recorder->space, &summary, false, &day);
    (void)journal_put_day(journal, &day); /* a loss is counted by the journal */
}

static void record_days(struct recorder *recorder, struct journal *journal,
                        const struct recorder_tick *tick)
{
    if (tick->verdict->day_closed) {
        struct journal_day day;
        recorder_day(recorder->config, recorder->space, &tick->verdict->closed, true, &day);
        (void)journal_put_day(journal, &day); /* a loss is counted by the journal */
    }
    int64_t since_ns = tick->now->boot_ns - recorder->day_put_ns;
    recorder->has_news = recorder->has_news || tick->verdict->event_count > 0;
    bool is_due = recorder->day_put_ns == 0 || since_ns >= DAY_EVERY_NS ||
                  (recorder->has_news && since_ns >= DAY_NEWS_NS);
    if (is_due && tick->state->is_begun) {
        recorder->day_put_ns = tick->now->boot_ns;
        recorder->has_news = tick->verdict->event_count > 0; /* of this very tick: soon again */
        put_running_day(recorder, journal, tick->state);
    }
}

static enum journal_class class_of(enum core_event kind)
{
    switch (kind) {
    case EVENT_DAY_BEGINS:
    case EVENT_CARRIED_OVER:
    case EVENT_DAY_ENDS:
    case EVENT_LIGHTS_ON:
    case EVENT_LIGHTS_OFF:
    case EVENT_TARGET_MET:
        return JOURNAL_INFO;
    case EVENT_STAGE_BEGINS:
    case EVENT_STAGES_OVER:
    case EVENT_TARGET_OUT_OF_REACH:
    case EVENT_HEAT_REARMED:
    case EVENT_DRIVER_RESTRIKE:
    case EVENT_DRIVER_LIGHT_BACK:
    case EVENT_SENSOR_BACK:
    case EVENT_SWITCH_FREED:
    case EVENT_NIGHT_BREAK_ENDS:
    case EVENT_HAND_BEGINS:
    case EVENT_HAND_ENDS:
    case EVENT_CLOCK_TRUSTED:
    case EVENT_GAP:
    case EVENT_TRY_DRIVE:
    case EVENT_TRY_CONTACT:
    case EVENT_TRY_ENDS:
    case EVENT_OPENING_CONFIRMED:
    case EVENT_SENSOR_CORRECTED:
    case EVENT_LAMP_CORRECTED:
    case EVENT_CORRECTION_ENDS:
        return JOURNAL_NOTICE;
    case EVENT_HEAT_TRIP:
    case EVENT_HEAT_BLIND:
    case EVENT_HEAT_LATCHED:
    case EVENT_DRIVER_TRIP:
    case EVENT_DRIVER_GAVE_UP:
    case EVENT_SENSOR_LOST:
    case EVENT_SWITCH_STUCK:
    case EVENT_CURVE_WRONG:
    case EVENT_LIGHT_DRIFT:
    case EVENT_LIGHT_AGED:
    case EVENT_SENSOR_FALLEN:
    case EVENT_OPENING_UNCONFIRMED:
    case EVENT_NIGHT_BREAK:
    case EVENT_CLOCK_UNTRUSTED:
    case EVENT_KIND_COUNT:
        break;
    }
    return JOURNAL_ALARM;
}

void recorder_event(const struct config *config, int space, const struct decide_event *event,
                    int64_t wall_s, int64_t light_day, struct journal_event *ret)
{
    const struct config_space *place = &config->spaces[space];
    *ret = (struct journal_event){
        .wall_s = wall_s,
        .light_day = light_day,
        .class = class_of(event->kind),
        .a = event->a,
        .b = event->b,
    };
    (void)snprintf(ret->space, sizeof ret->space, "%s", place->name);
    (void)snprintf(ret->kind, sizeof ret->kind, "%s", decide_event_name(event->kind));
    if (event->fixture >= 0 && event->fixture < place->rules.fixture_count) {
        (void)snprintf(ret->fixture, sizeof ret->fixture, "%s",
                       config->fixtures[place->fixtures[event->fixture]].name);
    }
    words_event(config, space, event, ret->text, sizeof ret->text);
}

static void record_events(const struct recorder *recorder, struct journal *journal,
                          const struct recorder_tick *tick)
{
    const struct space_state *state = tick->state;
    const struct verdict *verdict = tick->verdict;
    int64_t wall_s = recorder->trusted_s;
    struct journal_event event;
    for (int i = 0; i < verdict->event_count; i++) {
        recorder_event(recorder->config, recorder->space, &verdict->events[i], wall_s,
                       state->light_day, &event);
        (void)journal_put_event(journal, &event); /* a loss is counted by the journal */
    }
    if (verdict->events_dropped > 0) {
        event = (struct journal_event){.wall_s = wall_s,
                                       .light_day = state->light_day,
                                       .class = JOURNAL_NOTICE,
                                       .kind = "events-left-out",
                                       .a = verdict->events_dropped,
                                       .b = UNITS_NONE};
        (void)snprintf(event.space, sizeof event.space, "%s", space_of(recorder)->name);
        (void)snprintf(event.text, sizeof event.text,
                       "%d more things happened in the same second than could be noted",
                       verdict->events_dropped);
        (void)journal_put_event(journal, &event);
    }
}

void recorder_tick(struct recorder *recorder, struct journal *journal,
                   const struct recorder_tick *tick)
{
    if (!journal) {
        return;
    }
    if (has_time(recorder, tick)) {
        recorder->trusted_s = tick->now->wall_s;
    }
    record_minute(recorder, journal, tick);
    record_events(recorder, journal, tick);
    record_days(recorder, journal, tick);
}

void recorder_finish(struct recorder *recorder, struct journal *journal,
                     const struct space_state *state, int64_t wall_s)
{
    if (!journal) {
        return;
    }
    if (floor_minute(wall_s) >= recorder->minute_s) { /* else the clock was set back meanwhile */
        end_minute(recorder, journal);
    }
    put_running_day(recorder, journal, state);
}
