/* Opening a cloud, telling its kind, and handing its points on in metres. */
#include "exchange/cloud_file.h"
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

/* ---- bytes ---- */

double mst_le_double(const unsigned char *p) {
    uint64_t bits = mst_le64(p);
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static mst_status io_fail(const mst_cloud_file *file, mst_error *error) {
    return mst_fail_at(error, MST_IO, file->name, 0, 0, "The file cannot be read to its end: %s.", strerror(errno));
}

mst_status mst_cloud_read_at(const mst_cloud_file *file, uint64_t at, void *data, size_t size, mst_error *error) {
    for (size_t done = 0; done < size;) {
        ssize_t came = pread(file->fd, (char *)data + done, size - done, (off_t)(at + done));
        if (came < 0 && errno == EINTR) continue;
        if (came < 0) return io_fail(file, error);
        if (came == 0)
            return MST_CLOUD_REFUSE(file, error, "The file ends before what its header promises; it is cut short.");
        done += (size_t)came;
    }
    return MST_OK;
}

void mst_cloud_seek(mst_cloud_file *file, uint64_t at) {
    file->next = at;
    file->at = file->filled = 0;
}

bool mst_cloud_refill(mst_cloud_file *file, mst_error *error) {
    if (file->at) memmove(file->buffer, file->buffer + file->at, file->filled - file->at);
    file->filled -= file->at;
    file->at = 0;
    if (file->filled == MST_CLOUD_BUFFER) return false;
    ssize_t came;
    do came = pread(file->fd, file->buffer + file->filled, MST_CLOUD_BUFFER - file->filled, (off_t)file->next);
    while (came < 0 && errno == EINTR);
    if (came < 0) (void)io_fail(file, error);
    if (came > 0) file->filled += (size_t)came, file->next += (uint64_t)came;
    memset(file->buffer + file->filled, 0, MST_CLOUD_PAD);
    return came > 0;
}

/* ---- opening ---- */

static const char *base_name(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static mst_status open_kind(mst_cloud_file *file, const char *columns, mst_error *error) {
    mst_error machine = {0};
    mst_cloud_seek(file, 0);
    while (file->filled < 4096 && mst_cloud_refill(file, &machine)) {}
    if (machine.status) {
        if (error) *error = machine;
        return machine.status;
    }
    const char *start = (const char *)file->buffer;
    if (file->filled == 0) return MST_CLOUD_REFUSE(file, error, "The file is empty.");
    if (file->filled >= 4 && memcmp(start, "LASF", 4) == 0) return mst_las_open(file, error);
    if (file->filled >= 4 && (memcmp(start, "II*\0", 4) == 0 || memcmp(start, "MM\0*", 4) == 0 ||
                              memcmp(start, "II+\0", 4) == 0 || memcmp(start, "MM\0+", 4) == 0))
        return mst_grid_tiff_open(file, error);
    if (mst_grid_text_starts(start)) return mst_grid_text_open(file, error);
    if (memchr(start, '\0', file->filled))
        return MST_CLOUD_REFUSE(file, error,
                                "The file is neither LAS, nor text, nor a grid; save the cloud as LAS or as text.");
    return mst_cloud_text_open(file, columns, error);
}

mst_status mst_cloud_open(const char *path, const char *columns, mst_cloud_file **result, mst_error *error) {
    mst_cloud_file *file = calloc(1, sizeof *file);
    if (!file) return mst_fail(error, MST_NO_MEMORY, "Not enough memory to open the cloud.");
    struct stat is;
    size_t length = strlen(base_name(path));
    memcpy(file->name, base_name(path), length < sizeof file->name ? length : sizeof file->name - 1);
    mst_text_tidy(file->name);
    file->buffer = calloc(1, MST_CLOUD_BUFFER + MST_CLOUD_PAD);
    file->fd = open(path, O_RDONLY | O_CLOEXEC);
    mst_status status = MST_OK;
    if (!file->buffer) status = mst_fail(error, MST_NO_MEMORY, "Not enough memory to open the cloud.");
    else if (file->fd < 0)
        status = mst_fail_at(error, MST_NOT_FOUND, file->name, 0, 0, "The file cannot be opened: %s.", strerror(errno));
    else if (fstat(file->fd, &is) != 0 || !S_ISREG(is.st_mode))
        status = MST_CLOUD_REFUSE(file, error,
                                  "A cloud is read more than once, so it must be a file, not a folder or a pipe.");
    else {
        file->size = (uint64_t)is.st_size;
        status = open_kind(file, columns, error);
    }
    if (status) mst_cloud_close(file);
    else *result = file;
    return status;
}

void mst_cloud_close(mst_cloud_file *file) {
    if (!file) return;
    if (file->reader.close) file->reader.close(file);
    if (file->fd >= 0) close(file->fd);
    free(file->buffer);
    free(file);
}

const mst_cloud_facts *mst_cloud_file_facts(const mst_cloud_file *file) { return &file->facts; }

/* ---- in metres ---- */

/* Adding 1.5 2^52 rounds to a whole number; a level or place beyond 2^51 tenths of a millimetre is refused later. */
static inline double to_page(double metres) {
    const double PER_M = 1e4, ROUND = 0x1.8p52;
    return ((metres * PER_M + ROUND) - ROUND) / PER_M;
}

static mst_status rewind_metres(void *self, mst_error *error) {
    mst_cloud_file *file = self;
    file->withheld = 0;
    return file->reader.rewind(file, error);
}

static mst_status read_metres(void *self, mst_cloud_point points[], size_t room, size_t *count, mst_error *error) {
    mst_cloud_file *file = self;
    mst_status status = file->reader.read(file, points, room, count, error);
    for (size_t i = 0; !status && i < *count; i++) {
        points[i].easting_m = to_page(points[i].easting_m * file->plan_m);
        points[i].northing_m = to_page(points[i].northing_m * file->plan_m);
        points[i].elevation_m = to_page(points[i].elevation_m * file->height_m);
    }
    return status;
}

mst_cloud_source mst_cloud_file_points(mst_cloud_file *file, double plan_m, double height_m) {
    file->plan_m = plan_m;
    file->height_m = height_m;
    return (mst_cloud_source){file, rewind_metres, read_metres, file->facts.points};
}
