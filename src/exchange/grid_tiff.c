/* A GeoTIFF of levels, by libtiff; the keys after OGC GeoTIFF Standard 19-008r4. One band, in rows or in tiles; a level
 * stands at the middle of its cell, or at its corner where the file counts points. */
#include "exchange/cloud_file.h"
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <tiffio.h>
#include <unistd.h>

enum {
    PIXEL_SCALE = 33550,
    TIE_POINT = 33922,
    TRANSFORMATION = 34264,
    KEYS = 34735,
    DOUBLES = 34736,
    ASCII = 34737,
    NOTHING = 42113
};
enum { RASTER_TYPE = 1025, PIXEL_IS_POINT = 2 };
enum { SIDE_MOST = 1000000, STRIP_MOST = 256 * 1024 * 1024 };

typedef struct tiff {
    TIFF *file;
    uint32_t columns, rows, column, row;
    uint32_t strip_rows, tile_width; /* rows read at a time; width of a tile, 0 in strips */
    uint16_t bits, format;
    unsigned char *strip; /* strip_rows x line bytes, one tile behind it */
    size_t line, bytes;   /* of a row in `strip`, of a sample */
    double west, north, step_e, step_n, nothing;
    bool has_nothing, strip_full;
    char why[160];
} tiff;

/* libtiff's own words, kept for the refusal. */
static int keep_reason(TIFF *file, void *self, const char *module, const char *format, va_list arguments) {
    (void)file, (void)module;
    tiff *t = self;
    if (!t->why[0]) vsnprintf(t->why, sizeof t->why, format, arguments);
    mst_text_tidy(t->why);
    return 1;
}
static int keep_quiet(TIFF *file, void *self, const char *module, const char *format, va_list arguments) {
    (void)file, (void)self, (void)module, (void)format, (void)arguments;
    return 1;
}

static mst_status damaged(const mst_cloud_file *file, const tiff *t, mst_error *error) {
    return MST_CLOUD_REFUSE(file, error, "The GeoTIFF is damaged or of a kind that is not read%s%s.",
                            t->why[0] ? ": " : "", t->why);
}

static TIFF *open_tiff(const mst_cloud_file *file, tiff *t) {
    TIFFOpenOptions *options = TIFFOpenOptionsAlloc();
    if (!options) return NULL;
    TIFFOpenOptionsSetMaxSingleMemAlloc(options, STRIP_MOST);
    TIFFOpenOptionsSetErrorHandlerExtR(options, keep_reason, t);
    TIFFOpenOptionsSetWarningHandlerExtR(options, keep_quiet, t);
    int fd = dup(file->fd); /* libtiff closes its own */
    TIFF *opened = fd >= 0 && lseek(fd, 0, SEEK_SET) == 0 ? TIFFFdOpenExt(fd, file->name, "rm", options) : NULL;
    TIFFOpenOptionsFree(options);
    if (!opened && fd >= 0) close(fd);
    return opened;
}

/* ---- where it lies ---- */

static const void *tag(TIFF *file, uint32_t id, uint32_t least, uint32_t *count) {
    void *values = NULL;
    *count = 0;
    if (!TIFFGetField(file, id, count, &values) || !values || *count < least) *count = 0;
    return *count ? values : NULL;
}

static bool counts_points(const uint16_t *keys, uint32_t count) {
    for (uint32_t i = 4; i + 3 < count; i += 4)
        if (keys[i] == RASTER_TYPE && keys[i + 1] == 0) return keys[i + 3] == PIXEL_IS_POINT;
    return false;
}

static mst_status take_place(const mst_cloud_file *file, tiff *t, mst_error *error) {
    uint32_t scales, ties, terms, keys;
    const double *scale = tag(t->file, PIXEL_SCALE, 2, &scales), *tie = tag(t->file, TIE_POINT, 6, &ties),
                 *m = tag(t->file, TRANSFORMATION, 16, &terms);
    const uint16_t *key = tag(t->file, KEYS, 4, &keys);
    if (scale && tie && ties == 6) {
        t->step_e = scale[0], t->step_n = -scale[1];
        t->west = tie[3] - tie[0] * t->step_e;
        t->north = tie[4] - tie[1] * t->step_n;
    } else if (m) {
        if (m[1] != 0 || m[4] != 0)
            return MST_CLOUD_REFUSE(file, error,
                                    "The GeoTIFF is turned against north; save it with its rows running west to east.");
        t->step_e = m[0], t->step_n = m[5], t->west = m[3], t->north = m[7];
    } else
        return MST_CLOUD_REFUSE(file, error,
                                "The TIFF does not say where it lies; save it as a GeoTIFF with its place.");
    if (!isfinite(t->west) || !isfinite(t->north) || !isfinite(t->step_e) || !isfinite(t->step_n) || t->step_e == 0 ||
        t->step_n == 0)
        return MST_CLOUD_REFUSE(file, error, "The GeoTIFF's place or cell is not a number over zero; it is damaged.");
    if (!counts_points(key, keys)) t->west += t->step_e / 2, t->north += t->step_n / 2;
    return MST_OK;
}

