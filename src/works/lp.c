#include "works/lp.h"

int mst_lp_column_add(mst_lp *lp, double lower, double upper, double cost) {
    mst_lp_column *c = MST_PUSH(lp->arena, lp->columns, lp->column_count, lp->column_capacity);
    if (!c) return lp->failed = true, 0;
    *c = (mst_lp_column){lower, upper, cost};
    return (int)lp->column_count - 1;
}

int mst_lp_row_add(mst_lp *lp, double lower, double upper) {
    mst_lp_row *r = MST_PUSH(lp->arena, lp->rows, lp->row_count, lp->row_capacity);
    if (!r) return lp->failed = true, 0;
    *r = (mst_lp_row){lower, upper};
    return (int)lp->row_count - 1;
}

void mst_lp_term_add(mst_lp *lp, int row, int column, double factor) {
    mst_lp_term *t = MST_PUSH(lp->arena, lp->terms, lp->term_count, lp->term_capacity);
    if (!t) lp->failed = true;
    else *t = (mst_lp_term){row, column, factor};
}

bool mst_lp_matrix_of(const mst_lp *lp, mst_arena *arena, mst_lp_matrix *m) {
    m->start = mst_arena_array(arena, lp->column_count + 2, sizeof *m->start);
    m->row = mst_arena_array(arena, lp->term_count + 1, sizeof *m->row);
    m->value = mst_arena_array(arena, lp->term_count + 1, sizeof *m->value);
    if (lp->failed || !m->start || !m->row || !m->value) return false;
    for (size_t i = 0; i < lp->term_count; i++) m->start[lp->terms[i].column + 2]++;
    for (size_t c = 2; c < lp->column_count + 2; c++) m->start[c] += m->start[c - 1];
    for (size_t i = 0; i < lp->term_count; i++) {
        int to = m->start[lp->terms[i].column + 1]++;
        m->row[to] = lp->terms[i].row;
        m->value[to] = lp->terms[i].factor;
    }
    return true;
}
