/* SPDX-License-Identifier: Apache-2.0 */
/* The sensors as a table. */
#include "field.h"
#include "sense_parts.h"
#include "utf8.h"

#include <math.h>
#include <string.h>

enum { WIDTH = 100, CELL_MAX = 40, GAP = 2, INDENT = 2 };
enum column { SENSOR, KIND, RAW, VALUE, AGE, QUALITY, ALLOWED, COLUMNS };

static const char *const titles[COLUMNS] = {"sensor", "kind",    "raw",    "value",
                                            "age",    "quality", "allowed"};
static const bool is_right[COLUMNS] = {[VALUE] = true, [AGE] = true};

/* In brackets: read, and not believed. */
static void put_value(const json_t *sensor, char *cell)
{
    const double believed = field_number(sensor, "value");
    const double value = isfinite(believed) ? believed : field_number(sensor, "read_value");
    const char *open = isfinite(believed) ? "" : "(";
    const char *close = isfinite(believed) ? "" : ")";
    if (!isfinite(value)) {
        (void)snprintf(cell, CELL_MAX, "-");
    } else if (fabs(value) < 1e5) {
        (void)snprintf(cell, CELL_MAX, "%s%.1f %.24s%s", open, value, field_text(sensor, "unit"),
                       close);
    } else {
        (void)snprintf(cell, CELL_MAX, "%s%.4g %.24s%s", open, value, field_text(sensor, "unit"),
                       close);
    }
}

static void put_age(double age_s, char *cell)
{
    if (!isfinite(age_s)) {
        (void)snprintf(cell, CELL_MAX, "-");
    } else if (age_s < 100) {
        (void)snprintf(cell, CELL_MAX, "%.1f s", fmax(age_s, 0));
    } else if (age_s < 6000) {
        (void)snprintf(cell, CELL_MAX, "%.0f min", age_s / 60);
    } else {
        (void)snprintf(cell, CELL_MAX, "%.0f h", age_s / 3600);
    }
}

static void fill(const json_t *sensor, char cells[COLUMNS][CELL_MAX])
{
    const char *raw = field_text(sensor, "raw");
    (void)snprintf(cells[SENSOR], CELL_MAX, "%s", field_text(sensor, "sensor"));
    (void)snprintf(cells[KIND], CELL_MAX, "%s", field_text(sensor, "kind"));
    (void)snprintf(cells[RAW], CELL_MAX, "%s", raw[0] ? raw : "-");
    (void)snprintf(cells[QUALITY], CELL_MAX, "%s", field_text(sensor, "quality"));
    (void)snprintf(cells[ALLOWED], CELL_MAX, "%.6g..%.6g", field_number(sensor, "low"),
                   field_number(sensor, "high"));
    put_value(sensor, cells[VALUE]);
    put_age(field_number(sensor, "age_s"), cells[AGE]);
}

static int total(const int widths[COLUMNS])
{
    int sum = INDENT;
    for (int i = 0; i < COLUMNS; i++) {
        sum += widths[i] > 0 ? widths[i] + GAP : 0;
    }
    return sum - GAP;
}

/* Where room is short, the kind goes first, for the unit tells it too; then the raw words' ends. */
static void measure(const json_t *sensors, int widths[COLUMNS])
{
    char cells[COLUMNS][CELL_MAX];
    size_t index;
    const json_t *sensor;
    for (int i = 0; i < COLUMNS; i++) {
        widths[i] = (int)strlen(titles[i]);
    }
    json_array_foreach(sensors, index, sensor)
    {
        fill(sensor, cells);
        for (int i = 0; i < COLUMNS; i++) {
            const int length = utf8_columns(cells[i], strlen(cells[i]));
            widths[i] = length > widths[i] ? length : widths[i];
        }
    }
    if (total(widths) > WIDTH) {
        widths[KIND] = 0;
    }
    if (total(widths) > WIDTH) {
        const int left = widths[RAW] - (total(widths) - WIDTH);
        widths[RAW] = left > 4 ? left : 4;
    }
}

