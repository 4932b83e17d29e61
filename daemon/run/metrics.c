/* SPDX-License-Identifier: Apache-2.0 */
#include "metrics_parts.h"

#include "control_proto.h"

#include <math.h>
#include <stdlib.h>

static const struct metric_table *const tables[] = {
    &metrics_daemon,  &metrics_alarms, &metrics_buses,    &metrics_sensors,
    &metrics_outputs, &metrics_spaces, &metrics_fixtures,
};

static const char *const type_names[] = {[METRIC_GAUGE] = "gauge", [METRIC_COUNTER] = "counter"};

void metrics_label(FILE *out, const char *name, const char *value)
{
    json_t *text = control_text(value); /* what is no UTF-8 was replaced there */
    const char *at = text ? json_string_value(text) : "";
    (void)fprintf(out, "%s=\"", name);
    for (; *at; at++) {
        if (*at == '\n') {
            (void)fputs("\\n", out);
        } else {
            if (*at == '\\' || *at == '"') {
                (void)fputc('\\', out);
            }
            (void)fputc(*at, out);
        }
    }
    (void)fputc('"', out);
    json_decref(text);
}

static void put_sample(FILE *out, const struct picture *picture, const struct metric_table *table,
                       const struct metric *metric, const int at[2])
{
    const double value = metric->value(picture, at[0], at[1]);
    if (isnan(value)) {
        return;
    }
    (void)fprintf(out, "lampwarden_%s", metric->name);
    if (table->labels || metric->words) {
        (void)fputc('{', out);
        if (table->labels) {
            table->labels(picture, at[0], out);
        }
        if (metric->words) {
            (void)fputs(table->labels ? "," : "", out);
            metrics_label(out, metric->label, metric->words(at[1]));
        }
        (void)fputc('}', out);
    }
    if (isinf(value)) {
        (void)fprintf(out, " %s\n", value > 0 ? "+Inf" : "-Inf");
    } else {
        (void)fprintf(out, " %.12g\n", value);
    }
}

static void put_family(FILE *out, const struct picture *picture, const struct metric_table *table,
                       const struct metric *metric)
{
    (void)fprintf(out, "# HELP lampwarden_%s %s\n# TYPE lampwarden_%s %s\n", metric->name,
                  metric->help, metric->name, type_names[metric->type]);
    const int count = table->count(picture);
    for (int i = 0; i < count; i++) {
        for (int word = 0; word == 0 || (metric->words && metric->words(word)); word++) {
            put_sample(out, picture, table, metric, (const int[2]){i, word});
        }
    }
}

char *metrics_text(const struct picture *picture)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) {
        return NULL;
    }
    for (size_t i = 0; i < sizeof tables / sizeof tables[0]; i++) {
        for (const struct metric *metric = tables[i]->metrics; metric->name; metric++) {
            put_family(out, picture, tables[i], metric);
        }
    }
    const int failed = ferror(out);
    if (fclose(out) != 0 || failed) {
        free(text);
        return NULL;
    }
    return text;
}
