/* mst_csv_start and mst_csv_next: cells written again by mst_text_csv are read as the same cells. */
#include "fuzz_helper.h"
#include "site/csv.h"

static void written_reads_the_same(const mst_csv *csv, mst_arena *arena) {
    mst_text text = {0};
    for (size_t i = 0; i < csv->count; i++) {
        if (i) mst_text_string(&text, ",");
        mst_text_csv(&text, csv->cells[i]);
    }
    MUST(!text.failed);
    mst_csv again;
    bool more;
    MUST(mst_csv_start(&again, "again.csv", text.data, text.length, NULL, NULL) == MST_OK);
    MUST(mst_csv_next(&again, arena, &more, NULL) == MST_OK && more);
    MUST(again.count == csv->count);
    for (size_t i = 0; i < csv->count; i++) MUST(strcmp(csv->cells[i], again.cells[i]) == 0);
    mst_text_free(&text);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    mst_arena *arena = new_arena();
    mst_csv csv;
    mst_error error = {0};
    bool more = true;
    mst_status status = mst_csv_start(&csv, "fuzz.csv", (const char *)data, size, NULL, &error);
    must_say_why(status, &error);
    int line = 0;
    while (!status && more) {
        status = mst_csv_next(&csv, arena, &more, &error);
        must_say_why(status, &error);
        if (status || !more) break;
        MUST(csv.count >= 1 && csv.count <= MST_CSV_CELLS_MAX);
        MUST(csv.record_line > line && csv.line > csv.record_line);
        line = csv.record_line;
        written_reads_the_same(&csv, arena);
    }
    mst_arena_free(arena);
    return 0;
}
