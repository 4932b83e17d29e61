/* SPDX-License-Identifier: Apache-2.0 */
/* A programme for GLPK, written down entry by entry. Least is best. */
#ifndef LAMPWARDEN_GLPK_MODEL_H
#define LAMPWARDEN_GLPK_MODEL_H

#include <glpk.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define GLPK_ENTRIES_MAX 100000

/* Too big for a stack. */
struct glpk_model {
    glp_prob *lp;
    int count; /* entries of the matrix, from 1 on as GLPK wants them */
    int row[GLPK_ENTRIES_MAX], column[GLPK_ENTRIES_MAX];
    double value[GLPK_ENTRIES_MAX];
};

static inline void glpk_begin(struct glpk_model *model)
{
    (void)glp_term_out(GLP_OFF);
    model->lp = glp_create_prob();
    model->count = 0;
    glp_set_obj_dir(model->lp, GLP_MIN);
}

static inline int glpk_add_row(struct glpk_model *model, int type, double low, double high)
{
    const int row = glp_add_rows(model->lp, 1);
    glp_set_row_bnds(model->lp, row, type, low, high);
    return row;
}

static inline void glpk_put(struct glpk_model *model, int row, int column, double value)
{
    model->count++;
    assert_true(model->count < GLPK_ENTRIES_MAX);
    model->row[model->count] = row;
    model->column[model->count] = column;
    model->value[model->count] = value;
}

/* After the last entry. */
static inline void glpk_load(struct glpk_model *model)
{
    glp_load_matrix(model->lp, model->count, model->row, model->column, model->value);
}

/* Teardown of a program's tests. */
static inline int glpk_close(void **state)
{
    (void)state;
    (void)glp_free_env();
    return 0;
}

#endif
