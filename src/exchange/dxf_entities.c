/* DXF entities: group code on one line, value on the next, each entity with handle, owner and subclass marks. */
#include "exchange/dxf.h"
#include "exchange/write.h"
#include <ctype.h>
#include <math.h>
#include <string.h>

enum { FIRST_HANDLE = 0x100, MODEL_SPACE = 0x1F }; /* lower handles belong to the file's own objects */

void mst_dxf_start(mst_dxf *dxf, mst_arena *arena, bool feet) {
    *dxf = (mst_dxf){.arena = arena,
                     .handle = FIRST_HANDLE,
                     .per_metre = feet ? 1 / MST_FOOT_M : 1,
                     .units = feet ? 2 : 6,
                     .low = {INFINITY, INFINITY, INFINITY},
                     .high = {-INFINITY, -INFINITY, -INFINITY}};
    dxf->text_height = 0.1 * dxf->per_metre;
    mst_dxf_layer_of(dxf, "0", 7, -3);
}

const char *mst_dxf_layer_of(mst_dxf *dxf, const char *name, int colour, int weight) {
    uint32_t at = mst_index_get(&dxf->layer_index, name);
    if (at != UINT32_MAX) return dxf->layers[at].name;
    const char *own = mst_arena_string(dxf->arena, name);
    mst_dxf_layer *layer = own ? MST_PUSH(dxf->arena, dxf->layers, dxf->layer_count, dxf->layer_capacity) : NULL;
    if (!layer || !mst_index_put(&dxf->layer_index, dxf->arena, own, (uint32_t)(dxf->layer_count - 1))) {
        dxf->failed = true;
        return "0";
    }
    *layer = (mst_dxf_layer){own, colour, weight};
    return own;
}

/* The letter under the mark of U+00C0 to U+00FF (Latin-1 supplement), by its second byte in UTF-8. */
static char base_letter(unsigned char second) {
    static const char LETTERS[] = "AAAAAAACEEEEIIIIDNOOOOO_OUUUUYTS";
    return second == 0xBF ? 'Y' : LETTERS[(second & 0x3F) % 32];
}

const char *mst_dxf_word(mst_dxf *dxf, const char *code) {
    enum { LONGEST = 60 };
    size_t length = strnlen(code, LONGEST);
    char *word = mst_arena_text(dxf->arena, code, length);
    if (!word) {
        dxf->failed = true;
        return "NONE";
    }
    char *to = word;
    for (const char *c = word; *c;) {
        size_t bytes = mst_utf8_length(c, strlen(c));
        *to++ = bytes == 2 && (unsigned char)*c == 0xC3    ? base_letter((unsigned char)c[1])
                : bytes == 1 && isalnum((unsigned char)*c) ? (char)toupper((unsigned char)*c)
                                                           : '_';
        c += bytes ? bytes : 1;
    }
    *to = '\0';
    return length ? word : "NONE";
}

/* ---- groups ---- */

static void group(mst_dxf *d, int code, const char *value) {
    mst_text_printf(&d->entities, "%3d\r\n%s\r\n", code, value);
}
static void whole(mst_dxf *d, int code, int value) { mst_text_printf(&d->entities, "%3d\r\n%d\r\n", code, value); }
static void real(mst_dxf *d, int code, double value) {
    mst_text_printf(&d->entities, "%3d\r\n", code);
    mst_text_number(&d->entities, value);
    mst_text_string(&d->entities, "\r\n");
}

static double or_zero(double level) { return isnan(level) ? 0 : level; }

static void place(mst_dxf *d, int code, mst_point3 at, bool with_level) {
    const double xyz[3] = {at.easting_m * d->per_metre, at.northing_m * d->per_metre,
                           or_zero(at.elevation_m) * d->per_metre};
    for (int k = 0; k < 3; k++) {
        d->low[k] = fmin(d->low[k], xyz[k]);
        d->high[k] = fmax(d->high[k], xyz[k]);
    }
    d->any = true;
    for (int k = 0; k < (with_level ? 3 : 2); k++) real(d, code + 10 * k, xyz[k]);
}

static unsigned entity(mst_dxf *d, const char *type, unsigned owner, const char *layer, const char *subclass) {
    unsigned handle = d->handle++;
    group(d, 0, type);
    mst_text_printf(&d->entities, "  5\r\n%X\r\n330\r\n%X\r\n", handle, owner);
    group(d, 100, "AcDbEntity");
    group(d, 8, layer);
    if (subclass) group(d, 100, subclass);
    return handle;
}

/* ---- text in code page 1252 ---- */

