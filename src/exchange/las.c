/* LAS as the ASPRS LAS Specification 1.4 R15 (2019) and its forerunners 1.0 to 1.3 lay it out. Every size is checked
 * against the file before it is believed; compressed points are refused, waveforms and other records passed over. */
#include "exchange/cloud_file.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum {
    HEAD_LEAST = 227,
    HEAD_13 = 235,
    HEAD_14 = 375,
    VLR_HEAD = 54,
    EVLR_HEAD = 60,
    EVLRS_MOST = 1000,
    FORMATS = 11,
    TEXT_MOST = 1 << 20
};
enum { COMPRESSED = 0xC0 }; /* bits that a compressor sets in the point format */
static const uint16_t RECORD_LEAST[FORMATS] = {20, 28, 26, 34, 57, 63, 30, 36, 38, 59, 67};

typedef struct las {
    unsigned minor, format;
    size_t header, record;
    uint64_t points_at, count, left;
    double scale[3], offset[3];
    /* the coordinate system's records, kept until its units are known */
    uint16_t *keys;
    double *doubles;
    char *ascii, *text;
    size_t key_count, double_count, ascii_length;
} las;

/* ---- the header ---- */

static mst_status check_numbers(const mst_cloud_file *file, const las *l, mst_error *error) {
    static const char *const AXES[] = {"x", "y", "z"};
    for (int k = 0; k < 3; k++) {
        if (!(l->scale[k] > 0) || !isfinite(l->scale[k]))
            return MST_CLOUD_REFUSE(file, error,
                                    "The header's %s scale is %g; it must be over zero. The file is damaged.", AXES[k],
                                    l->scale[k]);
        if (!isfinite(l->offset[k]))
            return MST_CLOUD_REFUSE(file, error, "The header's %s offset is not a number; the file is damaged.",
                                    AXES[k]);
    }
    return MST_OK;
}

/* 1.4 has the count in 64 bits, and in the old 32 where an old reader could use it. */
static mst_status take_count(const mst_cloud_file *file, las *l, const unsigned char *h, mst_error *error) {
    uint64_t old = mst_le32(h + 107);
    l->count = old;
    if (l->minor >= 4) {
        uint64_t count = mst_le64(h + 247);
        if (old && count && old != count)
            return MST_CLOUD_REFUSE(
                file, error, "The header counts %llu points in one place and %llu in another; the file is damaged.",
                (unsigned long long)old, (unsigned long long)count);
        if (count) l->count = count;
    }
    uint64_t room = (file->size - l->points_at) / l->record;
    if (l->count > room)
        return MST_CLOUD_REFUSE(
            file, error, "The header promises %llu points, but the file has room for %llu; it is cut short or damaged.",
            (unsigned long long)l->count, (unsigned long long)room);
    return MST_OK;
}

static mst_status take_header(const mst_cloud_file *file, las *l, const unsigned char *h, mst_error *error) {
    unsigned major = h[24];
    l->minor = h[25];
    if (major != 1 || l->minor > 4)
        return MST_CLOUD_REFUSE(file, error, "LAS version %u.%u is not read; 1.0 to 1.4 are.", major, l->minor);
    l->header = mst_le16(h + 94);
    size_t least = l->minor >= 4 ? HEAD_14 : l->minor == 3 ? HEAD_13 : HEAD_LEAST;
    if (l->header < least || l->header > file->size)
        return MST_CLOUD_REFUSE(
            file, error,
            "The header says that it is %zu bytes long; LAS 1.%u needs %zu, and the file has %llu. It is damaged.",
            l->header, l->minor, least, (unsigned long long)file->size);
    l->points_at = mst_le32(h + 96);
    if (l->points_at < l->header || l->points_at > file->size)
        return MST_CLOUD_REFUSE(
            file, error,
            "The header says that the points begin at byte %llu of %llu; the file is cut short or damaged.",
            (unsigned long long)l->points_at, (unsigned long long)file->size);
    if (h[104] & COMPRESSED)
        return MST_CLOUD_REFUSE(file, error, "The points are compressed (LAZ); save the cloud as plain LAS.");
    l->format = h[104];
    if (l->format >= FORMATS)
        return MST_CLOUD_REFUSE(file, error, "Point format %u is not known; 0 to 10 are.", l->format);
    l->record = mst_le16(h + 105);
    if (l->record < RECORD_LEAST[l->format])
        return MST_CLOUD_REFUSE(
            file, error, "The header says that a point takes %zu bytes; format %u needs %u. The file is damaged.",
            l->record, l->format, RECORD_LEAST[l->format]);
    for (int k = 0; k < 3; k++)
        l->scale[k] = mst_le_double(h + 131 + 8 * k), l->offset[k] = mst_le_double(h + 155 + 8 * k);
    mst_status status = check_numbers(file, l, error);
    return status ? status : take_count(file, l, h, error);
}

