/* mst_operate: any JSON to any operation of an open site, as a web page or a phone would send it. The first byte says
 * which operation; the site is the same at each start. Nothing is written outside of the file: `output` is taken away.
 */
#include "fuzz_helper.h"
#include "merestone/operations.h"
#include "site/file.h"
#include <unistd.h>

static char path[64];
static mst_session *session;

static const char *const SITE[][2] = {
    {"{\"page\":\"control\",\"name\":\"c.csv\",\"text\":\"point,easting (m),northing (m),elevation "
     "(m)\\nA,0,0,10\\nB,20,0,10.5\\nC,20,20,11\\nD,0,20,10.2\\nE,11,9,10.7\\n\"}",
     "import"},
    {"{\"page\":\"features\",\"name\":\"f.csv\",\"text\":\"feature,kind,code,point,edge,role\\nbed,area,bed,A,,\\nbed,"
     "area,bed,B,,\\nbed,area,bed,C,,\\nhedge,line,hedge,A,,\\nhedge,line,hedge,E,,\\n\"}",
     "import"},
    {"{\"page\":\"stakes\",\"name\":\"s.csv\",\"text\":\"stake,easting (m),northing "
     "(m)\\nA,0,0\\nB,20,0\\nS1,5,5\\n\"}",
     "import"},
    {"{\"page\":\"prices\",\"name\":\"p.csv\",\"text\":\"item,unit,code,measure,rate\\nturf,m2,bed,area,5\\n\"}",
     "import"}};

static void run(const char *name, const char *text) {
    json_t *arguments = json_loads(text, 0, NULL), *result = NULL;
    MUST(arguments && mst_operate(session, name, arguments, &result, NULL) == MST_OK);
    json_decref(arguments);
    json_decref(result);
}

static void start(void) {
    snprintf(path, sizeof path, "%s/merestone-fuzz-operation-%ld.gpkg",
             access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp", (long)getpid());
    mst_session_close(session);
    unlink(path);
    MUST(mst_file_create(path, "Garden", "metric", "ann", NULL) == MST_OK &&
         mst_session_open(path, &session, NULL) == MST_OK);
    for (size_t i = 0; i < sizeof SITE / sizeof *SITE; i++) run(SITE[i][1], SITE[i][0]);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    static size_t changes;
    if (!session || changes > 200) start(), changes = 0;
    bytes b = {data, data + size};
    size_t count;
    const mst_operation *operations = mst_operations(&count), *chosen = &operations[take(&b) % count];
    if (strcmp(chosen->name, "new") == 0) return 0;
    json_t *arguments = json_loadb((const char *)b.at, (size_t)(b.end - b.at), JSON_REJECT_DUPLICATES, NULL),
           *result = NULL;
    if (!json_is_object(arguments)) {
        json_decref(arguments);
        return 0;
    }
    json_object_del(arguments, "output");
    json_object_del(arguments, "path");
    mst_error error = {0};
    int64_t before = mst_session_revision(session);
    mst_status status = mst_operate(session, chosen->name, arguments, &result, &error);
    must_say_why(status, &error);
    int64_t after = mst_session_revision(session);
    if (status == MST_OK) {
        MUST(result);
        char *text = json_dumps(result, JSON_ENCODE_ANY);
        MUST(text);
        free(text);
        /* a change that changes nothing makes no revision */
        MUST(after == before || (chosen->changes && after == before + 1));
    } else MUST(after == before);
    changes += (size_t)(after - before);
    json_decref(result);
    json_decref(arguments);
    return 0;
}
