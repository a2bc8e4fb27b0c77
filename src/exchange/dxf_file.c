/* The file around the entities: header, tables, blocks and objects in the order and with the handles that strict
 * readers expect. Group codes: DXF reference of AC1015, from memory; proven with ezdxf, GDAL and
 * tests/exchange/dxf_lint.py. */
#include "exchange/dxf.h"
#include "exchange/write.h"
#include <math.h>

enum {
    VPORT = 0x8,
    LTYPE = 0x5,
    LAYER = 0x2,
    STYLE = 0x3,
    VIEW = 0x6,
    UCS = 0x7,
    APPID = 0x9,
    DIMSTYLE = 0xA,
    BLOCK_RECORD = 0x1,
    MODEL = 0x1F,
    PAPER = 0x1B,
    ROOT = 0xC,
    GROUPS = 0xD,
    LAYOUTS = 0x1A,
    MODEL_LAYOUT = 0x22,
    PAPER_LAYOUT = 0x1E,
    PLOT_STYLES = 0xE,
    PLOT_NORMAL = 0xF
};
static const double ENDLESS = 1e20; /* the format's own mark of empty extents */

static void s(mst_text *t, int code, const char *value) { mst_text_printf(t, "%3d\r\n%s\r\n", code, value); }
static void i(mst_text *t, int code, int value) { mst_text_printf(t, "%3d\r\n%d\r\n", code, value); }
static void h(mst_text *t, int code, unsigned value) { mst_text_printf(t, "%3d\r\n%X\r\n", code, value); }
static void d(mst_text *t, int code, double value) {
    mst_text_printf(t, "%3d\r\n", code);
    mst_text_number(t, value);
    mst_text_string(t, "\r\n");
}
static void xy(mst_text *t, int code, double x, double y) {
    d(t, code, x);
    d(t, code + 10, y);
}
static void xyz(mst_text *t, int code, double x, double y, double z) {
    xy(t, code, x, y);
    d(t, code + 20, z);
}
static void section(mst_text *t, const char *name) {
    s(t, 0, "SECTION");
    s(t, 2, name);
}

/* ---- header ---- */

static void header(const mst_dxf *x, mst_text *t) {
    section(t, "HEADER");
    s(t, 9, "$ACADVER"), s(t, 1, "AC1015");
    s(t, 9, "$DWGCODEPAGE"), s(t, 3, "ANSI_1252");
    s(t, 9, "$HANDSEED"), h(t, 5, x->handle);
    s(t, 9, "$INSUNITS"), i(t, 70, x->units);
    s(t, 9, "$MEASUREMENT"), i(t, 70, x->units == 6);
    s(t, 9, "$LUNITS"), i(t, 70, 2);
    s(t, 9, "$LUPREC"), i(t, 70, 3);
    s(t, 9, "$PDMODE"), i(t, 70, 2);
    s(t, 9, "$PDSIZE"), d(t, 40, x->text_height);
    s(t, 9, "$EXTMIN"), xyz(t, 10, x->low[0], x->low[1], x->low[2]);
    s(t, 9, "$EXTMAX"), xyz(t, 10, x->high[0], x->high[1], x->high[2]);
    s(t, 0, "ENDSEC");
    section(t, "CLASSES");
    s(t, 0, "ENDSEC");
}

/* ---- tables ---- */

static void table(mst_text *t, const char *name, unsigned handle, int count) {
    s(t, 0, "TABLE"), s(t, 2, name), h(t, 5, handle), h(t, 330, 0);
    s(t, 100, "AcDbSymbolTable"), i(t, 70, count);
}
static void end_table(mst_text *t) { s(t, 0, "ENDTAB"); }
static void record(mst_text *t, const char *type, unsigned handle, unsigned owner, const char *subclass,
                   const char *name) {
    s(t, 0, type), h(t, 5, handle), h(t, 330, owner);
    s(t, 100, "AcDbSymbolTableRecord"), s(t, 100, subclass), s(t, 2, name);
}

