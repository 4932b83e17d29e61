/* SPDX-License-Identifier: Apache-2.0 */
/* Tables of numbers as people write them, good ones and bad ones. */
#include "table.h"

#include "err.h"
#include "near.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static int parse(const char *text, struct table *ret, struct err *err)
{
    char *copy = strdup(text);
    assert_non_null(copy);
    const int rc = table_parse("map.csv", copy, ret, err);
    free(copy);
    return rc;
}

static void notes_columns_and_rows(void **state)
{
    (void)state;
    struct table table;
    struct err err;
    assert_int_equal(parse("\xEF\xBB\xBF# Measured on the basil shelf\r\n"
                           "# height_cm: 45\r\n#drive:0.8\r\n"
                           "\r\n"
                           " x_cm, y_cm ,ppfd_umol\r\n"
                           "0,0,180.5\r\n"
                           "# a break for tea: 10 min\r\n"
                           "15, 0,\r\n",
                           &table, &err),
                     0);
    assert_int_equal(table.note_count, 2);
    assert_string_equal(table_note(&table, "height_cm")->value, "45");
    assert_string_equal(table_note(&table, "drive")->value, "0.8");
    assert_null(table_note(&table, "fixture_w"));
    assert_int_equal(table.column_count, 3);
    assert_int_equal(table_column(&table, "y_cm"), 1);
    assert_int_equal(table_column(&table, "z"), -1);
    assert_int_equal(table.row_count, 2);
    assert_near(table_cell(&table, 0, 2), 180.5, 0);
    assert_near(table_cell(&table, 1, 0), 15, 0);
    assert_true(isnan(table_cell(&table, 1, 2)));
    assert_int_equal(table.lines[1], 8);
    table_free(&table);
}

static void one_clear_line_each(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } bad[] = {
        {"", "map.csv: there is no row in it"},
        {"x,y\n", "map.csv: there is no row in it"},
        {"x,y\n1,2\n3\n", "map.csv:3: 1 cell; line 1 names 2 columns"},
        {"x,y\n1,2,3\n", "map.csv:2: more than 2 cells; line 1 names 2 columns"},
        {"x,y\n1,nan\n", "map.csv:2: y: \"nan\" is not a number"},
        {"x,y\n1,1e13\n", "map.csv:2: y: 1e13 is out of range (-1e+12 … 1e+12)"},
        {"x;y\n1;2\n", "map.csv:1: columns are parted by commas here, with a point in numbers"},
        {"1,2\n3,4\n", "map.csv:1: a line with the names of the columns is missing before 1"},
        {"x,x\n1,2\n", "map.csv:1: there are two columns \"x\""},
        {"x,\n1,2\n", "map.csv:1: \"\" is no name of a column (1 … 31 letters)"},
        {"# drive: 1\n# drive: 0.5\nx\n1\n", "map.csv:2: drive was said on line 1 already"},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        struct table table;
        struct err err;
        assert_int_equal(parse(bad[i].text, &table, &err), -EINVAL);
        assert_string_equal(err.text, bad[i].says);
    }
}

static void a_number_of_a_note(void **state)
{
    (void)state;
    struct table table;
    struct err err;
    double drive = 0.5;
    assert_int_equal(parse("# drive: 0.75\n# level: 2\nx\n1\n", &table, &err), 0);
    assert_int_equal(table_note_number(&table, "height_cm", 0, 1, &drive, &err), 0);
    assert_near(drive, 0.5, 0);
    assert_int_equal(table_note_number(&table, "drive", 0, 1, &drive, &err), 0);
    assert_near(drive, 0.75, 0);
    assert_int_equal(table_note_number(&table, "level", 0, 1, &drive, &err), -EINVAL);
    assert_string_equal(err.text, "map.csv:2: level: 2 is out of range (0 … 1)");
    assert_near(drive, 0.75, 0);
    table_free(&table);
}

static void a_file(void **state)
{
    (void)state;
    struct table table;
    struct err err;
    assert_int_equal(table_read("/nonexistent/map.csv", &table, &err), -ENOENT);
    assert_non_null(strstr(err.text, "/nonexistent/map.csv"));
}

/* A million rows are no reason to fall over. */
static void a_long_one(void **state)
{
    (void)state;
    const size_t rows = 200000;
    char *text = malloc(rows * 16 + 16);
    assert_non_null(text);
    char *p = text + sprintf(text, "x,y\n");
    for (size_t i = 0; i < rows; i++) {
        p += sprintf(p, "%zu,0.25\n", i);
    }
    struct table table;
    struct err err;
    assert_int_equal(table_parse("long.csv", text, &table, &err), 0);
    assert_int_equal(table.row_count, rows);
    assert_near(table_cell(&table, rows - 1, 0), (double)(rows - 1), 0);
    table_free(&table);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(notes_columns_and_rows),
        cmocka_unit_test(one_clear_line_each),
        cmocka_unit_test(a_number_of_a_note),
        cmocka_unit_test(a_file),
        cmocka_unit_test(a_long_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
