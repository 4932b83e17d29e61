/* SPDX-License-Identifier: Apache-2.0 */
#include "ageing.h"

#include "units.h"

#include <string.h>

#define RATIO_LOW   0.2
#define RATIO_HIGH  2.0 /* beyond: a fault, and others tell of it */
#define BASE_DAYS   7
#define SENSOR_DAYS 7.0 /* time constant of a sensor's value */

void ageing_init(struct ageing *ageing)
{
    memset(ageing, 0, sizeof *ageing);
    ageing->band_c = (float)UNITS_NONE;
}

static bool is_share(double value)
{
    return value >= RATIO_LOW && value <= RATIO_HIGH;
}

static bool is_sum(const struct ageing_sum *sum)
{
    return sum->seconds >= 0 && sum->seconds < 1e9 && sum->ratio_s >= 0 && sum->ratio_s < 1e9;
}

bool ageing_is_sane(const struct ageing *ageing)
{
    bool is_sane = ageing->count >= 0 && ageing->count <= AGEING_KEPT && ageing->next >= 0 &&
                   ageing->next < AGEING_KEPT && is_sum(&ageing->sum) && isfinite(ageing->heat_s) &&
                   ageing->blind_days >= 0 && !isinf(ageing->band_c) && isfinite(ageing->full_umol);
    for (int i = 0; is_sane && i < ageing->count; i++) {
        is_sane = is_share((double)ageing->value[i]);
    }
    for (int i = 0; is_sane && i < AGEING_SENSORS; i++) {
        const struct ageing_sensor *sensor = &ageing->sensors[i];
        is_sane = is_sum(&ageing->sensor_sum[i]) && sensor->base_days >= 0 &&
                  sensor->base_days <= BASE_DAYS &&
                  (sensor->base_days == 0 || (sensor->base > 0 && sensor->base < 1e3F &&
                                              sensor->value > 0 && sensor->value < 1e3F));
    }
    return is_sane;
}

/* Each sensor in its place; a new one starts afresh. */
static void seat_sensors(struct ageing *ageing, const struct ageing_rules *rules)
{
    for (int i = 0; i < rules->sensor_count; i++) {
        if (ageing->sensors[i].who != rules->sensor[i]) {
            ageing->sensors[i] = (struct ageing_sensor){.who = rules->sensor[i]};
            ageing->sensor_sum[i] = (struct ageing_sum){0, 0};
        }
    }
    for (int i = rules->sensor_count; i < AGEING_SENSORS; i++) {
        ageing->sensors[i].who = 0;
    }
}

struct ageing_rules ageing_own_rules(const struct ageing *ageing)
{
    struct ageing_rules rules = {.commissioned = ageing->commissioned, .heat_c = UNITS_NONE};
    for (int i = 0; i < AGEING_SENSORS && ageing->sensors[i].who != 0; i++) {
        rules.sensor[rules.sensor_count++] = ageing->sensors[i].who;
    }
    return rules;
}

void ageing_rewind(struct ageing *ageing, int64_t light_day)
{
    const struct ageing now = *ageing;
    ageing->count = ageing->next = 0;
    for (int i = 0; i < now.count; i++) {
        const int from = (now.next + AGEING_KEPT - now.count + i) % AGEING_KEPT;
        if (now.day[from] > light_day) {
            memset(ageing->sensors, 0, sizeof ageing->sensors);
            break;
        }
        ageing->value[ageing->next] = now.value[from];
        ageing->day[ageing->next] = now.day[from];
        ageing->next = (ageing->next + 1) % AGEING_KEPT;
        ageing->count++;
    }
}

static double band_middle(const struct ageing *ageing, const struct ageing_rules *rules)
{
    return units_known(rules->heat_c) ? rules->heat_c : (double)ageing->band_c;
}

static void add(struct ageing_sum *sum, double ratio, double dt_s)
{
    if (ratio > 0 && ratio < 1e3) {
        sum->seconds += dt_s;
        sum->ratio_s += ratio * dt_s;
    }
}

void ageing_book(struct ageing *ageing, const struct ageing_rules *rules, double full_umol,
                 const struct ageing_sample *sample, double dt_s)
{
    if (rules->commissioned == 0 || !(dt_s > 0)) {
        return;
    }
    if (ageing->commissioned != rules->commissioned ||
        !(fabs(ageing->full_umol - full_umol) <= 1e-9 * full_umol)) {
        ageing_init(ageing);
        ageing->commissioned = rules->commissioned;
        ageing->full_umol = full_umol;
    }
    seat_sensors(ageing, rules);
    const double away_k = sample->heat_c - band_middle(ageing, rules);
    if (!is_share(sample->ratio) || fabs(away_k) > AGEING_BAND_K) {
        return; /* where one of the two temperatures is not known any will do */
    }
    add(&ageing->sum, sample->ratio, dt_s);
    ageing->heat_s += units_known(sample->heat_c) ? sample->heat_c * dt_s : 0;
    for (int i = 0; i < rules->sensor_count; i++) {
        add(&ageing->sensor_sum[i], sample->sensor_ratio[i], dt_s);
    }
}

