/* Words to an operation's arguments, its result to text. */
#include "cli/cli.h"
#include "cli/result.h"
#include "cli/sheets.h"
#include "merestone/estimate.h"
#include "merestone/site.h"
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

/* What a command takes beyond --word value pairs, which go to its operation under their own names. */
typedef struct command {
    const char *name, *operation, *usage;
    const char *positional[2]; /**< argument names of the words behind the site; "FILE" reads a file */
    const char *file_option;   /**< --file reads this file into "text" */
} command;

static const command COMMANDS[] = {
    {"new", "new", "new SITE.gpkg [--title TEXT] [--units metric|imperial]", {0}, 0},
    {"import",
     "import",
     "import SITE.gpkg FILE.csv --as PAGE [--visit NAME] [--gear NAME] [--frame site] [--columns HEADER]",
     {"FILE"},
     0},
    {"cloud",
     "cloud",
     "cloud SITE.gpkg FILE [--tolerance 0.05] [--classes 2,8] [--find-ground] [--unit m|ft|ftus] [--height-unit "
     "m|ft|ftus] [--visit NAME]",
     {"path"},
     0},
    {"adjust", "adjust", "adjust SITE.gpkg", {0}, 0},
    {"traverse", "traverse", "traverse SITE.gpkg [--page NAME] [--rule compass|transit] [--csv]", {0}, 0},
    {"levels", "levels", "levels SITE.gpkg [--page NAME] [--method rise-and-fall|collimation] [--csv]", {0}, 0},
    {"ground", "ground", "ground SITE.gpkg [--next N]", {0}, 0},
    {"elevation", "elevation", "elevation SITE.gpkg EASTING NORTHING | --in AREA", {"easting", "northing"}, 0},
    {"contours",
     "contours",
     "contours SITE.gpkg [--interval M] [--smooth] [--label-width M] [-o FILE.geojson|FILE.dxf]",
     {0},
     0},
    {"profile", "profile", "profile SITE.gpkg --along FEATURE | --from E,N --to E,N", {0}, 0},
    {"drain", "drain", "drain SITE.gpkg [--finished [--rainfall MM_H] [--runoff 0.9]] [--from E,N]", {0}, 0},
    {"works", "works", "works SITE.gpkg [--file works.json]", {0}, "file"},
    {"measure", "measure", "measure SITE.gpkg FEATURE", {"feature"}, 0},
    {"rounds", "rounds", "rounds SITE.gpkg [--page NAME]", {0}, 0},
    {"two-peg", "two-peg", "two-peg SITE.gpkg --mid-a M --mid-b M --near-a M --near-b M --to-a M --to-b M", {0}, 0},
    {"fit-visits",
     "fit-visits",
     "fit-visits SITE.gpkg --from VISIT|design --to VISIT|site [--free-scale] [--in-space]",
     {0},
     0},
    {"plan-visit", "plan-visit", "plan-visit SITE.gpkg FILE.csv|FILE.json [--aim 20mm]", {"FILE"}, 0},
    {"next", "next", "next SITE.gpkg --for FEATURE", {0}, 0},
    {"volume",
     "volume",
     "volume SITE.gpkg [--element NAME --level Z | --level Z [--in FEATURE] | --depth M --in FEATURE | --from VISIT "
     "--to VISIT]",
     {0},
     0},
    {"balance",
     "balance",
     "balance SITE.gpkg --element NAME [--by level|fall] | --in FEATURE | --elements A,B",
     {0},
     0},
    {"against", "against", "against SITE.gpkg FILE.xml [--in AREA] [--surface NAME]", {"FILE"}, 0},
    {"grade", "grade", "grade SITE.gpkg --file wishes.json", {0}, "file"},
    {"haul", "haul", "haul SITE.gpkg [--haul PRICE] [--import PRICE] [--cart-away PRICE]", {0}, 0},
    {"sections", "sections", "sections SITE.gpkg --along LINE [--spacing 5] [--width 20]", {0}, 0},
    {"takeoff", "takeoff", "takeoff SITE.gpkg", {0}, 0},
    {"estimate", "estimate", "estimate SITE.gpkg [--csv]", {0}, 0},
    {"draw",
     "draw",
     "draw SITE.gpkg [--sheet NAME | --sheet sections --along LINE [--spacing 5] [--width 20]] [--scale N] [--paper "
     "A3] [--ground shade|slopes|levels|doubt] -o "
     "FILE.pdf|FILE.svg|FILE.png",
     {0},
     0},
    {"export", "export", "export SITE.gpkg --to dxf|geojson|csv|landxml|gpx|xlsx -o FILE", {0}, 0},
    {"setout",
     "setout",
     "setout SITE.gpkg [--method ties|polar|offsets|grades] [--origin STAKE --direction STAKE] [--at POINT --backsight "
     "POINT] [--misfit 25mm] [--reach 30]",
     {0},
     0},
    {"verify",
     "verify",
     "verify SITE.gpkg [FILE.csv] [--gear NAME] [--plan 25mm] [--height 10mm] [--confidence 0.95]",
     {"FILE"},
     0},
    {"set-aside", "set-aside", "set-aside SITE.gpkg --page NAME --row N --reason TEXT | --take-back", {0}, 0},
    {"gear", "gear", "gear SITE.gpkg", {0}, 0},
    {"set-gear",
     "put-gear",
     "set-gear SITE.gpkg NAME [--like GEAR] [--distance-m 0.003] [--distance-ppm 2] [--angle-dms 0-00-05] [--staff-m "
     "0.001] ... [--source TEXT]",
     {"name"},
     0},
    {"set", "put-setting", "set SITE.gpkg KEY VALUE", {"key", "value"}, 0},
    {"history", "history", "history SITE.gpkg", {0}, 0},
    {"undo", "undo", "undo SITE.gpkg", {0}, 0},
    {"redo", "redo", "redo SITE.gpkg", {0}, 0},
    {"serve", NULL, "serve SITE.gpkg [--port N] [--open] [--web FOLDER]", {0}, 0},
};
enum { COMMAND_COUNT = sizeof COMMANDS / sizeof *COMMANDS };

