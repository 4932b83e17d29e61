/* SPDX-License-Identifier: Apache-2.0 */
#include "bench_faults.h"

#include "err.h"
#include "fileio.h"
#include "parse.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define SCRIPT_BYTES_MAX 65536
#define SPAN_MAX_S       (INT64_C(3660) * 86400)
#define WORDS_MAX        5

enum unit_kind { UNIT_CANOPY, UNIT_FIXTURE, UNIT_NONE };

static const struct kind {
    const char *name;
    enum unit_kind unit;
    double low, high; /* of VALUE; equal: this kind takes none */
    const char *value_unit;
} kinds[BENCH_FAULT_KINDS] = {
    [BENCH_PPFD_STUCK] = {"ppfd-stuck", UNIT_CANOPY, 0, 0, ""},
    [BENCH_PPFD_NAN] = {"ppfd-nan", UNIT_CANOPY, 0, 0, ""},
    [BENCH_PPFD_SILENT] = {"ppfd-silent", UNIT_CANOPY, 0, 0, ""},
    [BENCH_PPFD_GAIN] = {"ppfd-gain", UNIT_CANOPY, 0, 100, "times the reading"},
    [BENCH_HEAT_STUCK] = {"heat-stuck", UNIT_FIXTURE, 0, 0, ""},
    [BENCH_HEAT_SILENT] = {"heat-silent", UNIT_FIXTURE, 0, 0, ""},
    [BENCH_HEAT_STEP] = {"heat-step", UNIT_FIXTURE, -50, 100, "K"},
    [BENCH_TRIP] = {"trip", UNIT_FIXTURE, 0, 1, "drive"},
    [BENCH_DEAD] = {"dead", UNIT_FIXTURE, 0, 0, ""},
    [BENCH_WELDED] = {"welded", UNIT_FIXTURE, 0, 0, ""},
    [BENCH_SWITCH_OPEN] = {"switch-open", UNIT_FIXTURE, 0, 0, ""},
    [BENCH_DIM_STUCK] = {"dim-stuck", UNIT_FIXTURE, 0, 0, ""},
    [BENCH_BUS_DOWN] = {"bus-down", UNIT_NONE, 0, 0, ""},
    [BENCH_LATE] = {"late", UNIT_NONE, 0, 60, "s"},
};

const char *bench_fault_name(enum bench_fault_kind kind)
{
    return (int)kind >= 0 && kind < BENCH_FAULT_KINDS ? kinds[kind].name : "unknown";
}

static int read_kind(const char *word, enum bench_fault_kind *ret, struct err *err)
{
    char known[ERR_TEXT_MAX] = "";
    int length = 0;
    for (int i = 0; i < BENCH_FAULT_KINDS; i++) {
        if (strcmp(word, kinds[i].name) == 0) {
            *ret = (enum bench_fault_kind)i;
            return 0;
        }
        length += snprintf(known + length, sizeof known - (size_t)length, "%s%s", i ? ", " : "",
                           kinds[i].name); /* all names together fit by far */
    }
    return err_fail(err, EINVAL, "kind: \"%.32s\" is unknown (%s)", word, known);
}

static int read_unit(const struct bench_model *model, enum bench_fault_kind kind, const char *word,
                     int *ret, struct err *err)
{
    const char *what = "unit";
    int count = 1;
    switch (kinds[kind].unit) {
    case UNIT_CANOPY:
        what = "canopy";
        count = bench_model_canopies(model);
        break;
    case UNIT_FIXTURE:
        what = "fixture";
        count = bench_model_fixtures(model);
        break;
    case UNIT_NONE:
        break;
    }
    int64_t unit = 0;
    int code = parse_int(word, 0, count - 1, &unit, err);
    if (code < 0) {
        err_prefix(err, "%s", what);
        return code;
    }
    *ret = (int)unit;
    return 0;
}

