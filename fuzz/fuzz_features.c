/* mst_features_from_page: paths of straight edges, arcs, circles and curves out of rows. */
#include "fuzz_helper.h"
#include "merestone/site.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static const char HEADER[] = "feature,kind,code,point,edge,role";
    mst_arena *arena = new_arena();
    mst_page page = {0};
    mst_error error = {0};
    mst_feature *features = NULL;
    size_t count = 0, rows = 0;
    if (mst_page_read(MST_PAGE_FEATURES, "features.csv", (const char *)data, size, HEADER, arena, &page, &error) ==
        MST_OK) {
        mst_status status = mst_features_from_page(&page, arena, &features, &count, &error);
        must_say_why(status, &error);
        for (size_t i = 0; !status && i < count; i++) {
            const mst_feature *f = &features[i];
            MUST(f->vertex_count > 0 && *f->name);
            for (size_t k = 0; k < i; k++) MUST(strcmp(f->name, features[k].name) != 0);
            for (size_t k = 0; k < f->vertex_count; k++) MUST(*f->vertices[k].point && f->vertices[k].line > 0);
            rows += f->vertex_count;
        }
        /* an area may name its first point again at its end */
        if (!status) MUST(count > 0 && rows <= page.row_count);
    }
    mst_arena_free(arena);
    return 0;
}
