/* Sources in memory, the filter by class, progress, and the cells that the other steps use. */
#include "ground/cloud.h"
#include <string.h>

bool mst_cloud_has_place(const mst_cloud_point *p) {
    return fabs(p->easting_m) <= MST_PLACE_MOST_M && fabs(p->northing_m) <= MST_PLACE_MOST_M &&
           fabs(p->elevation_m) <= MST_PLACE_MOST_M;
}

/* ---- sources ---- */

static mst_status rewind_list(void *self, mst_error *error) {
    (void)error;
    ((mst_cloud_list *)self)->at = 0;
    return MST_OK;
}

static mst_status read_list(void *self, mst_cloud_point points[], size_t room, size_t *count, mst_error *error) {
    (void)error;
    mst_cloud_list *list = self;
    size_t left = list->count - list->at;
    *count = left < room ? left : room;
    if (*count) memcpy(points, list->points + list->at, *count * sizeof *points);
    list->at += *count;
    return MST_OK;
}

mst_cloud_source mst_cloud_from_list(mst_cloud_list *list) {
    return (mst_cloud_source){list, rewind_list, read_list, list->count};
}

static mst_status rewind_classes(void *self, mst_error *error) {
    mst_cloud_classes *filter = self;
    memset(filter->seen, 0, sizeof filter->seen);
    return filter->from.rewind(filter->from.self, error);
}

/* Reads on until something passes: a count of 0 would be the end. */
static mst_status read_classes(void *self, mst_cloud_point points[], size_t room, size_t *count, mst_error *error) {
    mst_cloud_classes *filter = self;
    size_t kept = 0, came;
    do {
        mst_status status = filter->from.read(filter->from.self, points, room, &came, error);
        if (status) return status;
        for (size_t i = 0; i < came; i++) {
            uint8_t code = points[i].class_code;
            filter->seen[code]++;
            if (filter->wanted[code >> 6] >> (code & 63) & 1) points[kept++] = points[i];
        }
    } while (came && !kept);
    *count = kept;
    return MST_OK;
}

mst_cloud_source mst_cloud_of_classes(mst_cloud_classes *filter) {
    return (mst_cloud_source){filter, rewind_classes, read_classes, filter->from.expected};
}

/* ---- progress ---- */

void mst_stage_tell(mst_stage *stage, uint64_t done) {
    if (done < stage->next) return;
    double share = stage->all ? (double)done / (double)stage->all : 0;
    stage->next = done + (stage->all ? stage->all / 100 + 1 : 1000000);
    if (stage->progress && stage->progress->tell)
        stage->progress->tell(stage->progress->self, stage->from + (stage->to - stage->from) * fmin(share, 1),
                              stage->sentence);
}

/* ---- cells ---- */

mst_cells mst_cells_over(const double least[2], const double greatest[2], double smallest_m, size_t most) {
    double width = greatest[0] - least[0], height = greatest[1] - least[1], count = (double)most;
    double side = fmax(fmax(sqrt(width * height / count), fmax(width, height) / count), smallest_m);
    if (!(side > 0)) side = 1;
    return (mst_cells){{least[0], least[1]}, 1 / side, (uint32_t)(width / side) + 1, (uint32_t)(height / side) + 1};
}

static uint32_t spread(uint32_t x) {
    x = (x | x << 8) & 0x00FF00FF;
    x = (x | x << 4) & 0x0F0F0F0F;
    x = (x | x << 2) & 0x33333333;
    return (x | x << 1) & 0x55555555;
}

uint32_t mst_morton(uint32_t column, uint32_t row) { return spread(column) | spread(row) << 1; }
