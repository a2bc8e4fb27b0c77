/* From a cloud's file to the points that its surface needs: units settled, classes chosen, ground found, thinned. */
#include "exchange/cloud_file.h"
#include <stdio.h>
#include <string.h>
#include <time.h>

enum { GROUND = 2, NOISE = 7, HIGH_NOISE = 18 };

typedef struct job {
    const mst_cloud_import *import;
    mst_cloud_file *file;
    mst_cloud_report report;
    mst_arena *arena;
    size_t note_capacity;
    mst_cloud_classes classes;
    double progress_from; /* the first passes have a share of it */
} job;

static mst_status no_memory(mst_error *error) {
    return mst_fail(error, MST_NO_MEMORY, "Not enough memory for the cloud.");
}

#define NOTE(job, ...) add_note((job), mst_arena_printf((job)->arena, __VA_ARGS__))
static bool add_note(job *j, const char *sentence) {
    const char **note = sentence ? MST_PUSH(j->arena, j->report.notes, j->report.note_count, j->note_capacity) : NULL;
    if (note) *note = sentence;
    return note != NULL;
}

/* ---- units ---- */

static const char *unit_name(double metres) {
    return metres == 1               ? "m"
           : metres == 0.001         ? "mm"
           : metres == MST_FOOT_M    ? "ft"
           : metres == MST_FOOT_US_M ? "ftus"
                                     : "a unit of its own";
}

/* @return false when memory is short */
static bool note_contradiction(job *j, const char *what, double stated, double given) {
    return !(stated > 0 && given > 0 && stated != given) ||
           NOTE(j, "The file says that its %s are in %s; %s was taken as asked.", what, unit_name(stated),
                unit_name(given));
}

static mst_status settle_units(job *j, mst_error *error) {
    const mst_cloud_facts *f = mst_cloud_file_facts(j->file);
    const mst_cloud_import *in = j->import;
    mst_cloud_report *r = &j->report;
    if (f->degrees)
        return MST_CLOUD_REFUSE(j->file, error,
                                "The places are in degrees or earth-centred%s%s; areas and volumes need a plane: save "
                                "the cloud in a projected coordinate system.",
                                f->system[0] ? ": " : "", f->system);
    r->plan_m = in->plan_m > 0 ? in->plan_m : f->plan_m;
    if (!(r->plan_m > 0))
        return MST_CLOUD_REFUSE(
            j->file, error,
            "The file does not say its unit of length, and it cannot be guessed; give it: m, ft or ftus.");
    r->height_m = in->height_m > 0 ? in->height_m : f->height_m > 0 ? f->height_m : in->plan_m;
    if (!(r->height_m > 0))
        return MST_CLOUD_REFUSE(
            j->file, error,
            "The file gives its places in %s but does not say the unit of its levels; give it: m, ft or ftus.",
            unit_name(r->plan_m));
    if (!note_contradiction(j, "places", f->plan_m, in->plan_m) ||
        !note_contradiction(j, "levels", f->height_m, in->height_m))
        return no_memory(error);
    if (r->plan_m != r->height_m && !NOTE(j, "Places are in %s and levels in %s; both became metres.",
                                          unit_name(r->plan_m), unit_name(r->height_m)))
        return no_memory(error);
    return MST_OK;
}

/* ---- classes ---- */

static bool has_class(const uint64_t set[4], unsigned code) { return set[code >> 6] >> (code & 63) & 1; }
static void put_class(uint64_t set[4], unsigned code, bool in) {
    if (in) set[code >> 6] |= (uint64_t)1 << (code & 63);
    else set[code >> 6] &= ~((uint64_t)1 << (code & 63));
}

static mst_status count_classes(job *j, mst_error *error) {
    mst_cloud_source all = mst_cloud_of_classes(&j->classes);
    mst_cloud_point block[512];
    size_t count = 1;
    uint64_t read = 0, next = 0, step = all.expected / 20 + 1;
    mst_status status = all.rewind(all.self, error);
    for (; !status && count; read += count) {
        status = all.read(all.self, block, sizeof block / sizeof *block, &count, error);
        if (read < next || !j->import->progress.tell) continue;
        next = read + step;
        j->import->progress.tell(j->import->progress.self, all.expected ? 0.1 * (double)read / (double)all.expected : 0,
                                 "Looking for classes");
    }
    memcpy(j->report.by_class, j->classes.seen, sizeof j->report.by_class);
    return status;
}

