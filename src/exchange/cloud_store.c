/* Room on the disk without a name: the file is gone from its folder as soon as it is open. */
#include "merestone/exchange.h"
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static mst_status fail(mst_error *error, const char *what) {
    return mst_fail(error, MST_IO, "%s: %s. Sorting a cloud needs 24 bytes a point; TMPDIR says where.", what,
                    strerror(errno));
}

static int make_in(const char *folder) {
    char path[4096];
    if (!folder || !*folder || snprintf(path, sizeof path, "%s/cloud-XXXXXX", folder) >= (int)sizeof path) return -1;
    int file = mkstemp(path);
    if (file >= 0) unlink(path);
    return file;
}

/* /tmp comes last: it may be memory. */
static mst_status make(mst_cloud_scratch *s, mst_error *error) {
    const char *const folders[] = {getenv("TMPDIR"), "/var/tmp", "/tmp"};
    for (size_t i = 0; i < sizeof folders / sizeof *folders && !s->made; i++) {
        s->file = make_in(folders[i]);
        s->made = s->file >= 0;
    }
    return s->made ? MST_OK : fail(error, "No temporary file can be made");
}

static mst_status write_part(void *self, uint64_t at, const void *data, size_t size, mst_error *error) {
    mst_cloud_scratch *s = self;
    mst_status status = s->made ? MST_OK : make(s, error);
    for (size_t done = 0; !status && done < size;) {
        ssize_t went = pwrite(s->file, (const char *)data + done, size - done, (off_t)(at + done));
        if (went > 0) done += (size_t)went;
        else if (went == 0 || errno != EINTR) status = fail(error, "The temporary file cannot be written");
    }
    return status;
}

static mst_status read_part(void *self, uint64_t at, void *data, size_t size, mst_error *error) {
    const mst_cloud_scratch *s = self;
    for (size_t done = 0; done < size;) {
        ssize_t came = pread(s->file, (char *)data + done, size - done, (off_t)(at + done));
        if (came > 0) done += (size_t)came;
        else if (came == 0 || errno != EINTR) return fail(error, "The temporary file cannot be read");
    }
    return MST_OK;
}

mst_cloud_store mst_cloud_scratch_store(mst_cloud_scratch *scratch) {
    return (mst_cloud_store){scratch, write_part, read_part};
}

void mst_cloud_scratch_close(mst_cloud_scratch *scratch) {
    if (scratch->made) close(scratch->file);
    *scratch = (mst_cloud_scratch){0};
}
