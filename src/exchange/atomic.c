/* Whole files or none: written beside the target, flushed to the disk, then renamed over it. */
#include "merestone/exchange.h"
#include "exchange/write.h"
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { TRIES = 100 };

static mst_status io_fail(mst_error *error, const char *what, const char *path) {
    return mst_fail(error, MST_IO, "%s %s: %s.", what, path, strerror(errno));
}

static void forget(mst_atomic *file) {
    free(file->path);
    free(file->temporary);
    *file = (mst_atomic){0};
}

/* The name is free or becomes ours in one step, so that two writers cannot share a temporary. */
static int create_beside(mst_atomic *file) {
    size_t room = strlen(file->path) + 16;
    file->temporary = malloc(room);
    for (int i = 0; file->temporary && i < TRIES; i++) {
        snprintf(file->temporary, room, "%s.part%d", file->path, i);
        int fd = open(file->temporary, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (fd >= 0 || errno != EEXIST) return fd;
    }
    return -1;
}

mst_status mst_atomic_open(mst_atomic *file, const char *path, mst_error *error) {
    struct stat is;
    bool exists = stat(path, &is) == 0;
    if (exists && S_ISDIR(is.st_mode)) return mst_fail(error, MST_INVALID, "%s is a folder; name a file in it.", path);
    *file = (mst_atomic){.path = strdup(path)};
    if (!file->path) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    bool direct = exists && !S_ISREG(is.st_mode);
    int fd = direct ? open(path, O_WRONLY | O_CLOEXEC) : create_beside(file);
    if (fd < 0) {
        mst_status status = io_fail(error, "Cannot write", path);
        forget(file);
        return status;
    }
    if (!(file->stream = fdopen(fd, "wb"))) {
        close(fd);
        mst_atomic_cancel(file);
        return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    }
    return MST_OK;
}

void mst_atomic_cancel(mst_atomic *file) {
    if (file->stream) fclose(file->stream);
    if (file->temporary) unlink(file->temporary);
    forget(file);
}

/* The rename itself is only on the disk when the folder is. */
static void sync_folder(const char *path) {
    const char *slash = strrchr(path, '/');
    char *folder = slash ? strndup(path, slash == path ? 1 : (size_t)(slash - path)) : strdup(".");
    int fd = folder ? open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC) : -1;
    if (fd >= 0) {
        (void)fsync(fd); /* some file systems cannot; the file itself is safe */
        close(fd);
    }
    free(folder);
}

mst_status mst_atomic_commit(mst_atomic *file, mst_error *error) {
    FILE *stream = file->stream;
    bool failed = fflush(stream) != 0 || ferror(stream) || (file->temporary && fsync(fileno(stream)) != 0);
    int why = errno;
    failed |= fclose(stream) != 0;
    file->stream = NULL;
    if (!failed && file->temporary) failed = rename(file->temporary, file->path) != 0;
    if (failed) {
        if (why && errno == 0) errno = why;
        mst_status status = io_fail(error, "Cannot write", file->path);
        mst_atomic_cancel(file);
        return status;
    }
    if (file->temporary) sync_folder(file->path);
    forget(file);
    return MST_OK;
}

mst_status mst_save_text(const char *path, mst_text *text, mst_error *error) {
    mst_atomic file = {0};
    mst_status status =
        text->failed ? mst_fail(error, MST_NO_MEMORY, "Out of memory.") : mst_atomic_open(&file, path, error);
    if (!status && text->length && fwrite(text->data, 1, text->length, file.stream) != text->length) {
        status = io_fail(error, "Cannot write", path);
        mst_atomic_cancel(&file);
    }
    if (!status) status = mst_atomic_commit(&file, error);
    mst_text_free(text);
    return status;
}