/* ---- variable-length records ---- */

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the cloud's header.");
}

/* Keeps the first of each record of the coordinate system. */
static mst_status keep_record(const mst_cloud_file *file, las *l, unsigned id, uint64_t at, size_t size,
                              mst_error *error) {
    bool wanted = (id == 2112 && !l->text) || (id == 34735 && !l->keys) || (id == 34736 && !l->doubles) ||
                  (id == 34737 && !l->ascii);
    if (!wanted || size == 0 || size > TEXT_MOST) return MST_OK;
    unsigned char *raw = malloc(size + 1);
    if (!raw) return no_memory(error);
    mst_status status = mst_cloud_read_at(file, at, raw, size, error);
    raw[size] = '\0';
    bool made = true;
    if (!status && id == 2112) l->text = (char *)raw, raw = NULL;
    else if (!status && id == 34737) l->ascii = (char *)raw, l->ascii_length = size, raw = NULL;
    else if (!status && id == 34735 && (made = (l->keys = malloc(size + 2)) != NULL)) {
        for (l->key_count = 0; l->key_count < size / 2; l->key_count++)
            l->keys[l->key_count] = mst_le16(raw + 2 * l->key_count);
    } else if (!status && id == 34736 && (made = (l->doubles = malloc(size + 8)) != NULL)) {
        for (l->double_count = 0; l->double_count < size / 8; l->double_count++)
            l->doubles[l->double_count] = mst_le_double(raw + 8 * l->double_count);
    }
    free(raw);
    return made ? status : no_memory(error);
}

static bool is_projection(const unsigned char *head) { return memcmp(head + 2, "LASF_Projection\0", 16) == 0; }

static mst_status take_records(const mst_cloud_file *file, las *l, uint32_t count, mst_error *error) {
    uint64_t at = l->header;
    unsigned char head[VLR_HEAD];
    for (uint32_t i = 0; i < count; i++) {
        uint64_t size = 0;
        if (l->points_at - at >= VLR_HEAD) {
            mst_status status = mst_cloud_read_at(file, at, head, sizeof head, error);
            if (status) return status;
            size = VLR_HEAD + (uint64_t)mst_le16(head + 20);
        }
        if (size == 0 || size > l->points_at - at)
            return MST_CLOUD_REFUSE(
                file, error,
                "The header promises %u records before the points; the file has room for %u. It is damaged.", count, i);
        if (is_projection(head)) {
            mst_status status =
                keep_record(file, l, mst_le16(head + 18), at + VLR_HEAD, (size_t)size - VLR_HEAD, error);
            if (status) return status;
        }
        at += size;
    }
    return MST_OK;
}

