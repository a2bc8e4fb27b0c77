/* A site in memory out of field pages as text: pages in one text, each behind a line "== kind". */
#ifndef FUZZ_SITE_HELPER_H
#define FUZZ_SITE_HELPER_H
#include "fuzz_helper.h"
#include "merestone/site.h"

enum { PAGES_MAX = 12, FEATURES_MAX = 200 };

static inline void add_to_site(mst_site *site, mst_page_kind kind, const char *text, size_t length) {
    mst_page page = {0};
    char *name = mst_arena_printf(site->arena, "%s-%zu.csv", mst_page_kind_name(kind), site->page_count);
    MUST(name);
    if (mst_page_read(kind, name, text, length, NULL, site->arena, &page, NULL) != MST_OK) return;
    if (kind == MST_PAGE_FEATURES) {
        mst_feature *features = NULL;
        size_t count = 0;
        if (site->feature_count || mst_features_from_page(&page, site->arena, &features, &count, NULL) != MST_OK)
            return;
        site->features = features;
        site->feature_count = count;
        return;
    }
    page.visit = name;
    page.gear = mst_gear_default(kind);
    page.site_frame = site->page_count % 2;
    for (size_t i = 0; i < page.row_count; i++) page.rows[i].id = (int64_t)(site->page_count * 1000 + i + 1);
    site->pages[site->page_count++] = page;
}

static inline void take_site(bytes *b, mst_arena *arena, mst_site *site) {
    *site = (mst_site){.arena = arena, .revision = 1};
    site->pages = mst_arena_array(arena, PAGES_MAX, sizeof *site->pages);
    MUST(site->pages);
    const char *at = (const char *)b->at, *end = (const char *)b->end;
    while (at < end && site->page_count < PAGES_MAX) {
        const char *line = memchr(at, '\n', (size_t)(end - at));
        const char *text = line ? line + 1 : end, *next = text;
        while (next < end && !(next[0] == '=' && (next == text || next[-1] == '\n'))) next++;
        char word[16] = "";
        size_t length = (size_t)((line ? line : end) - at);
        mst_page_kind kind;
        if (length > 3 && length - 3 < sizeof word && memcmp(at, "== ", 3) == 0) {
            memcpy(word, at + 3, length - 3);
            if (mst_page_kind_named(word, &kind)) add_to_site(site, kind, text, (size_t)(next - text));
        }
        at = next > at ? next : end;
    }
    b->at = b->end;
}
#endif