static void take_units(mst_cloud_file *file, tiff *t) {
    uint32_t keys, doubles, ascii;
    const uint16_t *key = tag(t->file, KEYS, 4, &keys);
    const double *number = tag(t->file, DOUBLES, 1, &doubles);
    const char *text = tag(t->file, ASCII, 1, &ascii);
    mst_geo_record record = {key, keys, number, doubles, text, ascii, NULL};
    mst_geo_units(&record, &file->facts);
    const char *nothing = tag(t->file, NOTHING, 1, &ascii);
    char word[64] = "";
    if (nothing) memcpy(word, nothing, strnlen(nothing, ascii < 63 ? ascii : 63));
    for (size_t n = strlen(word); n > 0 && word[n - 1] == ' '; n--) word[n - 1] = '\0';
    t->has_nothing = mst_number_read(word, &t->nothing);
}

/* ---- how it is laid out ---- */

static bool is_known_sample(const tiff *t) {
    if (t->format == SAMPLEFORMAT_IEEEFP) return t->bits == 32 || t->bits == 64;
    return (t->format == SAMPLEFORMAT_INT || t->format == SAMPLEFORMAT_UINT) &&
           (t->bits == 8 || t->bits == 16 || t->bits == 32);
}

static mst_status take_layout(const mst_cloud_file *file, tiff *t, mst_error *error) {
    uint16_t bands = 1;
    if (!TIFFGetField(t->file, TIFFTAG_IMAGEWIDTH, &t->columns) ||
        !TIFFGetField(t->file, TIFFTAG_IMAGELENGTH, &t->rows))
        return damaged(file, t, error);
    TIFFGetFieldDefaulted(t->file, TIFFTAG_SAMPLESPERPIXEL, &bands);
    TIFFGetFieldDefaulted(t->file, TIFFTAG_BITSPERSAMPLE, &t->bits);
    TIFFGetFieldDefaulted(t->file, TIFFTAG_SAMPLEFORMAT, &t->format);
    if (bands != 1)
        return MST_CLOUD_REFUSE(file, error,
                                "The GeoTIFF has %u bands; a grid of levels has one, so this is a picture.", bands);
    if (t->columns == 0 || t->rows == 0 || t->columns > SIDE_MOST || t->rows > SIDE_MOST)
        return MST_CLOUD_REFUSE(file, error,
                                "The GeoTIFF says that it is %u x %u cells large; up to %d on a side are read.",
                                t->columns, t->rows, SIDE_MOST);
    if (!is_known_sample(t))
        return MST_CLOUD_REFUSE(
            file, error, "The GeoTIFF's levels are of a kind that is not read (%u bits); save them as 32-bit floats.",
            t->bits);
    t->bytes = t->bits / 8u;
    t->line = t->columns * t->bytes;
    t->strip_rows = 1;
    size_t tile = 0;
    if (TIFFIsTiled(t->file)) {
        if (!TIFFGetField(t->file, TIFFTAG_TILEWIDTH, &t->tile_width) ||
            !TIFFGetField(t->file, TIFFTAG_TILELENGTH, &t->strip_rows))
            return damaged(file, t, error);
        tile = (size_t)TIFFTileSize(t->file);
        if (t->tile_width == 0 || t->strip_rows == 0 || t->strip_rows > t->rows + 65536u ||
            tile < (size_t)t->tile_width * t->strip_rows * t->bytes)
            return damaged(file, t, error);
    } else if ((size_t)TIFFScanlineSize(t->file) != t->line) return damaged(file, t, error);
    if (t->line > STRIP_MOST / t->strip_rows || tile > STRIP_MOST)
        return MST_CLOUD_REFUSE(file, error, "The GeoTIFF's tiles are too large; save it in smaller ones.");
    t->strip = calloc(1, t->line * t->strip_rows + tile);
    return t->strip ? MST_OK : mst_fail(error, MST_NO_MEMORY, "Not enough memory for the GeoTIFF.");
}

