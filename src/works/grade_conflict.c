/* The smallest set of wishes that conflict: every set of wishes that can be met leaves some of the conflict out, so a
 * conflict hits all that such sets leave out. The smallest set that hits all of those known is tried; if it can be met
 * it is grown as far as it goes, and what that leaves out is one more to hit (Ignatiev, Previti, Liffiton,
 * Marques-Silva, CP 2015, LNCS 9255, 173-182). With more wishes than a word has bits, or too many tries, the deletion
 * filter's set is given: none of it can be left out, but another set may be smaller (Chinneck and Dravnieks, ORSA
 * Journal on Computing 3 (1991) 157-168). */
#include "works/grade.h"
#include <string.h>

enum { MOST_WISHES = 64, MOST_TRIES = 200 };

typedef struct job {
    const mst_grade_mesh *mesh;
    size_t count, tries;
    bool *wanted;
    uint64_t *left_out; /* sets of wishes that sets which can be met leave out */
    size_t left_count, left_capacity;
    mst_arena *arena;
    mst_error *error;
    mst_status status; /* of the tries */
} job;

static bool can_be(job *j) {
    mst_error why = {0};
    j->tries++;
    mst_status status = mst_grade_can_be(j->mesh, j->wanted, &why);
    if (status && status != MST_NO) j->status = mst_fail(j->error, status, "%s", why.sentence);
    return status == MST_OK;
}

static bool try_set(job *j, uint64_t set) {
    for (size_t w = 0; w < j->count; w++) j->wanted[w] = set >> w & 1;
    return can_be(j);
}

static int size_of(uint64_t set) {
    int n = 0;
    for (; set; set &= set - 1) n++;
    return n;
}

/* The smallest set that shares a wish with each; depth first, at most as deep as there are wishes. */
static void hit(const job *j, uint64_t chosen, uint64_t *best) {
    if (size_of(chosen) >= size_of(*best)) return;
    size_t i = 0;
    while (i < j->left_count && (j->left_out[i] & chosen)) i++;
    if (i == j->left_count) {
        *best = chosen;
        return;
    }
    for (uint64_t rest = j->left_out[i]; rest; rest &= rest - 1) hit(j, chosen | (rest & (~rest + 1)), best);
}

/* Adds wishes as long as all can be met. */
static uint64_t grow(job *j, uint64_t set) {
    for (size_t w = 0; w < j->count && !j->status; w++)
        if (!(set >> w & 1) && try_set(j, set | (uint64_t)1 << w)) set |= (uint64_t)1 << w;
    return set;
}

static uint64_t smallest(job *j, uint64_t known) {
    uint64_t all = j->count == MOST_WISHES ? ~(uint64_t)0 : ((uint64_t)1 << j->count) - 1;
    while (!j->status && j->tries < MOST_TRIES) {
        uint64_t set = known;
        hit(j, 0, &set);
        if (size_of(set) == size_of(known) || !try_set(j, set)) return set; /* none smaller is left */
        uint64_t *out = MST_PUSH(j->arena, j->left_out, j->left_count, j->left_capacity);
        if (!out) {
            j->status = mst_fail(j->error, MST_NO_MEMORY, "Memory is short.");
            return known;
        }
        *out = all & ~grow(j, set);
    }
    return known;
}

/* A wish without which the rest still cannot be met is not to blame. */
static void deletion_filter(job *j) {
    for (size_t w = 0; w < j->count; w++) j->wanted[w] = true;
    for (size_t w = 0; w < j->count && !j->status; w++) {
        j->wanted[w] = false;
        if (can_be(j)) j->wanted[w] = true;
    }
}

static void find(job *j) {
    deletion_filter(j);
    uint64_t set = 0;
    if (j->status || j->count > MOST_WISHES) return;
    for (size_t w = 0; w < j->count; w++) set |= (uint64_t)j->wanted[w] << w;
    set = smallest(j, set);
    for (size_t w = 0; w < j->count; w++) j->wanted[w] = set >> w & 1;
}

mst_status mst_grade_conflict(const mst_grade_mesh *mesh, mst_arena *arena, mst_grade *grade, mst_error *error) {
    const mst_grade_input *in = mesh->in;
    job j = {.mesh = mesh, .count = in->wish_count, .arena = arena, .error = error};
    j.wanted = mst_arena_array(arena, j.count + 1, 1);
    grade->conflict = mst_arena_array(arena, j.count + 1, sizeof *grade->conflict);
    if (!j.wanted || !grade->conflict) return mst_fail(error, MST_NO_MEMORY, "Memory is short.");
    find(&j);
    if (j.status) return j.status;
    for (uint32_t w = 0; w < j.count; w++)
        if (j.wanted[w]) grade->conflict[grade->conflict_count++] = w;
    char names[280] = "";
    for (size_t i = 0; i < grade->conflict_count; i++) {
        size_t at = strlen(names);
        strncat(names + at, i ? ", " : "", sizeof names - at - 1);
        strncat(names, in->wishes[grade->conflict[i]].name, sizeof names - strlen(names) - 1);
    }
    mst_text_tidy(names);
    return mst_fail(error, MST_NO, "These wishes cannot all be met, but without any one of them they can: %s.", names);
}