/* What a command cannot do without, in the words that are typed for it. */
static const struct {
    const char *command, *argument, *sentence;
} NEEDED[] = {
    {"import", "text", "Name the file to take in: import SITE.gpkg FILE.csv --as PAGE."},
    {"import", "page", "Say with --as what page the file is: --as points, --as tape and so on."},
    {"cloud", "path", "Name the scan to take in: cloud SITE.gpkg FILE."},
    {"measure", "feature", "Name the feature to measure: measure SITE.gpkg FEATURE."},
    {"plan-visit", "text", "Name the file of the plan: plan-visit SITE.gpkg FILE.csv."},
    {"next", "for", "Name the feature to sharpen: --for FEATURE."},
    {"grade", "text", "Name the file of the wishes: --file wishes.json."},
    {"draw", "output", "Say with -o where the sheet goes: -o FILE.pdf, FILE.svg or FILE.png."},
    {"export", "to", "Say with --to what file it is to be: --to dxf, geojson, csv, landxml, gpx or xlsx."},
    {"export", "output", "Say with -o where the file goes: -o FILE."},
    {"set-gear", "name", "Name the gear: set-gear SITE.gpkg NAME."},
    {"set", "key", "Name the setting and its value: set SITE.gpkg KEY VALUE."},
    {"set", "value", "The setting's value is missing: set SITE.gpkg KEY VALUE; \"\" takes the setting back."},
};

static mst_status needed(const command *c, const json_t *arguments, mst_error *error) {
    for (size_t i = 0; i < sizeof NEEDED / sizeof *NEEDED; i++)
        if (strcmp(NEEDED[i].command, c->name) == 0 && !json_object_get(arguments, NEEDED[i].argument))
            return mst_fail(error, MST_INVALID, "%s", NEEDED[i].sentence);
    return MST_OK;
}

/* Options without a value. */
static const char *const FLAGS[] = {"find-ground", "json",     "portrait", "take-back",   "stakes",
                                    "with-ground", "open",     "csv",      "point-names", "ellipses",
                                    "free-scale",  "in-space", "finished", "smooth",      NULL};

static bool in_list(const char *word, const char *const list[]) {
    for (; *list; list++)
        if (strcmp(word, *list) == 0) return true;
    return false;
}