/* Behind the points, with 64-bit sizes; 1.4 may have its coordinate system there. */
static mst_status take_late_records(const mst_cloud_file *file, las *l, uint64_t at, uint32_t count, mst_error *error) {
    unsigned char head[EVLR_HEAD];
    for (uint32_t i = 0; i < count; i++) {
        uint64_t size = 0, room = at <= file->size ? file->size - at : 0;
        if (room >= EVLR_HEAD) {
            mst_status status = mst_cloud_read_at(file, at, head, sizeof head, error);
            if (status) return status;
            size = mst_le64(head + 20);
        }
        if (i >= EVLRS_MOST || room < EVLR_HEAD || size > room - EVLR_HEAD)
            return MST_CLOUD_REFUSE(file, error,
                                    "The header promises %u records behind the points; the file has room for %u. It is "
                                    "cut short or damaged.",
                                    count, i);
        if (is_projection(head) && size <= TEXT_MOST) {
            mst_status status = keep_record(file, l, mst_le16(head + 18), at + EVLR_HEAD, (size_t)size, error);
            if (status) return status;
        }
        at += EVLR_HEAD + size;
    }
    return MST_OK;
}

static void state_facts(mst_cloud_file *file, const las *l, bool text_counts) {
    mst_cloud_facts *facts = &file->facts;
    snprintf(facts->kind, sizeof facts->kind, "LAS 1.%u, point format %u", l->minor, l->format);
    facts->points = l->count;
    facts->classed = true;
    mst_geo_record record = {l->keys,
                             l->key_count,
                             l->doubles,
                             l->double_count,
                             l->ascii,
                             l->ascii_length,
                             text_counts || !l->keys ? l->text : NULL};
    mst_geo_units(&record, facts);
}

/* ---- the points ---- */

static mst_status rewind_points(mst_cloud_file *file, mst_error *error) {
    (void)error;
    las *l = file->state;
    mst_cloud_seek(file, l->points_at);
    l->left = l->count;
    return MST_OK;
}

/* @return false for a point marked as withheld */
static inline bool take_point(const las *l, const unsigned char *r, mst_cloud_point *p) {
    p->easting_m = (double)(int32_t)mst_le32(r) * l->scale[0] + l->offset[0];
    p->northing_m = (double)(int32_t)mst_le32(r + 4) * l->scale[1] + l->offset[1];
    p->elevation_m = (double)(int32_t)mst_le32(r + 8) * l->scale[2] + l->offset[2];
    bool late = l->format >= 6;
    p->class_code = late ? r[16] : r[15] & 31;
    return !(late ? r[15] & 4 : r[15] & 128);
}

static mst_status read_points(mst_cloud_file *file, mst_cloud_point points[], size_t room, size_t *count,
                              mst_error *error) {
    las *l = file->state;
    mst_error machine = {0};
    size_t kept = 0;
    while (kept < room && l->left) {
        if (file->filled - file->at < l->record && !mst_cloud_refill(file, &machine)) {
            if (!machine.status) return MST_CLOUD_REFUSE(file, error, "The file has become shorter while it was read.");
            if (error) *error = machine;
            return machine.status;
        }
        while (kept < room && l->left && file->filled - file->at >= l->record) {
            if (take_point(l, file->buffer + file->at, &points[kept])) kept++;
            else file->withheld++;
            file->at += l->record;
            l->left--;
        }
    }
    *count = kept;
    return MST_OK;
}

static void close_las(mst_cloud_file *file) {
    las *l = file->state;
    if (!l) return;
    free(l->keys);
    free(l->doubles);
    free(l->ascii);
    free(l->text);
    free(l);
}

mst_status mst_las_open(mst_cloud_file *file, mst_error *error) {
    unsigned char h[HEAD_14] = {0};
    if (file->size < HEAD_LEAST)
        return MST_CLOUD_REFUSE(file, error, "The file ends within its header; it is cut short.");
    las *l = file->state = calloc(1, sizeof *l);
    if (!l) return no_memory(error);
    file->reader = (mst_cloud_reader){rewind_points, read_points, close_las};
    mst_status status = mst_cloud_read_at(file, 0, h, file->size < HEAD_14 ? HEAD_LEAST : HEAD_14, error);
    if (!status) status = take_header(file, l, h, error);
    if (!status) status = take_records(file, l, mst_le32(h + 100), error);
    if (!status && l->minor >= 4) status = take_late_records(file, l, mst_le64(h + 235), mst_le32(h + 243), error);
    if (!status) state_facts(file, l, l->minor >= 4 && h[6] & 16);
    return status;
}