static void push(struct ageing *ageing, int64_t light_day)
{
    ageing->value[ageing->next] = (float)(ageing->sum.ratio_s / ageing->sum.seconds);
    ageing->day[ageing->next] = (int32_t)light_day;
    ageing->next = (ageing->next + 1) % AGEING_KEPT;
    ageing->count += ageing->count < AGEING_KEPT;
    ageing->blind_days = 0;
    if (isnan(ageing->band_c) && ageing->heat_s != 0) {
        ageing->band_c = (float)(ageing->heat_s / ageing->sum.seconds);
    }
}

static void push_sensor(struct ageing_sensor *sensor, const struct ageing_sum *sum)
{
    if (!(sum->seconds >= AGEING_LEAST_S)) {
        return;
    }
    const float ratio = (float)(sum->ratio_s / sum->seconds);
    if (sensor->base_days < BASE_DAYS) {
        sensor->base_days++;
        sensor->base += (ratio - sensor->base) / (float)sensor->base_days;
        sensor->value = sensor->base;
    } else {
        sensor->value += (ratio - sensor->value) / (float)SENSOR_DAYS;
    }
}

/* Values that belong together; returns how many. */
static int recent(const struct ageing *ageing, double ret[AGEING_KEPT], int32_t *ret_last)
{
    const int newest = (ageing->next + AGEING_KEPT - 1) % AGEING_KEPT;
    int count = 0;
    *ret_last = ageing->day[newest];
    for (int i = 0; i < ageing->count; i++) {
        if (*ret_last - ageing->day[i] <= AGEING_OLD) {
            ret[count++] = (double)ageing->value[i];
        }
    }
    return count;
}

static double median(double *values, int count)
{
    for (int i = 1; i < count; i++) {
        const double value = values[i];
        int place = i;
        for (; place > 0 && values[place - 1] > value; place--) {
            values[place] = values[place - 1];
        }
        values[place] = value;
    }
    return 0.5 * (values[(count - 1) / 2] + values[count / 2]);
}

static double deviation(const double *values, int count)
{
    double mean = 0;
    double squares = 0;
    for (int i = 0; i < count; i++) {
        mean += values[i] / count;
    }
    for (int i = 0; i < count; i++) {
        squares += (values[i] - mean) * (values[i] - mean);
    }
    return sqrt(squares / (count - 1));
}

/* The sensor that fell most, against the median of the others. */
static void compare_sensors(const struct ageing *ageing, const struct ageing_rules *rules,
                            struct ageing_view *ret)
{
    double left[AGEING_SENSORS]; /* of what each showed at first */
    int who[AGEING_SENSORS];
    int lowest = 0;
    int count = 0;
    for (int i = 0; i < rules->sensor_count; i++) {
        const struct ageing_sensor *sensor = &ageing->sensors[i];
        if (sensor->who == rules->sensor[i] && sensor->base_days == BASE_DAYS) {
            left[count] = (double)(sensor->value / sensor->base);
            who[count] = i;
            lowest = left[count] < left[lowest] ? count : lowest;
            count++;
        }
    }
    ret->sensors = count;
    if (count < 2) {
        return;
    }
    const double its = left[lowest];
    left[lowest] = left[count - 1];
    const double others = median(left, count - 1);
    if (its < AGEING_FALLEN * others) {
        ret->fallen = who[lowest];
        ret->fallen_share = its / others;
    }
}

struct ageing_view ageing_view(const struct ageing *ageing, const struct ageing_rules *rules)
{
    struct ageing_view view = {.share = UNITS_NONE, .spread = UNITS_NONE, .fallen = -1};
    double values[AGEING_KEPT];
    if (rules->commissioned == 0 || ageing->commissioned != rules->commissioned) {
        return view;
    }
    const int count = recent(ageing, values, &view.last_day);
    if (count >= AGEING_LEAST) {
        view.is_known = true;
        view.spread = 2 * deviation(values, count);
        view.share = median(values, count);
    }
    compare_sensors(ageing, rules, &view);
    return view;
}

static struct ageing_news news_of(struct ageing *ageing, const struct ageing_rules *rules)
{
    const struct ageing_view view = ageing_view(ageing, rules);
    struct ageing_news news = {.sensor = -1};
    if (view.is_known && view.share <= rules->limit) {
        news.has_loss = !ageing->told_loss;
        ageing->told_loss = true;
    } else if (view.is_known && view.share > rules->limit + AGEING_AGAIN) {
        ageing->told_loss = false;
    }
    if (view.fallen >= 0 && !ageing->told_sensor) {
        news.sensor = view.fallen;
    }
    ageing->told_sensor = view.fallen >= 0;
    return news;
}

struct ageing_news ageing_close(struct ageing *ageing, const struct ageing_rules *rules,
                                int64_t light_day)
{
    if (ageing->sum.seconds >= AGEING_LEAST_S) {
        push(ageing, light_day);
        for (int i = 0; i < rules->sensor_count; i++) {
            push_sensor(&ageing->sensors[i], &ageing->sensor_sum[i]);
        }
    } else if (++ageing->blind_days >= AGEING_BLIND) {
        ageing->band_c = (float)UNITS_NONE;
        ageing->blind_days = 0;
    }
    ageing->sum = (struct ageing_sum){0, 0};
    memset(ageing->sensor_sum, 0, sizeof ageing->sensor_sum);
    ageing->heat_s = 0;
    return news_of(ageing, rules);
}