/* What counts where nobody says: ground where the file has it, else all but noise. */
static mst_status choose_classes(job *j, mst_error *error) {
    const mst_cloud_import *in = j->import;
    bool given = in->classes[0] || in->classes[1] || in->classes[2] || in->classes[3];
    j->classes = (mst_cloud_classes){.from = mst_cloud_file_points(j->file, j->report.plan_m, j->report.height_m)};
    memset(j->classes.wanted, 0xFF, sizeof j->classes.wanted);
    if (given && !mst_cloud_file_facts(j->file)->classed)
        return MST_CLOUD_REFUSE(j->file, error, "Classes were asked for, but the points of this file have none.");
    if (given) {
        memcpy(j->classes.wanted, in->classes, sizeof in->classes);
        return MST_OK;
    }
    put_class(j->classes.wanted, NOISE, false);
    put_class(j->classes.wanted, HIGH_NOISE, false);
    if (in->find_ground || !mst_cloud_file_facts(j->file)->classed) return MST_OK;
    j->progress_from = 0.1;
    mst_status status = count_classes(j, error);
    if (status) return status;
    if (j->classes.seen[GROUND]) {
        memset(j->classes.wanted, 0, sizeof j->classes.wanted);
        put_class(j->classes.wanted, GROUND, true);
        return MST_OK;
    }
    return NOTE(j, "No point of the file is classed as ground; all but noise were taken. Plants and buildings are in "
                   "unless the ground is looked for.")
               ? MST_OK
               : no_memory(error);
}

/* ---- the whole ---- */

/* The later passes' part of the progress. */
static void tell_rest(void *self, double fraction, const char *sentence) {
    const job *j = self;
    if (j->import->progress.tell)
        j->import->progress.tell(j->import->progress.self, j->progress_from + (1 - j->progress_from) * fraction,
                                 sentence);
}

static void tell_ground(void *self, double fraction, const char *sentence) {
    tell_rest(self, 0.3 * fraction, sentence);
}

static mst_status find_ground(job *j, mst_cloud_source *source, mst_error *error) {
    mst_cloud_ground_options options = j->import->ground;
    mst_cloud_ground *ground;
    options.progress = (mst_progress){j, tell_ground};
    mst_status status = mst_cloud_find_ground(source, &options, j->arena, &ground, error);
    if (status) return status;
    *source = mst_cloud_ground_points(ground);
    j->progress_from += 0.3 * (1 - j->progress_from);
    return MST_OK;
}

static mst_status say_the_rest(job *j, mst_error *error) {
    const mst_cloud_facts *f = &j->report.facts;
    const mst_cloud_fit *fit = &j->report.thinned.fit;
    bool fine = !f->note[0] || add_note(j, mst_arena_string(j->arena, f->note));
    if (fine && j->report.withheld)
        fine = NOTE(j, "%llu points are marked as deleted in the file and were left out.",
                    (unsigned long long)j->report.withheld);
    if (fine && fit->beyond)
        fine = NOTE(j,
                    "%llu points lie over the tolerance from the surface, up to %.3f m near %.2f E, %.2f N: the cloud "
                    "has several levels at one place there, "
                    "as at a wall, a tree or a stray reading.",
                    (unsigned long long)fit->beyond, fit->largest_m, fit->worst.easting_m, fit->worst.northing_m);
    return fine ? MST_OK : no_memory(error);
}

static mst_status run(job *j, mst_error *error) {
    mst_cloud_scratch scratch = {0};
    mst_cloud_store store = mst_cloud_scratch_store(&scratch);
    mst_cloud_thin_options options = {.tolerance_m = j->import->tolerance_m,
                                      .points_most = j->import->points_most,
                                      .store = &store,
                                      .progress = {j, tell_rest}};
    mst_status status = settle_units(j, error);
    if (!status) status = choose_classes(j, error);
    if (status) return status;
    mst_cloud_source source = mst_cloud_of_classes(&j->classes);
    if (j->import->find_ground) status = find_ground(j, &source, error);
    if (!status) status = mst_cloud_thin(&source, &options, j->arena, &j->report.thinned, error);
    mst_cloud_scratch_close(&scratch);
    if (status) return status;
    memcpy(j->report.by_class, j->classes.seen, sizeof j->report.by_class);
    for (unsigned c = 0; c < 256; c++) {
        j->report.read += j->report.by_class[c];
        if (has_class(j->classes.wanted, c)) j->report.wanted += j->report.by_class[c];
    }
    j->report.withheld = j->file->withheld;
    j->report.facts = *mst_cloud_file_facts(j->file);
    return say_the_rest(j, error);
}

static double seconds_now(void) {
    struct timespec now = {0};
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

/* A refusal that has no place of origin of its own is the file's. */
static mst_status name_file(const mst_cloud_file *file, mst_error *error, mst_status status) {
    if (status && error && !error->page[0]) memcpy(error->page, file->name, sizeof error->page);
    return status;
}

mst_status mst_cloud_to_points(const char *path, const mst_cloud_import *import, mst_arena *arena,
                               mst_cloud_report *report, mst_error *error) {
    double start = seconds_now();
    job j = {.import = import, .arena = arena};
    mst_status status = mst_cloud_open(path, import->columns, &j.file, error);
    if (status) return status;
    status = name_file(j.file, error, run(&j, error));
    mst_cloud_close(j.file);
    if (status) return status;
    j.report.seconds = seconds_now() - start;
    *report = j.report;
    return MST_OK;
}
