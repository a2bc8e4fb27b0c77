/* A whole page in another unit than its header says: feet booked under metres, or metres under feet. Its readings are
 * wrong together, so that looking at one after the other tells little; here each page in turn is read the other way and
 * everything adjusted with it. */
#include "operations/page_units.h"
#include <math.h>
#include <string.h>

static const double SCATTER = 10; /* sigma0 from which a page may be in another unit: a third or three times as long */
static const double EXPLAINS = 100;   /* the squares fall to less than this part when the page is read the other way */
static const double WELL_ENOUGH = 10; /* sigma0 that is left, where nothing could be adjusted before */
enum { READINGS_MOST = 3000, ROWS_LEAST = 2 };

/* The columns of lengths that are readings; the sd are the gear's or meant as they stand. */
static uint32_t length_columns(mst_page_kind kind) {
#define BIT(column) (1u << (column))
    switch (kind) {
    case MST_PAGE_POINTS:
        return BIT(MST_POINTS_EASTING) | BIT(MST_POINTS_NORTHING) | BIT(MST_POINTS_ELEVATION);
    case MST_PAGE_TAPE:
        return BIT(MST_TAPE_DISTANCE);
    case MST_PAGE_BEARINGS:
        return BIT(MST_BEARINGS_DISTANCE);
    case MST_PAGE_ANGLES:
        return BIT(MST_ANGLES_DISTANCE) | BIT(MST_ANGLES_INSTRUMENT) | BIT(MST_ANGLES_TARGET);
    case MST_PAGE_LEVELS:
        return BIT(MST_LEVELS_BACKSIGHT) | BIT(MST_LEVELS_INTERMEDIATE) | BIT(MST_LEVELS_FORESIGHT) |
               BIT(MST_LEVELS_DISTANCE);
    case MST_PAGE_HEIGHTS:
        return BIT(MST_HEIGHTS_DIFFERENCE) | BIT(MST_HEIGHTS_LENGTH);
    case MST_PAGE_OFFSETS:
        return BIT(MST_OFFSETS_CHAINAGE) | BIT(MST_OFFSETS_OFFSET);
    case MST_PAGE_LEGS:
        return BIT(MST_LEGS_DX) | BIT(MST_LEGS_DY) | BIT(MST_LEGS_DZ);
    default:
        return 0;
    }
#undef BIT
}

static bool read_otherwise(mst_page *page, double factor, mst_arena *arena) {
    uint32_t columns = length_columns(page->kind);
    mst_row *rows = mst_arena_array(arena, page->row_count + 1, sizeof *rows);
    if (!rows) return false;
    if (page->row_count) memcpy(rows, page->rows, page->row_count * sizeof *rows);
    for (size_t i = 0; i < page->row_count; i++)
        for (int c = 0; c < MST_COLUMNS_MAX; c++)
            if (columns >> c & 1) rows[i].value[c] *= factor;
    page->rows = rows;
    return true;
}

/* The weighted squares of everything with one page read the other way; infinite where that settles nothing, or only
 * because less of it counts. */
static mst_status squares_with(const mst_site *site, size_t which, double factor, const mst_adjust_options *options,
                               int freedom, double *squares, double *sigma0) {
    mst_arena *arena = mst_arena_new();
    mst_page *pages = arena ? mst_arena_array(arena, site->page_count, sizeof *pages) : NULL;
    mst_site other = *site;
    mst_adjust_options quick = *options;
    mst_adjustment *a = NULL;
    mst_error error;
    *squares = *sigma0 = INFINITY;
    mst_status status = pages ? MST_OK : MST_NO_MEMORY;
    if (!status) {
        memcpy(pages, site->pages, site->page_count * sizeof *pages);
        other.pages = pages;
        quick.expected_only = true; /* no mistakes are looked for */
        status = read_otherwise(&pages[which], factor, arena) ? MST_OK : MST_NO_MEMORY;
    }
    if (!status && mst_adjust(&other, &quick, arena, &a, &error) == MST_OK && a->degrees_of_freedom >= freedom)
        *squares = a->global_test.statistic, *sigma0 = a->sigma0;
    mst_arena_free(arena);
    return status;
}

static size_t readings_of(const mst_site *site) {
    size_t count = 0;
    for (size_t i = 0; i < site->page_count; i++) count += site->pages[i].row_count;
    return count;
}

mst_status mst_page_in_other_unit(const mst_site *site, const mst_adjustment *adjustment,
                                  const mst_adjust_options *options, mst_arena *arena, const char **sentence) {
    static const struct {
        double factor;
        const char *is, *unit;
    } OTHER[] = {{MST_FOOT_M, "feet", "ft"}, {1 / MST_FOOT_M, "metres", "m"}};
    *sentence = NULL;
    if (readings_of(site) > READINGS_MOST || (adjustment && !(adjustment->sigma0 > SCATTER))) return MST_OK;
    int freedom = adjustment ? adjustment->degrees_of_freedom : 1;
    double least = adjustment ? adjustment->global_test.statistic / EXPLAINS : INFINITY;
    for (size_t i = 0; i < site->page_count; i++)
        for (int k = 0; k < 2; k++) {
            const mst_page *page = &site->pages[i];
            double squares, sigma0;
            if (!length_columns(page->kind) || page->row_count < ROWS_LEAST) continue;
            mst_status status = squares_with(site, i, OTHER[k].factor, options, freedom, &squares, &sigma0);
            if (status) return status;
            if (!(squares < least) || (!adjustment && sigma0 > WELL_ENOUGH)) continue;
            least = squares;
            *sentence = mst_arena_printf(arena,
                                         "All of page '%s' fits if its lengths are %s, whatever its header says: undo "
                                         "its import, write (%s) in the header and take it in again.",
                                         page->name, OTHER[k].is, OTHER[k].unit);
            if (!*sentence) return MST_NO_MEMORY;
        }
    return MST_OK;
}
