/** @file src/exchange/cloud_file.h  A cloud's file while it is open: what all kinds share, and one reader a kind. */
#ifndef EXCHANGE_CLOUD_FILE_H
#define EXCHANGE_CLOUD_FILE_H
#include "merestone/exchange.h"

enum { MST_CLOUD_BUFFER = 1 << 20, MST_CLOUD_PAD = 64 };

/** Points in the file's own units. Like mst_cloud_source, but that the unit is not settled. */
typedef struct mst_cloud_reader {
    mst_status (*rewind)(mst_cloud_file *file, mst_error *error);
    mst_status (*read)(mst_cloud_file *file, mst_cloud_point points[], size_t room, size_t *count, mst_error *error);
    void (*close)(mst_cloud_file *file); /**< frees `state` */
} mst_cloud_reader;

struct mst_cloud_file {
    int fd;
    char name[128]; /* without folders, for errors */
    uint64_t size;
    mst_cloud_facts facts;
    mst_cloud_reader reader;
    void *state;             /* of the reader */
    unsigned char *buffer;   /* MST_CLOUD_BUFFER bytes and MST_CLOUD_PAD zeros */
    size_t at, filled;       /* in the buffer */
    uint64_t next;           /* place in the file of the next byte to read into the buffer */
    uint64_t withheld;       /* points left out in this pass */
    double plan_m, height_m; /* of the source in use */
};

#define MST_CLOUD_REFUSE(file, error, ...) mst_fail_at(error, MST_INVALID, (file)->name, 0, 0, __VA_ARGS__)

/** Reads exactly @p size bytes at a place. @retval MST_INVALID the file ends before */
mst_status mst_cloud_read_at(const mst_cloud_file *file, uint64_t at, void *data, size_t size, mst_error *error);
/** Empties the buffer and goes to a place. */
void mst_cloud_seek(mst_cloud_file *file, uint64_t at);
/** Moves what is left in the buffer to its start and reads on behind it; zeros follow. @return false at the end of the
 * file or when the buffer is full. @p error has its status on a failure of the machine */
bool mst_cloud_refill(mst_cloud_file *file, mst_error *error);

/* Each looks at the start of the file and fills facts, reader and state. */
mst_status mst_las_open(mst_cloud_file *file, mst_error *error);
mst_status mst_cloud_text_open(mst_cloud_file *file, const char *columns, mst_error *error);
mst_status mst_grid_text_open(mst_cloud_file *file, mst_error *error);
mst_status mst_grid_tiff_open(mst_cloud_file *file, mst_error *error);
bool mst_grid_text_starts(const char *start); /**< with the words of an ASCII grid */

/** A coordinate system as LAS and GeoTIFF carry it: the GeoTIFF keys (OGC 19-008r4) or a text (OGC 12-063r5, 18-010r7).
 */
typedef struct mst_geo_record {
    const uint16_t *keys;
    size_t key_count; /**< shorts, four of them a key, the first four the directory's head */
    const double *doubles;
    size_t double_count;
    const char *ascii;
    size_t ascii_length;
    const char *text; /**< terminated, or NULL; counts before the keys */
} mst_geo_record;
/** Fills system, plan_m, height_m and degrees of @p facts as far as the record says. */
void mst_geo_units(const mst_geo_record *record, mst_cloud_facts *facts);

/* Numbers as files have them, lowest byte first, on any machine. */
static inline uint16_t mst_le16(const unsigned char *p) { return (uint16_t)(p[0] | p[1] << 8); }
static inline uint32_t mst_le32(const unsigned char *p) {
    return (uint32_t)p[0] | (uint32_t)p[1] << 8 | (uint32_t)p[2] << 16 | (uint32_t)p[3] << 24;
}
static inline uint64_t mst_le64(const unsigned char *p) { return mst_le32(p) | (uint64_t)mst_le32(p + 4) << 32; }
double mst_le_double(const unsigned char *p);
#endif