static int read_span(const char *what, const char *word, bool may_be_zero, double *ret,
                     struct err *err)
{
    if (may_be_zero && strcmp(word, "0") == 0) {
        *ret = 0;
        return 0;
    }
    int64_t seconds = 0;
    int code = parse_duration(word, SPAN_MAX_S, &seconds, err);
    if (code < 0) {
        err_prefix(err, "%s", what);
        return code;
    }
    *ret = (double)seconds;
    return 0;
}

static int read_value(enum bench_fault_kind kind, const char *word, double *ret, struct err *err)
{
    const struct kind *wanted = &kinds[kind];
    bool takes_value = wanted->high > wanted->low;
    if (!takes_value && word) {
        return err_fail(err, EINVAL, "%s takes no value, got \"%.32s\"", wanted->name, word);
    }
    if (takes_value && !word) {
        return err_fail(err, EINVAL, "%s needs a value (%g … %g, %s)", wanted->name, wanted->low,
                        wanted->high, wanted->value_unit);
    }
    *ret = 0;
    if (!takes_value) {
        return 0;
    }
    int code = parse_real(word, wanted->low, wanted->high, ret, err);
    if (code < 0) {
        err_prefix(err, "%s: value in %s", wanted->name, wanted->value_unit);
    }
    return code;
}

static int read_line(const struct bench_model *model, char *line, struct bench_fault *ret,
                     bool *ret_is_empty, struct err *err)
{
    char *words[WORDS_MAX] = {NULL}, *rest = NULL;
    int count = 0;
    line[strcspn(line, "#")] = '\0';
    for (char *word = strtok_r(line, " \t\r", &rest); word; word = strtok_r(NULL, " \t\r", &rest)) {
        if (count == WORDS_MAX) {
            return err_fail(err, EINVAL, "\"%.32s\" is one word too many", word);
        }
        words[count++] = word;
    }
    *ret_is_empty = count == 0;
    if (count == 0) {
        return 0;
    }
    if (count < 4) {
        return err_fail(err, EINVAL, "%d of FROM LENGTH KIND UNIT [VALUE] given, at least 4 needed",
                        count);
    }
    struct bench_fault fault = {0};
    int code = read_span("from", words[0], true, &fault.from_s, err);
    if (code == 0) {
        code = read_span("length", words[1], false, &fault.length_s, err);
    }
    if (code == 0) {
        code = read_kind(words[2], &fault.kind, err);
    }
    if (code == 0) {
        code = read_unit(model, fault.kind, words[3], &fault.unit, err);
    }
    if (code == 0) {
        code = read_value(fault.kind, words[4], &fault.value, err);
    }
    if (code == 0) {
        *ret = fault;
    }
    return code;
}

static int read_script(struct bench_model *model, const char *path, char *text, struct err *err)
{
    int number = 0;
    for (char *line = text, *next = NULL; line; line = next) {
        number++;
        next = strchr(line, '\n');
        if (next) {
            *next++ = '\0';
        }
        struct bench_fault fault;
        bool is_empty = false;
        int code = read_line(model, line, &fault, &is_empty, err);
        if (code == 0 && !is_empty) {
            code = bench_model_add_fault(model, &fault);
            if (code < 0) {
                (void)err_fail(err, ENOSPC, "more than %d faults", BENCH_FAULTS_MAX);
            }
        }
        if (code < 0) {
            err_prefix(err, "%s:%d", path, number);
            return code;
        }
    }
    return 0;
}

int bench_faults_load(struct bench_model *model, const char *path, struct err *err)
{
    char *text = NULL;
    size_t size = 0;
    int code = fileio_read(path, SCRIPT_BYTES_MAX, &text, &size, err);
    if (code < 0) {
        return code;
    }
    int before = bench_model_fault_count(model);
    if (strlen(text) != size) {
        code = err_fail(err, EINVAL, "%s: holds a NUL byte at %zu: not a text file", path,
                        strlen(text));
    } else {
        code = read_script(model, path, text, err);
    }
    if (code < 0) {
        bench_model_cut_faults(model, before);
    }
    free(text);
    return code;
}
