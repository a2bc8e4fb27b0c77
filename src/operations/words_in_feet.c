#include "operations/words_in_feet.h"
#include <stdio.h>
#include <string.h>

/* Where an answer speaks; every other text is a name, a unit or a word of the contract. */
static bool speaks(const char *key) {
    static const char *const KEYS[] = {"sentence", "words",       "warnings", "cautions",
                                       "caution",  "cloud_notes", "notes",    "undetermined_why"};
    for (size_t i = 0; i < sizeof KEYS / sizeof *KEYS; i++)
        if (strcmp(key, KEYS[i]) == 0) return true;
    return false;
}

static bool reword(json_t *said) {
    mst_text text = {0};
    mst_words_in_feet(json_string_value(said), &text);
    bool ok = !text.failed && json_string_set(said, text.data ? text.data : "") == 0;
    mst_text_free(&text);
    return ok;
}

static bool reword_all(json_t *said) {
    if (json_is_string(said)) return reword(said);
    size_t i;
    json_t *one;
    bool ok = true;
    json_array_foreach(said, i, one) if (json_is_string(one)) ok = reword(one) && ok;
    return ok;
}

enum { DEEPEST = 12 }; /* of an answer; none of ours nests half as deep */

static bool walk(json_t *answer, int depth) {
    if (depth > DEEPEST) return true;
    bool ok = true;
    const char *key;
    size_t i;
    json_t *value;
    json_object_foreach(answer, key, value) {
        if (speaks(key)) ok = reword_all(value) && ok;
        ok = walk(value, depth + 1) && ok;
    }
    json_array_foreach(answer, i, value) ok = walk(value, depth + 1) && ok;
    return ok;
}

bool mst_answer_in_feet(json_t *answer) { return walk(answer, 0); }

void mst_error_in_feet(mst_error *error) {
    mst_text text = {0};
    mst_words_in_feet(error->sentence, &text);
    if (!text.failed && text.data) {
        snprintf(error->sentence, sizeof error->sentence, "%s", text.data);
        mst_text_tidy(error->sentence);
    }
    mst_text_free(&text);
}