static void print_row(const char *const cells[COLUMNS], const int widths[COLUMNS], FILE *out)
{
    (void)fprintf(out, "%*s", INDENT, "");
    for (int i = 0; i < COLUMNS; i++) {
        if (widths[i] == 0) {
            continue;
        }
        const int bytes = (int)strlen(cells[i]);
        const int width = widths[i] + bytes - utf8_columns(cells[i], (size_t)bytes);
        const int pad = i == COLUMNS - 1 ? 0 : width;
        const char *gap = i == COLUMNS - 1 ? "\n" : "  ";
        (void)fprintf(out, is_right[i] ? "%*.*s%s" : "%-*.*s%s", pad, width, cells[i], gap);
    }
}

static void print_sensor(const json_t *sensor, const int widths[COLUMNS], FILE *out)
{
    char cells[COLUMNS][CELL_MAX];
    const char *row[COLUMNS];
    fill(sensor, cells);
    for (int i = 0; i < COLUMNS; i++) {
        row[i] = cells[i];
    }
    print_row(row, widths, out);
}

/* "    ! words", wrapped. */
static void print_reason(const char *reason, FILE *out)
{
    const char *lead = "    ! ";
    int column = WIDTH;
    for (const char *word = reason; *word;) {
        const size_t bytes = strcspn(word, " ");
        const int columns = utf8_columns(word, bytes);
        if (column + 1 + columns > WIDTH) {
            (void)fprintf(out, "%s%s", word == reason ? "" : "\n", lead);
            lead = "      ";
            column = 6;
        } else {
            (void)fputc(' ', out);
            column++;
        }
        (void)fwrite(word, 1, bytes, out);
        column += columns;
        word += bytes;
        word += strspn(word, " ");
    }
    (void)fputc('\n', out);
}

/* Of a reason: what is wrong with the whole bus; "" when it is the sensor's own. */
static const char *bus_part(const char *reason)
{
    const char *later = strstr(reason, "; bus ");
    if (strncmp(reason, "bus ", 4) == 0) {
        return reason;
    }
    return later ? later + 2 : "";
}

/* "bus shelf (modbus-tcp)", and the trouble of the whole bus, once for all its sensors. */
static void print_bus(const json_t *sensors, const json_t *first, FILE *out)
{
    size_t index;
    const json_t *sensor;
    const char *bus = field_text(first, "bus");
    (void)fprintf(out, "bus %s (%s)\n", bus, field_text(first, "driver"));
    json_array_foreach(sensors, index, sensor)
    {
        const char *trouble = bus_part(field_text(sensor, "reason"));
        if (trouble[0] && strcmp(field_text(sensor, "bus"), bus) == 0) {
            print_reason(trouble, out);
            return;
        }
    }
}

/* What is left of a reason without the trouble of its bus. */
static void print_own_reason(const char *reason, FILE *out)
{
    char own[256];
    const size_t bus_length = strlen(bus_part(reason));
    const size_t length = strlen(reason) - bus_length;
    const size_t joint = bus_length > 0 && length > 0 ? 2 : 0; /* "; " */
    (void)snprintf(own, sizeof own, "%.*s", (int)(length - joint), reason);
    if (own[0]) {
        print_reason(own, out);
    }
}

void sense_table_print(const json_t *sensors, FILE *out)
{
    int widths[COLUMNS];
    const char *bus = "";
    size_t index;
    const json_t *sensor;
    measure(sensors, widths);
    print_row(titles, widths, out);
    json_array_foreach(sensors, index, sensor)
    {
        if (strcmp(bus, field_text(sensor, "bus")) != 0) {
            bus = field_text(sensor, "bus");
            print_bus(sensors, sensor, out);
        }
        print_sensor(sensor, widths, out);
        print_own_reason(field_text(sensor, "reason"), out);
    }
}
