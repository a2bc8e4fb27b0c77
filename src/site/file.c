/* Making, opening and closing a site file. A file that is not ours is told apart before SQLite may write to it, so a
 * refused file stays as it is, to the byte. */
#include "site/file.h"
#include "site/file_schema.h"
#include "site/file_sql.h"
#include "site/geopackage.h"
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { BUSY_WAIT_MS = 5000 }; /* as long as a person waits before thinking that it hangs */

/* Retries often and evenly, so that two busy writers take turns instead of one starving the other. */
static int wait_for_the_other(void *unused, int tries) {
    (void)unused;
    enum { STEP_MS = 5 };
    if (tries >= BUSY_WAIT_MS / STEP_MS) return 0;
    sqlite3_sleep(STEP_MS);
    return 1;
}

/* ---- is it a site file at all? read without SQLite ---- */

enum { HEADER_BYTES = 100 }; /* SQLite file format, 1.3 "The Database Header" */

static uint32_t big_endian(const unsigned char *b) {
    return (uint32_t)b[0] << 24 | (uint32_t)b[1] << 16 | (uint32_t)b[2] << 8 | b[3];
}

static mst_status not_ours(const char *path, mst_error *error, const char *what) {
    return mst_fail_at(error, MST_INVALID, path, 0, 0,
                       "This is not a site file of this program but %s; it was left as it is.", what);
}

/* A file that has lost its end, as a broken copy does. The stored count of pages holds when it is as new as the file.
 */
static bool is_cut_short(const unsigned char header[HEADER_BYTES], int64_t size) {
    int64_t page = header[16] << 8 | header[17];
    if (page == 1) page = 65536;
    bool counted = memcmp(header + 24, header + 92, 4) == 0;
    return counted && size < page * (int64_t)big_endian(header + 28);
}

static bool has_journal(const char *path) {
    char name[4096];
    struct stat about;
    snprintf(name, sizeof name, "%s-journal", path);
    return stat(name, &about) == 0 && about.st_size > 0;
}

static mst_status read_header(const char *path, unsigned char header[HEADER_BYTES], int64_t *size, mst_error *error) {
    struct stat about;
    if (stat(path, &about) != 0) {
        if (errno == ENOENT || errno == ENOTDIR)
            return mst_fail_at(error, MST_NOT_FOUND, path, 0, 0, "There is no such file.");
        return mst_fail_at(error, MST_IO, path, 0, 0, "The file cannot be reached: %s.", strerror(errno));
    }
    if (S_ISDIR(about.st_mode)) return not_ours(path, error, "a folder");
    if (!S_ISREG(about.st_mode)) return not_ours(path, error, "no regular file");
    FILE *file = fopen(path, "rb");
    if (!file) return mst_fail_at(error, MST_IO, path, 0, 0, "The file cannot be read: %s.", strerror(errno));
    size_t got = fread(header, 1, HEADER_BYTES, file);
    bool failed = ferror(file) != 0;
    fclose(file);
    *size = about.st_size;
    if (failed) return mst_fail_at(error, MST_IO, path, 0, 0, "The disk failed while the file was read.");
    if (got == 0) return not_ours(path, error, "an empty file");
    if (got < HEADER_BYTES || memcmp(header, "SQLite format 3", 16) != 0)
        return not_ours(path, error, "a file of another kind");
    return MST_OK;
}

static mst_status check_header(const char *path, bool *write_ahead, mst_error *error) {
    unsigned char header[HEADER_BYTES];
    int64_t size = 0;
    mst_status status = read_header(path, header, &size, error);
    if (status) return status;
    if (big_endian(header + 68) != MST_GEOPACKAGE_ID) return not_ours(path, error, "a database of another program");
    if (is_cut_short(header, size) && !has_journal(path))
        return mst_fail_at(error, MST_INVALID, path, 0, 0,
                           "This site file is cut short; go back to a whole copy of it.");
    *write_ahead = header[18] == 2 || header[19] == 2;
    return MST_OK;
}

/* ---- connections ---- */

