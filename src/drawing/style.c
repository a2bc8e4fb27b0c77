/* The table is ours; that a fence differs from a hedge and that a service carries its letter is common practice.
 * The first row that matches wins, so the narrow words stand above the wide ones. */
#include "drawing/style.h"
#include <ctype.h>
#include <string.h>

#define LINE(words, legend, ink, dash) words, legend, MST_INK_##ink, MST_DASH_##dash
#define SERVICE(words, legend, letter)                                                                                 \
    {                                                                                                                  \
        LINE(words, legend, MEDIUM, LONG), MST_BEAT_LETTER, letter, MST_FILL_NONE, MST_MARK_COVER, false, false,       \
            MST_MATTER_SERVICE                                                                                         \
    }

static const mst_style STYLES[] = {
    SERVICE("electric,power,cable", "electricity found", "E"),
    SERVICE("gas", "gas found", "G"),
    SERVICE("water main,water pipe,water service,water supply", "water pipe found", "W"),
    SERVICE("telecom,telephone,fibre,comms", "telecom found", "T"),
    {LINE("manhole,chamber,cover,gully,inspection", "cover or gully", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_NONE,
     MST_MARK_COVER, true, false, MST_MATTER_NONE},
    SERVICE("drain,sewer,foul,storm pipe,soakaway", "drain found", "D"),
    SERVICE("service,duct,utility", "service found", "S"),
    {LINE("boundary,occupation", "line of occupation", MEDIUM, CHAIN), MST_BEAT_NONE, "", MST_FILL_NONE, MST_MARK_POST,
     false, true, MST_MATTER_OCCUPATION},
    {LINE("building,house,garage,shed,extension,dwelling,barn", "building", HEAVY, NONE), MST_BEAT_NONE, "",
     MST_FILL_BUILDING, MST_MARK_RING, true, true, MST_MATTER_NONE},
    {LINE("retain", "retaining wall", HEAVY, NONE), MST_BEAT_NONE, "", MST_FILL_NONE, MST_MARK_RING, true, true,
     MST_MATTER_WALL},
    {LINE("wall", "wall", HEAVY, NONE), MST_BEAT_NONE, "", MST_FILL_NONE, MST_MARK_RING, true, true, MST_MATTER_WALL},
    {LINE("fence,railing,paling", "fence", MEDIUM, NONE), MST_BEAT_STICKS, "", MST_FILL_NONE, MST_MARK_POST, false,
     true, MST_MATTER_NONE},
    {LINE("gate", "gate", MEDIUM, SHORT), MST_BEAT_NONE, "", MST_FILL_NONE, MST_MARK_POST, false, true,
     MST_MATTER_NONE},
    {LINE("hedge", "hedge", FINE, NONE), MST_BEAT_LEAVES, "", MST_FILL_NONE, MST_MARK_TREE, false, false,
     MST_MATTER_NONE},
    {LINE("kerb,curb,edging", "kerb or edging", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_NONE, MST_MARK_RING, true,
     true, MST_MATTER_NONE},
    {LINE("threshold,door,sill,damp,dpc,ffl", "threshold or DPC", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_NONE,
     MST_MARK_DOOR, true, false, MST_MATTER_NONE},
    {LINE("step,stair,ramp", "steps", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_PAVING, MST_MARK_RING, true, true,
     MST_MATTER_NONE},
    {LINE("drive,parking,road,gravel", "drive", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_GRAVEL, MST_MARK_RING, true,
     true, MST_MATTER_NONE},
    {LINE("terrace,patio,paving,paved,flags,slab,deck", "paving", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_PAVING,
     MST_MARK_RING, true, true, MST_MATTER_NONE},
    {LINE("path,walk", "path", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_PAVING, MST_MARK_RING, true, true,
     MST_MATTER_NONE},
    {LINE("tree,trunk,canopy", "tree", FINE, NONE), MST_BEAT_LEAVES, "", MST_FILL_NONE, MST_MARK_TREE, false, false,
     MST_MATTER_TREE},
    {LINE("bed,border,plant,shrub", "planting", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_PLANTS, MST_MARK_TREE, false,
     true, MST_MATTER_NONE},
    {LINE("lawn,grass,turf", "grass", FINE, NONE), MST_BEAT_NONE, "", MST_FILL_NONE, MST_MARK_RING, false, true,
     MST_MATTER_NONE},
    {LINE("swale,ditch,channel", "swale or ditch", MEDIUM, DOT), MST_BEAT_ARROWS, "", MST_FILL_NONE, MST_MARK_RING,
     false, true, MST_MATTER_NONE},
    {LINE("pond,pool,stream,water", "water", FINE, NONE), MST_BEAT_NONE, "", MST_FILL_WATER, MST_MARK_RING, false, true,
     MST_MATTER_NONE},
    {LINE("bank,slope,batter,toe,ridge,breakline", "change of slope", FINE, LONG), MST_BEAT_NONE, "", MST_FILL_NONE,
     MST_MARK_RING, false, false, MST_MATTER_NONE},
    {LINE("post,pole,lamp,column,bollard", "post", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_NONE, MST_MARK_POST, true,
     false, MST_MATTER_NONE},
    {LINE("rock,boulder,stone", "stone", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_NONE, MST_MARK_STONE, false, false,
     MST_MATTER_NONE},
};
static const mst_style OTHERS[] = {{LINE("", "other line", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_NONE,
                                    MST_MARK_RING, false, true, MST_MATTER_NONE},
                                   {LINE("", "other area", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_NONE,
                                    MST_MARK_RING, false, true, MST_MATTER_NONE},
                                   {LINE("", "other detail", MEDIUM, NONE), MST_BEAT_NONE, "", MST_FILL_NONE,
                                    MST_MARK_RING, false, false, MST_MATTER_NONE}};
static const mst_style CHANGE_OF_SLOPE = {LINE("", "change of slope", FINE, LONG),
                                          MST_BEAT_NONE,
                                          "",
                                          MST_FILL_NONE,
                                          MST_MARK_RING,
                                          false,
                                          false,
                                          MST_MATTER_NONE};
static const mst_style LIMIT = {LINE("", "limit of model", FINE, SHORT),
                                MST_BEAT_NONE,
                                "",
                                MST_FILL_NONE,
                                MST_MARK_RING,
                                false,
                                false,
                                MST_MATTER_NONE};
static const mst_style HOLE = {LINE("", "no levels inside", FINE, SHORT),
                               MST_BEAT_NONE,
                               "",
                               MST_FILL_NONE,
                               MST_MARK_RING,
                               false,
                               false,
                               MST_MATTER_NONE};

static bool begins(const char *text, const char *word, size_t length) {
    for (size_t i = 0; i < length; i++)
        if (tolower((unsigned char)text[i]) != word[i]) return false;
    return true;
}

static bool contains(const char *text, const char *word, size_t length) {
    for (; *text; text++)
        if (begins(text, word, length)) return true;
    return false;
}

static bool contains_any(const char *text, const char *words) {
    while (*words) {
        size_t length = strcspn(words, ",");
        if (contains(text, words, length)) return true;
        words += length + (words[length] == ',');
    }
    return false;
}

const mst_style *mst_style_for(const char *code, mst_feature_kind kind, mst_role role) {
    for (size_t i = 0; code && i < sizeof STYLES / sizeof *STYLES; i++)
        if (contains_any(code, STYLES[i].words)) return &STYLES[i];
    if (role == MST_ROLE_BREAKLINE) return &CHANGE_OF_SLOPE;
    if (role == MST_ROLE_BOUNDARY) return &LIMIT;
    if (role == MST_ROLE_HOLE) return &HOLE;
    return &OTHERS[kind == MST_FEATURE_LINE ? 0 : kind == MST_FEATURE_AREA ? 1 : 2];
}