/* Unicode of the bytes 0x80 to 0x9F; 0 where the code page has none. */
static const uint16_t CP1252_HIGH[32] = {0x20AC, 0,      0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021,
                                         0x02C6, 0x2030, 0x0160, 0x2039, 0x0152, 0,      0x017D, 0,
                                         0,      0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2013, 0x2014,
                                         0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0,      0x017E, 0x0178};

static uint32_t next_rune(const unsigned char **c) {
    uint32_t lead = *(*c)++;
    int more = lead >= 0xF0 ? 3 : lead >= 0xE0 ? 2 : lead >= 0xC0 ? 1 : 0;
    uint32_t rune = more ? lead & (0x3Fu >> more) : lead;
    for (; more && (**c & 0xC0) == 0x80; more--) rune = rune << 6 | (*(*c)++ & 0x3Fu);
    return rune;
}

static void add_rune(mst_text *out, uint32_t rune) {
    char byte = (char)rune;
    if (rune < 0x20 || rune == 0x7F) byte = ' ';
    else if (rune >= 0x80 && rune < 0xA0) byte = '?';
    else if (rune > 0xFF) {
        int at = 0;
        while (at < 32 && CP1252_HIGH[at] != rune) at++;
        if (at == 32) {
            if (rune > 0xFFFF) mst_text_string(out, "?"); /* \U+ carries four digits */
            else mst_text_printf(out, "\\U+%04X", (unsigned)rune);
            return;
        }
        byte = (char)(0x80 + at);
    }
    mst_text_add(out, &byte, 1);
}

/* A caret or two percent signs begin a control code in DXF text; written so, they are themselves. */
void mst_dxf_cp1252(mst_text *out, const char *utf8) {
    for (const unsigned char *c = (const unsigned char *)utf8; *c;) {
        if (*c == '^') mst_text_string(out, "^ "), c++;
        else if (c[0] == '%' && c[1] == '%') mst_text_string(out, "%%%%%%"), c += 2;
        else add_rune(out, next_rune(&c));
    }
}

/* ---- entities ---- */

void mst_dxf_point(mst_dxf *d, const char *layer, mst_point3 at) {
    entity(d, "POINT", MODEL_SPACE, layer, "AcDbPoint");
    place(d, 10, at, true);
}

void mst_dxf_text(mst_dxf *d, const char *layer, mst_point3 at, const char *utf8) {
    if (!*utf8) return;
    entity(d, "TEXT", MODEL_SPACE, layer, "AcDbText");
    place(d, 10, at, true);
    real(d, 40, d->text_height);
    mst_text_string(&d->entities, "  1\r\n");
    mst_dxf_cp1252(&d->entities, utf8);
    mst_text_string(&d->entities, "\r\n");
    group(d, 7, "Standard");
    group(d, 100, "AcDbText");
}

void mst_dxf_polyline(mst_dxf *d, const char *layer, const mst_path *path, double level_m) {
    entity(d, "LWPOLYLINE", MODEL_SPACE, layer, "AcDbPolyline");
    whole(d, 90, (int)path->count);
    whole(d, 70, path->closed);
    real(d, 38, or_zero(level_m) * d->per_metre);
    for (size_t i = 0; i < path->count; i++) {
        const mst_path_vertex *v = &path->vertices[i];
        place(d, 10, (mst_point3){v->easting_m, v->northing_m, level_m}, false);
        bool leads_on = path->closed || i + 1 < path->count;
        if (v->bulge != 0 && leads_on) real(d, 42, v->bulge);
    }
}

void mst_dxf_polyline_3d(mst_dxf *d, const char *layer, const mst_path *path) {
    unsigned owner = entity(d, "POLYLINE", MODEL_SPACE, layer, "AcDb3dPolyline");
    whole(d, 66, 1);
    real(d, 10, 0);
    real(d, 20, 0);
    real(d, 30, 0);
    whole(d, 70, 8 | path->closed);
    for (size_t i = 0; i < path->count; i++) {
        const mst_path_vertex *v = &path->vertices[i];
        entity(d, "VERTEX", owner, layer, "AcDbVertex");
        group(d, 100, "AcDb3dPolylineVertex");
        place(d, 10, (mst_point3){v->easting_m, v->northing_m, v->elevation_m}, true);
        whole(d, 70, 32);
    }
    entity(d, "SEQEND", owner, layer, NULL);
}

void mst_dxf_face(mst_dxf *d, const char *layer, const mst_point3 corners[3]) {
    entity(d, "3DFACE", MODEL_SPACE, layer, "AcDbFace");
    for (int k = 0; k < 4; k++) place(d, 10 + k, corners[k < 3 ? k : 2], true);
}
