/** @file src/exchange/dxf.h  A DXF of AC1015 (R2000), ASCII: the entities, and the file around them. */
#ifndef EXCHANGE_DXF_H
#define EXCHANGE_DXF_H
#include "merestone/base.h"
#include "merestone/geometry.h"

typedef struct mst_dxf_layer {
    const char *name;
    int colour, weight; /**< hundredths of a millimetre, -3 = default */
} mst_dxf_layer;
/** A drawing that grows; entities are written first, the file around them at the end, when layers, handles and extents
 * are known. */
typedef struct mst_dxf {
    mst_arena *arena;
    mst_text entities;
    unsigned handle;    /**< the next one */
    double per_metre;   /**< drawing units in a metre */
    int units;          /**< $INSUNITS: 6 metre, 2 foot */
    double text_height; /**< drawing units */
    mst_dxf_layer *layers;
    size_t layer_count, layer_capacity;
    mst_index layer_index;
    double low[3], high[3]; /**< extents, drawing units */
    bool any, failed;
} mst_dxf;

void mst_dxf_start(mst_dxf *dxf, mst_arena *arena, bool feet);
/** Declares a layer, once. @return its name in @p dxf's arena, "0" when memory is short */
const char *mst_dxf_layer_of(mst_dxf *dxf, const char *name, int colour, int weight);
/** A layer's word made of a feature code: A-Z, 0-9 and _ only. */
const char *mst_dxf_word(mst_dxf *dxf, const char *code);

void mst_dxf_point(mst_dxf *dxf, const char *layer, mst_point3 at); /**< a level of NaN lies at 0 */
void mst_dxf_text(mst_dxf *dxf, const char *layer, mst_point3 at, const char *utf8);
/** Plan lines with true arcs, at one level (NaN: 0). */
void mst_dxf_polyline(mst_dxf *dxf, const char *layer, const mst_path *path, double level_m);
/** Straight lines in space. */
void mst_dxf_polyline_3d(mst_dxf *dxf, const char *layer, const mst_path *path);
void mst_dxf_face(mst_dxf *dxf, const char *layer, const mst_point3 corners[3]);
/** Writes the whole file into @p out. */
void mst_dxf_finish(mst_dxf *dxf, mst_text *out);
/** Adds UTF-8 as code page 1252; other characters as \U+XXXX. */
void mst_dxf_cp1252(mst_text *out, const char *utf8);
#endif
