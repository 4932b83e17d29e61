/* SPDX-License-Identifier: Apache-2.0 */
/* Metrics of the sensors: what each shows, and how far it is believed. */
#include "metrics_parts.h"

#include "units.h"

static int count(const struct picture *picture)
{
    return picture->config->sensor_count;
}

static void labels(const struct picture *picture, int index, FILE *out)
{
    metrics_label(out, "sensor", picture->config->sensors[index].name);
}

static const char *quality_word(int word)
{
    return word <= READING_LOST ? journal_quality_name((enum reading_quality)word) : NULL;
}

static double quality(const struct picture *picture, int index, int word)
{
    return (int)picture->sensors[index].reading.quality == word;
}

static double value_of(const struct picture *picture, int index, enum sensor_kind kind)
{
    return picture->config->sensors[index].kind == kind ? picture->sensors[index].reading.value
                                                        : UNITS_NONE;
}

static double ppfd(const struct picture *picture, int index, int word)
{
    (void)word;
    return value_of(picture, index, SENSOR_PPFD) * 1e-6;
}

static double temperature(const struct picture *picture, int index, int word)
{
    (void)word;
    return value_of(picture, index, SENSOR_TEMPERATURE);
}

static double humidity(const struct picture *picture, int index, int word)
{
    (void)word;
    return value_of(picture, index, SENSOR_HUMIDITY) * 1e-2;
}

static double watts(const struct picture *picture, int index, int word)
{
    (void)word;
    return value_of(picture, index, SENSOR_POWER);
}

static const struct metric metrics[] = {
    {"sensor_quality", "How far the sensor is believed, 1 for the one that holds.", METRIC_GAUGE,
     quality, "quality", quality_word},
    {"sensor_ppfd_moles_per_square_meter_second", "Light that the sensor shows.", METRIC_GAUGE,
     ppfd, NULL, NULL},
    {"sensor_temperature_celsius", "Temperature that the sensor shows.", METRIC_GAUGE, temperature,
     NULL, NULL},
    {"sensor_relative_humidity_ratio", "Relative humidity that the sensor shows.", METRIC_GAUGE,
     humidity, NULL, NULL},
    {"sensor_power_watts", "Power that the meter shows.", METRIC_GAUGE, watts, NULL, NULL},
    {0},
};

const struct metric_table metrics_sensors = {metrics, count, labels};