/* Nothing in a file may make SQLite do more than read tables: a file may come from anywhere. */
static int distrust(sqlite3 *db) {
    int code = sqlite3_db_config(db, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
    if (!code) code = sqlite3_db_config(db, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    if (!code) code = sqlite3_busy_handler(db, wait_for_the_other, NULL);
    if (!code) code = sqlite3_exec(db, "PRAGMA cell_size_check = ON; PRAGMA mmap_size = 0;", NULL, NULL, NULL);
    return code;
}

/* @param immutable  look at the file alone, beside no journal: for one that another program holds in another mode */
static mst_status connect_to(mst_file *file, int flags, bool immutable, mst_error *error) {
    char *name = sqlite3_mprintf("%s", file->path);
    if (immutable) { /* a name as a URI: these four characters mean something there */
        sqlite3_free(name);
        sqlite3_str *uri = sqlite3_str_new(NULL);
        sqlite3_str_appendall(uri, "file:");
        for (const char *c = file->path; *c; c++) {
            if (strchr("%?#&", *c)) sqlite3_str_appendf(uri, "%%%02X", (unsigned)(unsigned char)*c);
            else sqlite3_str_appendchar(uri, 1, *c);
        }
        sqlite3_str_appendall(uri, "?immutable=1");
        name = sqlite3_str_finish(uri);
        flags |= SQLITE_OPEN_URI;
    }
    if (!name) return mst_file_no_memory(file, error);
    int code = sqlite3_open_v2(name, &file->db, flags, NULL);
    sqlite3_free(name);
    if (code == SQLITE_OK) code = distrust(file->db);
    return code == SQLITE_OK ? MST_OK : mst_sql_failed(file, error);
}

static void disconnect(mst_file *file) {
    for (size_t i = 0; i < file->statement_count; i++) sqlite3_finalize(file->statements[i].prepared);
    file->statement_count = 0;
    sqlite3_close(file->db);
    file->db = NULL;
}

void mst_file_close(mst_file *file) {
    if (!file) return;
    if (file->db) mst_file_rollback(file);
    disconnect(file);
    free(file->path);
    free(file);
}

const char *mst_file_path(const mst_file *file) { return file->path; }

static mst_file *file_at(const char *path) {
    mst_file *file = calloc(1, sizeof *file);
    if (!file) return NULL;
    const size_t size = strlen(path) + 1;
    file->path = malloc(size);
    if (file->path) return memcpy(file->path, path, size), file;
    free(file);
    return NULL;
}

/* ---- open ---- */

static mst_status check_format(mst_file *file, mst_error *error) {
    int64_t there = 0, format = 0;
    mst_status status =
        mst_sql_integer(file, "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = 'site_setting'", NULL,
                        0, &there, error);
    if (status) return status;
    if (!there) return not_ours(file->path, error, "a GeoPackage of another program");
    status = mst_sql_integer(file, "SELECT value FROM site_setting WHERE name = 'format'", NULL, 0, &format, error);
    if (status) return status;
    if (format > MST_FILE_FORMAT)
        return mst_fail_at(
            error, MST_INVALID, file->path, 0, 0,
            "This site was written by a newer version of this program (file format %lld, this one reads up to %d); "
            "update the program.",
            (long long)format, MST_FILE_FORMAT);
    if (format < 1)
        return mst_fail_at(error, MST_INVALID, file->path, 0, 0,
                           "This site file does not say which format it has; it is damaged.");
    return MST_OK;
}

/* Looks at the file through a connection that cannot write. After a crash only one that can write may read it, to take
 * the unfinished change back first; so then the look is left to mst_file_open. */
static mst_status look(mst_file *file, bool write_ahead, mst_error *error) {
    mst_status status = connect_to(file, SQLITE_OPEN_READONLY, write_ahead, error);
    if (!status) status = check_format(file, error);
    bool unfinished = sqlite3_extended_errcode(file->db) == SQLITE_READONLY_ROLLBACK;
    disconnect(file);
    return unfinished ? MST_OK : status;
}

static mst_status check_pages(mst_file *file, mst_error *error) {
    sqlite3_stmt *query;
    mst_status status = mst_sql_open(file, "PRAGMA quick_check(1)", NULL, 0, &query, error);
    if (status) return status;
    bool sound = false;
    while (mst_sql_next(file, query, &status, error)) {
        const char *said = (const char *)sqlite3_column_text(query, 0);
        sound = said && strcmp(said, "ok") == 0;
    }
    if (status || sound) return status;
    return mst_fail_at(error, MST_INVALID, file->path, 0, 0, "This site file is damaged; go back to a copy of it.");
}

/* One plain file without helpers beside it, every commit on the disk before it is reported. */
static mst_status settle(mst_file *file, mst_error *error) {
    return mst_sql_script(file,
                          "PRAGMA journal_mode = DELETE; PRAGMA synchronous = EXTRA; PRAGMA foreign_keys = ON;"
                          "PRAGMA temp_store = MEMORY; PRAGMA secure_delete = OFF;",
                          error);
}

static mst_status open_site(mst_file *file, mst_error *error) {
    bool write_ahead = false;
    mst_status status = check_header(file->path, &write_ahead, error);
    if (!status) status = look(file, write_ahead, error);
    if (!status) status = connect_to(file, SQLITE_OPEN_READWRITE, false, error);
    if (!status) status = check_format(file, error);
    if (!status) status = settle(file, error);
    if (!status) status = check_pages(file, error);
    return status;
}

mst_status mst_file_open(const char *path, mst_file **result, mst_error *error) {
    mst_file *file = file_at(path);
    if (!file) return mst_fail(error, MST_NO_MEMORY, "There is not enough memory to open the site.");
    mst_status status = open_site(file, error);
    if (status) mst_file_close(file);
    else *result = file;
    return status;
}

/* ---- create ---- */

static mst_status fill(mst_file *file, const char *title, const char *units, const char *who, mst_error *error) {
    mst_status status = connect_to(file, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, false, error);
    if (!status) status = settle(file, error);
    if (!status) status = mst_sql_script(file, "BEGIN IMMEDIATE", error);
    if (!status) status = mst_sql_script(file, mst_geopackage_schema, error);
    if (!status) status = mst_sql_script(file, mst_file_schema, error);
    if (!status) status = mst_sql_script(file, mst_file_layers, error);
    if (!status)
        status = mst_sql_run(
            file, "INSERT INTO site_setting (name, value) VALUES ('format', ?1), ('title', ?2), ('units', ?3)",
            MST_CELLS(mst_cell_integer(MST_FILE_FORMAT), mst_cell_text(title), mst_cell_text(units)), error);
    if (!status)
        status = mst_sql_run(
            file, "INSERT INTO site_change (who, why, kind, row_count) VALUES (?1, 'Made the site', 'made', 2)",
            MST_CELLS(mst_cell_text(who)), error);
    return status ? status : mst_sql_script(file, "COMMIT", error);
}

/* Gives the finished file its name, unless something has it already. */
static mst_status give_name(const char *from, const char *to, mst_error *error) {
    if (link(from, to) == 0) return unlink(from), MST_OK;
    struct stat about;
    if (errno == EEXIST || stat(to, &about) == 0)
        return mst_fail_at(error, MST_INVALID, to, 0, 0, "This file exists already; choose another name or open it.");
    if (rename(from, to) == 0) return MST_OK; /* a file system without links */
    return mst_fail_at(error, MST_IO, to, 0, 0, "The file cannot be written: %s.", strerror(errno));
}

/* Makes the file under a passing name beside its place: a crash leaves no half of a site behind its real name. */
mst_status mst_file_create(const char *path, const char *title, const char *units, const char *who, mst_error *error) {
    struct stat about;
    if (stat(path, &about) == 0)
        return mst_fail_at(error, MST_INVALID, path, 0, 0, "This file exists already; choose another name or open it.");
    char *passing = sqlite3_mprintf("%s.%d.new", path, (int)getpid());
    mst_file *file = passing ? file_at(passing) : NULL;
    if (!file) {
        sqlite3_free(passing);
        return mst_fail(error, MST_NO_MEMORY, "There is not enough memory to make a site.");
    }
    unlink(passing); /* left by a crash of a process that had our number */
    mst_status status = fill(file, title, units, who, error);
    mst_file_close(file);
    if (!status) status = give_name(passing, path, error);
    if (status) unlink(passing);
    if (status && error) snprintf(error->page, sizeof error->page, "%s", path);
    sqlite3_free(passing);
    return status;
}
