/* mst_page_read and mst_page_reread, every kind of page, with and without a header of its own. */
#include "fuzz_helper.h"
#include "merestone/site.h"

static void rows_hold(const mst_page *page) {
    MUST(page->row_count > 0 && page->rows && page->header);
    MUST(is_utf8(page->notes));
    int line = 0;
    for (size_t i = 0; i < page->row_count; i++) {
        const mst_row *row = &page->rows[i];
        MUST(row->line > line);
        line = row->line;
        for (int c = 0; c < MST_COLUMNS_MAX; c++) {
            MUST(row->text[c] && is_utf8(row->text[c]));
            MUST(!isinf(row->value[c]));
            if (!*row->text[c]) MUST(isnan(row->value[c]));
            if (mst_page_column_is_number(page->kind, c) && *row->text[c]) MUST(!isnan(row->value[c]));
        }
    }
}

/* What the site file keeps is the records as they came: they must mean the same when they are read again. */
static void rereads_the_same(const mst_page *page, mst_arena *arena) {
    mst_page again = *page;
    mst_error error = {0};
    again.rows = mst_arena_array(arena, page->row_count, sizeof *again.rows);
    MUST(again.rows);
    for (size_t i = 0; i < page->row_count; i++)
        again.rows[i] = (mst_row){.line = page->rows[i].line, .raw = page->rows[i].raw};
    mst_status status = mst_page_reread(&again, arena, &error);
    if (status) fprintf(stderr, "%d:%d: %s\n", error.row, error.column, error.sentence);
    MUST(status == MST_OK);
    for (size_t i = 0; i < page->row_count; i++)
        for (int c = 0; c < MST_COLUMNS_MAX; c++) {
            MUST(strcmp(page->rows[i].text[c], again.rows[i].text[c]) == 0);
            MUST(same(page->rows[i].value[c], again.rows[i].value[c]));
        }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    mst_page_kind kind = take(&b) % MST_PAGE_KINDS;
    bool own_header = take(&b) % 2;
    char *text = take_text(&b), *records = text;
    size_t length = size > 2 ? size - 2 : 0;
    const char *header = NULL;
    if (own_header) { /* the first line is what --columns says */
        records = memchr(text, '\n', length);
        if (!records) records = text + length;
        else *records++ = '\0';
        header = text;
    }
    mst_arena *arena = new_arena();
    mst_page page = {0};
    mst_error error = {0};
    mst_status status =
        mst_page_read(kind, "fuzz.csv", records, length - (size_t)(records - text), header, arena, &page, &error);
    must_say_why(status, &error);
    if (status == MST_OK) {
        rows_hold(&page);
        rereads_the_same(&page, arena);
    }
    mst_arena_free(arena);
    free(text);
    return 0;
}