/* The view opens on the whole drawing. */
static void viewport(const mst_dxf *x, mst_text *t) {
    double width = x->high[0] - x->low[0], height = x->high[1] - x->low[1];
    table(t, "VPORT", VPORT, 1);
    record(t, "VPORT", 0x29, VPORT, "AcDbViewportTableRecord", "*Active");
    i(t, 70, 0), xy(t, 10, 0, 0), xy(t, 11, 1, 1);
    xy(t, 12, (x->low[0] + x->high[0]) / 2, (x->low[1] + x->high[1]) / 2);
    xy(t, 13, 0, 0), xy(t, 14, 10, 10), xy(t, 15, 10, 10);
    xyz(t, 16, 0, 0, 1), xyz(t, 17, 0, 0, 0);
    d(t, 40, 1.1 * fmax(fmax(height, width / 1.5), 1)), d(t, 41, 1.5), d(t, 42, 50), d(t, 43, 0), d(t, 44, 0),
        d(t, 50, 0), d(t, 51, 0);
    i(t, 71, 0), i(t, 72, 100), i(t, 73, 1), i(t, 74, 3), i(t, 75, 0), i(t, 76, 0), i(t, 77, 0), i(t, 78, 0);
    end_table(t);
}

static void line_type(mst_text *t, unsigned handle, const char *name, const char *words) {
    record(t, "LTYPE", handle, LTYPE, "AcDbLinetypeTableRecord", name);
    i(t, 70, 0), s(t, 3, words), i(t, 72, 65), i(t, 73, 0), d(t, 40, 0);
}

static void layers(mst_dxf *x, mst_text *t) {
    table(t, "LAYER", LAYER, (int)x->layer_count);
    for (size_t k = 0; k < x->layer_count; k++) {
        record(t, "LAYER", x->handle++, LAYER, "AcDbLayerTableRecord", x->layers[k].name);
        i(t, 70, 0), i(t, 62, x->layers[k].colour), s(t, 6, "Continuous"), i(t, 370, x->layers[k].weight),
            h(t, 390, PLOT_NORMAL);
    }
    end_table(t);
}

static void style_tables(mst_text *t) {
    table(t, "STYLE", STYLE, 1);
    record(t, "STYLE", 0x11, STYLE, "AcDbTextStyleTableRecord", "Standard");
    i(t, 70, 0), d(t, 40, 0), d(t, 41, 1), d(t, 50, 0), i(t, 71, 0), d(t, 42, 2.5), s(t, 3, "txt"), s(t, 4, "");
    end_table(t);
    table(t, "VIEW", VIEW, 0), end_table(t);
    table(t, "UCS", UCS, 0), end_table(t);
    table(t, "APPID", APPID, 1);
    record(t, "APPID", 0x12, APPID, "AcDbRegAppTableRecord", "ACAD");
    i(t, 70, 0), end_table(t);
    table(t, "DIMSTYLE", DIMSTYLE, 1);
    s(t, 100, "AcDbDimStyleTable"), h(t, 71, 0);
    s(t, 0, "DIMSTYLE"), h(t, 105, 0x27), h(t, 330, DIMSTYLE), s(t, 100, "AcDbSymbolTableRecord"),
        s(t, 100, "AcDbDimStyleTableRecord");
    s(t, 2, "Standard"), i(t, 70, 0), h(t, 340, 0x11), end_table(t);
}

static void block_records(mst_text *t) {
    table(t, "BLOCK_RECORD", BLOCK_RECORD, 2);
    record(t, "BLOCK_RECORD", MODEL, BLOCK_RECORD, "AcDbBlockTableRecord", "*Model_Space"), h(t, 340, MODEL_LAYOUT);
    record(t, "BLOCK_RECORD", PAPER, BLOCK_RECORD, "AcDbBlockTableRecord", "*Paper_Space"), h(t, 340, PAPER_LAYOUT);
    end_table(t);
}

static void tables(mst_dxf *x, mst_text *t) {
    section(t, "TABLES");
    viewport(x, t);
    table(t, "LTYPE", LTYPE, 3);
    line_type(t, 0x14, "ByBlock", ""), line_type(t, 0x15, "ByLayer", ""),
        line_type(t, 0x16, "Continuous", "Solid line");
    end_table(t);
    layers(x, t);
    style_tables(t);
    block_records(t);
    s(t, 0, "ENDSEC");
}

/* ---- blocks and objects ---- */

static void block(mst_text *t, const char *name, unsigned owner, unsigned begin, unsigned end, bool paper) {
    s(t, 0, "BLOCK"), h(t, 5, begin), h(t, 330, owner), s(t, 100, "AcDbEntity");
    if (paper) i(t, 67, 1);
    s(t, 8, "0"), s(t, 100, "AcDbBlockBegin"), s(t, 2, name), i(t, 70, 0), xyz(t, 10, 0, 0, 0), s(t, 3, name),
        s(t, 1, "");
    s(t, 0, "ENDBLK"), h(t, 5, end), h(t, 330, owner), s(t, 100, "AcDbEntity");
    if (paper) i(t, 67, 1);
    s(t, 8, "0"), s(t, 100, "AcDbBlockEnd");
}

