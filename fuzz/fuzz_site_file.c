/* mst_file_open, mst_file_load and a change on a file that may be damaged anywhere: it is refused, and then left as it
 * was, or it is read and changed without a fault. An input is a list of patches on a whole site file (place in 3 bytes,
 * length, bytes), or with a first byte of 255 the file itself. */
#include "fuzz_helper.h"
#include "merestone/site.h"
#include "site/file.h"
#include <unistd.h>

static char path[64];
static char *whole;
static size_t whole_size;

static char *slurp(size_t *size) {
    FILE *f = fopen(path, "rb");
    if (!f) abort();
    fseek(f, 0, SEEK_END);
    *size = (size_t)ftell(f);
    rewind(f);
    char *data = malloc(*size + 1);
    if (!data || fread(data, 1, *size, f) != *size) abort();
    fclose(f);
    return data;
}

static void add_page(mst_file *file, mst_page_kind kind, const char *name, const char *text, mst_arena *arena) {
    mst_page page = {0};
    MUST(mst_page_read(kind, name, text, strlen(text), NULL, arena, &page, NULL) == MST_OK);
    page.visit = "first";
    page.gear = "tape";
    MUST(mst_file_begin(file, -1, "ann", name, NULL) == MST_OK);
    MUST(mst_file_add_page(file, &page, NULL) == MST_OK && mst_file_commit(file, NULL) == MST_OK);
}

static void make_whole(void) {
    mst_file *file = NULL;
    mst_arena *arena = new_arena();
    const char *folder = access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp"; /* no disk to wait for */
    snprintf(path, sizeof path, "%s/merestone-fuzz-%ld.gpkg", folder, (long)getpid());
    unlink(path);
    MUST(mst_file_create(path, "Garden", "metric", "ann", NULL) == MST_OK &&
         mst_file_open(path, &file, NULL) == MST_OK);
    add_page(file, MST_PAGE_CONTROL, "control.csv", "point,easting (m),northing (m)\nA,0,0\nB,10,0\n", arena);
    add_page(file, MST_PAGE_TAPE, "tape.csv", "from,to,distance (m)\nA,C,5\nB,C,6\n", arena);
    MUST(mst_file_begin(file, -1, "ann", "set", NULL) == MST_OK);
    MUST(mst_file_put_setting(file, "currency", "EUR", NULL) == MST_OK && mst_file_commit(file, NULL) == MST_OK);
    mst_file_close(file);
    mst_arena_free(arena);
    whole = slurp(&whole_size);
}

static size_t damage(bytes *b, char **file) {
    size_t size = whole_size;
    char *data = malloc(whole_size);
    if (!data) abort();
    memcpy(data, whole, size);
    *file = data;
    while (left(b)) {
        size_t at = take(b);
        at = at << 8 | take(b);
        at = (at << 8 | take(b)) % size;
        uint8_t length = take(b);
        if (length == 255) {
            size = at + 1;
            continue;
        } /* cut short */
        for (uint8_t i = 0; i < length && left(b); i++) data[(at + i) % size] = (char)take(b);
    }
    return size;
}

static void write_file(const char *data, size_t size) {
    FILE *f = fopen(path, "wb");
    if (!f || fwrite(data, 1, size, f) != size || fclose(f) != 0) abort();
}

static void change(mst_file *file, mst_error *error) {
    mst_status status = mst_file_begin(file, -1, "ben", "try", error);
    if (!status) status = mst_file_put_setting(file, "load", "6", error);
    if (!status) status = mst_file_commit(file, error);
    must_say_why(status, error);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    if (!whole) make_whole();
    bytes b = {data, data + size};
    char *content = NULL;
    size_t content_size = size;
    if (size && data[0] == 255) {
        content = malloc(size);
        if (!content) abort();
        memcpy(content, data, size);
        memcpy(content, "S", 1); /* the first byte of the format's own mark */
    } else content_size = damage(&b, &content);
    write_file(content, content_size);
    mst_file *file = NULL;
    mst_error error = {0};
    mst_status status = mst_file_open(path, &file, &error);
    must_say_why(status, &error);
    if (status) { /* refused: as it was, to the byte */
        size_t after_size;
        char *after = slurp(&after_size);
        MUST(after_size == content_size && memcmp(after, content, after_size) == 0);
        free(after);
    } else {
        mst_arena *arena = new_arena();
        mst_site *site = NULL;
        mst_change *changes = NULL;
        const char *why = NULL;
        size_t count = 0;
        status = mst_file_load(file, arena, &site, &error);
        must_say_why(status, &error);
        must_say_why(mst_file_history(file, arena, &changes, &count, &error), &error);
        change(file, &error);
        must_say_why(mst_file_undo(file, "ben", arena, &why, &error), &error);
        mst_arena_free(arena);
    }
    mst_file_close(file);
    free(content);
    char journal[80];
    snprintf(journal, sizeof journal, "%s-journal", path);
    unlink(journal);
    return 0;
}
