/* One walk over the page; a set-up is found again by its station and round. */
#include "survey/set_ups.h"
#include <math.h>
#include <string.h>

static double round_of(const mst_row *row) { return row->value[MST_ANGLES_ROUND]; }
static bool same_round(const mst_row *a, const mst_row *b) {
    return round_of(a) == round_of(b) || (isnan(round_of(a)) && isnan(round_of(b)));
}

static bool at_another_height(const mst_set_up *s, const mst_row *row) {
    double told = row->value[MST_ANGLES_INSTRUMENT];
    return !isnan(told) && !isnan(s->instrument_m) && told != s->instrument_m;
}

/* The circle was set anew for another round; a round is then a run of at least two sights. */
static bool in_another_round(const mst_page *page, size_t i) {
    const mst_row *row = &page->rows[i];
    return i >= 2 && i + 1 < page->row_count && !same_round(row, row - 1) && same_round(row, row + 1) &&
           same_round(row - 1, row - 2);
}

static bool goes_on(const mst_page *page, const mst_set_ups *s, size_t i) {
    const mst_row *row = &page->rows[i];
    return i > 0 && strcmp(row->text[MST_ANGLES_AT], row[-1].text[MST_ANGLES_AT]) == 0 &&
           !at_another_height(&s->list[s->of_row[i - 1]], row) && !in_another_round(page, i);
}

/* The set-up with the row's station and round, or a new one. */
static uint32_t find_or_make(mst_set_ups *s, mst_index *index, const mst_row *row, mst_arena *arena) {
    const char *key =
        isnan(round_of(row)) ? NULL : mst_arena_printf(arena, "%.17g\n%s", round_of(row), row->text[MST_ANGLES_AT]);
    uint32_t found = key ? mst_index_get(index, key) : UINT32_MAX;
    if (found != UINT32_MAX && !at_another_height(&s->list[found], row)) return found;
    mst_set_up *made = MST_PUSH(arena, s->list, s->count, s->capacity);
    if (!made || (!key && !isnan(round_of(row)))) return UINT32_MAX;
    *made = (mst_set_up){.instrument_m = NAN, .turn = UINT32_MAX};
    found = (uint32_t)(s->count - 1);
    return !key || mst_index_put(index, arena, key, found) ? found : UINT32_MAX;
}

bool mst_set_ups_find(const mst_page *page, mst_arena *arena, mst_set_ups *out) {
    mst_index index = {0};
    *out = (mst_set_ups){.of_row = mst_arena_array(arena, page->row_count + 1, sizeof *out->of_row)};
    for (size_t i = 0; out->of_row && i < page->row_count; i++) {
        uint32_t at = goes_on(page, out, i) ? out->of_row[i - 1] : find_or_make(out, &index, &page->rows[i], arena);
        if (at == UINT32_MAX) return false;
        out->of_row[i] = at;
        double told = page->rows[i].value[MST_ANGLES_INSTRUMENT];
        if (!isnan(told)) out->list[at].instrument_m = told;
    }
    return out->of_row != NULL;
}