static void plot_settings(mst_text *t, bool model) {
    s(t, 100, "AcDbPlotSettings"), s(t, 1, ""), s(t, 2, "none_device"), s(t, 4, ""), s(t, 6, "");
    for (int code = 40; code <= 49; code++) d(t, code, 0);
    d(t, 140, 0), d(t, 141, 0), d(t, 142, 1), d(t, 143, 1);
    i(t, 70, model ? 1712 : 688), i(t, 72, 0), i(t, 73, 0), i(t, 74, 5), s(t, 7, ""), i(t, 75, 16);
    d(t, 147, 1), d(t, 148, 0), d(t, 149, 0);
}

static void layout(mst_text *t, const char *name, unsigned handle, unsigned space, int order, bool model) {
    s(t, 0, "LAYOUT"), h(t, 5, handle), h(t, 330, LAYOUTS);
    plot_settings(t, model);
    s(t, 100, "AcDbLayout"), s(t, 1, name), i(t, 70, 1), i(t, 71, order);
    xy(t, 10, 0, 0), xy(t, 11, 420, 297), xyz(t, 12, 0, 0, 0);
    xyz(t, 14, ENDLESS, ENDLESS, ENDLESS), xyz(t, 15, -ENDLESS, -ENDLESS, -ENDLESS);
    d(t, 146, 0), xyz(t, 13, 0, 0, 0), xyz(t, 16, 1, 0, 0), xyz(t, 17, 0, 1, 0);
    i(t, 76, 0), h(t, 330, space);
}

static void dictionary(mst_text *t, unsigned handle, unsigned owner) {
    s(t, 0, "DICTIONARY"), h(t, 5, handle), h(t, 330, owner), s(t, 100, "AcDbDictionary"), i(t, 281, 1);
}

static void objects(mst_text *t) {
    section(t, "OBJECTS");
    dictionary(t, ROOT, 0);
    s(t, 3, "ACAD_GROUP"), h(t, 350, GROUPS), s(t, 3, "ACAD_LAYOUT"), h(t, 350, LAYOUTS), s(t, 3, "ACAD_PLOTSTYLENAME"),
        h(t, 350, PLOT_STYLES);
    dictionary(t, GROUPS, ROOT);
    dictionary(t, LAYOUTS, ROOT);
    s(t, 3, "Model"), h(t, 350, MODEL_LAYOUT), s(t, 3, "Layout1"), h(t, 350, PAPER_LAYOUT);
    s(t, 0, "ACDBDICTIONARYWDFLT"), h(t, 5, PLOT_STYLES), h(t, 330, ROOT), s(t, 100, "AcDbDictionary"), i(t, 281, 1),
        s(t, 3, "Normal");
    h(t, 350, PLOT_NORMAL), s(t, 100, "AcDbDictionaryWithDefault"), h(t, 340, PLOT_NORMAL);
    s(t, 0, "ACDBPLACEHOLDER"), h(t, 5, PLOT_NORMAL), h(t, 330, PLOT_STYLES);
    layout(t, "Model", MODEL_LAYOUT, MODEL, 0, true);
    layout(t, "Layout1", PAPER_LAYOUT, PAPER, 1, false);
    s(t, 0, "ENDSEC");
}

void mst_dxf_finish(mst_dxf *x, mst_text *out) {
    if (!x->any)
        for (int k = 0; k < 3; k++) x->low[k] = x->high[k] = 0;
    mst_text rest = {0}; /* layers take the last handles, so the header comes after them */
    tables(x, &rest);
    header(x, out);
    mst_text_add(out, rest.data ? rest.data : "", rest.length);
    out->failed |= rest.failed || x->failed || x->entities.failed;
    mst_text_free(&rest);
    section(out, "BLOCKS");
    block(out, "*Model_Space", MODEL, 0x20, 0x21, false);
    block(out, "*Paper_Space", PAPER, 0x1C, 0x1D, true);
    s(out, 0, "ENDSEC");
    section(out, "ENTITIES");
    mst_text_add(out, x->entities.data ? x->entities.data : "", x->entities.length);
    s(out, 0, "ENDSEC");
    objects(out);
    s(out, 0, "EOF");
    mst_text_free(&x->entities);
}