/* ---- rows ---- */

static bool read_tiles(tiff *t) {
    unsigned char *tile = t->strip + t->line * t->strip_rows;
    for (uint32_t column = 0; column < t->columns; column += t->tile_width) {
        if (TIFFReadTile(t->file, tile, column, t->row, 0, 0) < 0) return false;
        size_t width = t->columns - column < t->tile_width ? t->columns - column : t->tile_width;
        for (uint32_t r = 0; r < t->strip_rows; r++)
            memcpy(t->strip + r * t->line + column * t->bytes, tile + (size_t)r * t->tile_width * t->bytes,
                   width * t->bytes);
    }
    return true;
}

static bool fill_strip(tiff *t) {
    if (t->tile_width) return read_tiles(t);
    return TIFFReadScanline(t->file, t->strip, t->row, 0) == 1;
}

/* libtiff hands samples over in the machine's own order. */
static double sample(const tiff *t, const unsigned char *p) {
#define AS(type)                                                                                                       \
    {                                                                                                                  \
        type v;                                                                                                        \
        memcpy(&v, p, sizeof v);                                                                                       \
        return (double)v;                                                                                              \
    }
    if (t->format == SAMPLEFORMAT_IEEEFP) {
        if (t->bits == 32) AS(float) AS(double)
    }
    if (t->format == SAMPLEFORMAT_INT) {
        if (t->bits == 8) AS(int8_t) if (t->bits == 16) AS(int16_t) AS(int32_t)
    }
    if (t->bits == 8) AS(uint8_t)
    if (t->bits == 16) AS(uint16_t)
    AS(uint32_t)
#undef AS
}

static bool is_level(const tiff *t, double v) {
    double nothing = t->format == SAMPLEFORMAT_IEEEFP && t->bits == 32 ? (double)(float)t->nothing : t->nothing;
    return !isnan(v) && !(t->has_nothing && v == nothing);
}

static mst_status rewind_tiff(mst_cloud_file *file, mst_error *error) {
    (void)error;
    tiff *t = file->state;
    t->row = t->column = 0;
    t->strip_full = false;
    return MST_OK;
}

static mst_status read_tiff(mst_cloud_file *file, mst_cloud_point points[], size_t room, size_t *count,
                            mst_error *error) {
    tiff *t = file->state;
    size_t kept = 0;
    while (kept < room && t->row < t->rows) {
        uint32_t within = t->tile_width ? t->row % t->strip_rows : 0;
        if (!t->strip_full && !fill_strip(t)) return damaged(file, t, error);
        t->strip_full = true;
        const unsigned char *line = t->strip + within * t->line;
        for (; kept < room && t->column < t->columns; t->column++) {
            double level = sample(t, line + t->column * t->bytes);
            if (is_level(t, level))
                points[kept++] =
                    (mst_cloud_point){t->west + t->column * t->step_e, t->north + t->row * t->step_n, level, 0};
        }
        if (t->column < t->columns) break;
        t->column = 0;
        t->row++;
        t->strip_full = t->tile_width && within + 1 < t->strip_rows;
    }
    *count = kept;
    return MST_OK;
}

static void close_tiff(mst_cloud_file *file) {
    tiff *t = file->state;
    if (!t) return;
    if (t->file) TIFFClose(t->file);
    free(t->strip);
    free(t);
}

mst_status mst_grid_tiff_open(mst_cloud_file *file, mst_error *error) {
    tiff *t = file->state = calloc(1, sizeof *t);
    if (!t) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the GeoTIFF.");
    file->reader = (mst_cloud_reader){rewind_tiff, read_tiff, close_tiff};
    t->file = open_tiff(file, t);
    if (!t->file) return damaged(file, t, error);
    mst_status status = take_layout(file, t, error);
    if (!status) status = take_place(file, t, error);
    if (status) return status;
    take_units(file, t);
    file->facts.points = (uint64_t)t->columns * t->rows;
    snprintf(file->facts.kind, sizeof file->facts.kind, "GeoTIFF of %u x %u cells", t->columns, t->rows);
    return MST_OK;
}