static int usage(FILE *err, const command *c) {
    if (c) {
        fprintf(err, "usage: merestone %s\n", c->usage);
        return 2;
    }
    fprintf(err, "merestone: from readings to a job built right. Every command takes --json.\n\n");
    for (size_t i = 0; i < COMMAND_COUNT; i++) fprintf(err, "  merestone %s\n", COMMANDS[i].usage);
    fprintf(err, "\nExcavations, services, walls and slopes: local code and licensed practice come first; these "
                 "figures do not replace them.\n");
    return 2;
}

int cli_refuse(const mst_error *error, FILE *err) {
    if (error->page[0])
        fprintf(err, "%s:%d:%d: %s\n", error->page, error->row > 0 ? error->row : 1,
                error->column > 0 ? error->column : 1, error->sentence);
    else fprintf(err, "merestone: %s\n", error->sentence);
    return mst_exit_code(error->status);
}

static const char *base_name(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

/* Reads a whole file of at most the size of a field page. The caller frees it. */
static mst_status read_file(const char *path, char **data, size_t *length, mst_error *error) {
    FILE *f = fopen(path, "rb");
    if (!f)
        return mst_fail_at(error, MST_NOT_FOUND, base_name(path), 0, 0, "The file cannot be opened: %s.",
                           strerror(errno));
    size_t room = 1 << 16, n = 0;
    char *text = malloc(room);
    while (text) {
        n += fread(text + n, 1, room - n, f);
        if (n < room || n > MST_PAGE_BYTES_MAX) break;
        room *= 2;
        char *grown = realloc(text, room);
        if (!grown) free(text);
        text = grown;
    }
    bool broken = ferror(f) != 0, folder = broken && errno == EISDIR;
    long long size = n > MST_PAGE_BYTES_MAX && fseek(f, 0, SEEK_END) == 0 ? (long long)ftell(f) : (long long)n;
    fclose(f);
    if (!text) return mst_fail(error, MST_NO_MEMORY, "Not enough memory for '%s'.", path);
    if (folder) {
        free(text);
        return mst_fail_at(error, MST_INVALID, base_name(path), 0, 0, "This is a folder; name the file in it.");
    }
    if (broken) {
        free(text);
        return mst_fail_at(error, MST_IO, base_name(path), 0, 0, "The file cannot be read to its end.");
    }
    if (n > MST_PAGE_BYTES_MAX) {
        free(text);
        return mst_fail_at(
            error, MST_INVALID, base_name(path), 0, 0,
            "The file has %lld MB; a field page holds at most %u MB. A scan comes in thinned, as points.", size >> 20,
            MST_PAGE_BYTES_MAX >> 20);
    }
    *data = text;
    *length = n;
    return MST_OK;
}

/* A file's text as an argument. Bytes that are no UTF-8 cannot be one: the page's reader says what is wrong with them.
 */
static mst_status take_file(const char *path, json_t *arguments, mst_error *error) {
    char *data = NULL;
    size_t length = 0;
    mst_status status = read_file(path, &data, &length, error);
    if (status) return status;
    const char *text = data;
    json_t *value = json_stringn(text, length);
    if (value) {
        json_object_set_new(arguments, "text", value);
        json_object_set_new(arguments, "name", json_string(base_name(path)));
    } else {
        mst_arena *arena = mst_arena_new();
        mst_page page;
        status = arena ? mst_page_read(MST_PAGE_POINTS, base_name(path), data, length, NULL, arena, &page, error)
                       : MST_NO_MEMORY;
        if (!status) status = mst_fail_at(error, MST_INVALID, base_name(path), 0, 0, "The file is not UTF-8 text.");
        mst_arena_free(arena);
    }
    free(data);
    return status;
}

/* ---- the words ---- */

typedef struct request {
    const command *command;
    const char *site;
    json_t *arguments;
    bool json, csv;
    const cli_context *context;
} request;

static mst_status take_option(request *r, const char *name, const char *value, mst_error *error) {
    if (r->command->file_option && strcmp(name, r->command->file_option) == 0)
        return take_file(value, r->arguments, error);
    const char *key = name;
    if (strcmp(name, "as") == 0) key = "page";
    else if (strcmp(name, "o") == 0) key = "output";
    else if (strcmp(name, "title") == 0 && strcmp(r->command->name, "draw") == 0) key = "sheet-title";
    json_t *text = json_string(value);
    if (!text) return mst_fail(error, MST_INVALID, "The value of --%s is not UTF-8 text.", name);
    json_object_set_new(r->arguments, key, text);
    return MST_OK;
}

static bool is_option(const char *word) {
    return word[0] == '-' && (word[1] == '-' || (word[1] >= 'a' && word[1] <= 'z'));
}

/* --name=value in one word. */
static mst_status take_pair(request *r, const char *word, mst_error *error) {
    const char *equals = strchr(word, '=');
    char name[80];
    snprintf(name, sizeof name, "%.*s", (int)(equals - word), word);
    return take_option(r, name, equals + 1, error);
}

static void take_flag(request *r, const char *name) {
    if (strcmp(name, "json") == 0) r->json = true;
    else if (strcmp(name, "csv") == 0) r->csv = true;
    else json_object_set_new(r->arguments, name, json_true());
}

static mst_status no_value(const request *r, const char *word, mst_error *error) {
    if (strstr(r->command->usage, word)) return mst_fail(error, MST_INVALID, "%s needs a value.", word);
    return mst_fail(error, MST_INVALID, "%.60s is no option of %s, or its value is missing.", word, r->command->name);
}

static mst_status take_words(request *r, int count, char *const words[], mst_error *error) {
    int position = 0;
    for (int i = 2; i < count; i++) {
        const char *word = words[i];
        if (is_option(word)) {
            const char *name = word + (word[1] == '-' ? 2 : 1);
            mst_status status = MST_OK;
            if (in_list(name, FLAGS)) take_flag(r, name);
            else if (word[1] == '-' && strchr(name, '=') > name) status = take_pair(r, name, error);
            else if (i + 1 >= count) status = no_value(r, word, error);
            else status = take_option(r, name, words[++i], error);
            if (status) return status;
            continue;
        }
        if (!r->site) {
            r->site = word;
            continue;
        }
        const char *key = position < 2 ? r->command->positional[position++] : NULL;
        if (!key) return mst_fail(error, MST_INVALID, "'%s' is one word too many.", word);
        mst_status status = MST_OK;
        if (strcmp(key, "FILE") == 0) status = take_file(word, r->arguments, error);
        else if (json_object_set_new(r->arguments, key, json_string(word)) != 0)
            status = mst_fail(error, MST_INVALID, "'%s' is not UTF-8 text.", key);
        if (status) return status;
    }
    if (!r->site) return mst_fail(error, MST_INVALID, "The site file is missing.");
    return needed(r->command, r->arguments, error);
}

/* ---- running it ---- */

static void estimate_csv(const json_t *result, FILE *out) {
    static const char *const KEYS[] = {"item",  "unit",      "net",   "waste_percent", "gross",
                                       "packs", "pack_unit", "spare", "rate",          "amount"};
    mst_text text = {0};
    const char *currency = json_string_value(json_object_get(result, "currency"));
    int decimals = mst_currency_decimals(currency ? currency : "");
    char amount[40];
    for (size_t k = 0; k < 10; k++) mst_text_printf(&text, "%s%s", k ? "," : "", KEYS[k]);
    mst_text_string(&text, "\n");
    size_t i;
    json_t *line;
    json_array_foreach(json_object_get(result, "lines"), i, line) {
        for (size_t k = 0; k < 10; k++) {
            const json_t *v = json_object_get(line, KEYS[k]);
            if (k) mst_text_string(&text, ",");
            if (json_is_string(v)) mst_text_csv(&text, json_string_value(v));
            else if (json_is_number(v) && k >= 8) mst_text_string(&text, money(json_number_value(v), decimals, amount));
            else if (json_is_number(v)) mst_text_printf(&text, "%.10g", json_number_value(v));
        }
        mst_text_string(&text, "\n");
    }
    if (text.data) fputs(text.data, out);
    mst_text_free(&text);
}

static void show(const request *r, const json_t *result, bool imperial, FILE *out) {
    cli_print *print = cli_printer_of(r->command->operation);
    cli_print *csv = strcmp(r->command->name, "traverse") == 0 ? cli_csv_traverse
                     : strcmp(r->command->name, "levels") == 0 ? cli_csv_levels
                                                               : NULL;
    if (r->csv && strcmp(r->command->name, "estimate") == 0) estimate_csv(result, out);
    else if (r->csv && csv) csv(&(cli_printer){out, imperial}, result);
    else if (!r->json && print) print(&(cli_printer){out, imperial}, result);
    else {
        json_dumpf(result, out, JSON_INDENT(1) | JSON_REAL_PRECISION(15));
        fputc('\n', out);
    }
}

/* On one line that is written over, and only where somebody watches. */
static void show_progress(void *self, double fraction, const char *sentence) {
    FILE *err = self;
    fprintf(err, "\r%3.0f %%  %-40s", 100 * fraction, sentence);
    fflush(err);
}
static void end_progress(FILE *err) { fprintf(err, "\r%48s\r", ""); }

/* A file cannot be made in a folder that is not there. */
static mst_status has_folder(const char *path, mst_error *error) {
    const char *slash = strrchr(path, '/');
    char folder[4096];
    if (!slash || slash == path || (size_t)(slash - path) >= sizeof folder) return MST_OK;
    snprintf(folder, sizeof folder, "%.*s", (int)(slash - path), path);
    if (access(folder, F_OK) == 0) return MST_OK;
    return mst_fail_at(error, MST_NOT_FOUND, path, 0, 0, "There is no folder '%.200s'; make it first.", folder);
}

static int operate(const request *r) {
    FILE *out = r->context->out, *err = r->context->err;
    const char *who = r->context->who;
    mst_session *session = NULL;
    mst_error error = {0};
    json_t *result = NULL;
    bool is_new = strcmp(r->command->name, "new") == 0;
    if (is_new && has_folder(r->site, &error)) return cli_refuse(&error, err);
    if (is_new) json_object_set_new(r->arguments, "path", json_string(r->site));
    else if (mst_session_open(r->site, &session, &error)) return cli_refuse(&error, err);
    const mst_operation *operation = mst_operation_named(r->command->operation);
    if ((operation->changes || is_new) && *who && !json_object_get(r->arguments, "who"))
        json_object_set_new(r->arguments, "who", json_string(who));
    bool dated = strcmp(operation->name, "draw") == 0 || strcmp(operation->name, "export") == 0;
    if (dated && *r->context->today && !json_object_get(r->arguments, "date"))
        json_object_set_new(r->arguments, "date", json_string(r->context->today));
    bool watched = session && strcmp(operation->name, "cloud") == 0 && isatty(fileno(err));
    if (watched) mst_session_on_progress(session, err, show_progress);
    mst_status status = mst_operate(session, operation->name, r->arguments, &result, &error);
    if (watched) end_progress(err);
    if (result) show(r, result, session && mst_session_imperial(session), out);
    json_decref(result);
    mst_session_close(session);
    if (fflush(out) != 0 || ferror(out)) {
        fprintf(err, "merestone: The output could not be written.\n");
        return 3;
    }
    error.status = status;
    return status ? cli_refuse(&error, err) : 0;
}

static bool is_help(const char *word) { return strcmp(word, "--help") == 0 || strcmp(word, "-h") == 0; }

int cli_run(int count, char *const words[], const cli_context *context) {
    FILE *out = context->out, *err = context->err;
    if (count >= 2 && (strcmp(words[1], "--version") == 0 || strcmp(words[1], "version") == 0)) {
        fprintf(out, "merestone %s\n", MERESTONE_VERSION);
        return 0;
    }
    request r = {.context = context};
    for (; count >= 2 && strcmp(words[1], "--json") == 0; count--, words++) r.json = true; /* before the command too */
    for (size_t i = 0; count >= 2 && i < COMMAND_COUNT; i++)
        if (strcmp(words[1], COMMANDS[i].name) == 0) r.command = &COMMANDS[i];
    if (!r.command) {
        bool asked = count >= 2 && (strcmp(words[1], "help") == 0 || is_help(words[1]));
        if (count >= 2 && !asked) fprintf(err, "merestone: There is no command '%s'.\n\n", words[1]);
        usage(asked ? out : err, NULL);
        return asked ? 0 : 2;
    }
    if (count >= 3 && is_help(words[2])) {
        usage(out, r.command);
        return 0;
    }
    mst_error error = {0};
    r.arguments = json_object();
    int exit_status;
    if (take_words(&r, count, words, &error)) {
        exit_status = cli_refuse(&error, err);
        if (!error.page[0]) usage(err, r.command);
    } else exit_status = r.command->operation ? operate(&r) : cli_serve(r.site, r.arguments, context);
    json_decref(r.arguments);
    return exit_status;
}
