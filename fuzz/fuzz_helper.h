/* Bytes to numbers, and what every answer must hold to. */
#ifndef FUZZ_HELPER_H
#define FUZZ_HELPER_H
#include "merestone/base.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* A broken promise ends the run, so that the fuzzer keeps the input. */
#define MUST(condition)                                                                                                \
    do {                                                                                                               \
        if (!(condition)) {                                                                                            \
            fprintf(stderr, "%s:%d: broken promise: %s\n", __FILE__, __LINE__, #condition);                            \
            abort();                                                                                                   \
        }                                                                                                              \
    } while (0)

typedef struct bytes {
    const uint8_t *at, *end;
} bytes;

static inline uint8_t take(bytes *b) { return b->at < b->end ? *b->at++ : 0; }
static inline bool left(const bytes *b) { return b->at < b->end; }

/* Mostly places on a small lattice, where points coincide and lines touch; now and then finer, far, or not a number. */
static inline double take_number(bytes *b) {
    uint8_t how = take(b);
    double coarse = (int8_t)take(b);
    if (how < 160) return coarse;
    if (how < 200) return coarse / 7 + take(b) / 1024.0;
    if (how < 220) return 500000 + coarse + take(b) / 256.0;
    if (how < 235) return coarse * 1e-9;
    if (how < 245) return coarse * pow(10, take(b) % 30 - 10);
    double raw = 0;
    uint8_t bits[sizeof raw];
    for (size_t i = 0; i < sizeof bits; i++) bits[i] = take(b);
    memcpy(&raw, bits, sizeof raw);
    return raw;
}

/* The rest as text; the caller frees it. */
static inline char *take_text(bytes *b) {
    size_t length = (size_t)(b->end - b->at);
    char *text = malloc(length + 1);
    if (!text) abort();
    if (length) memcpy(text, b->at, length);
    text[length] = '\0';
    b->at = b->end;
    return text;
}

static inline bool is_utf8(const char *text) {
    for (const unsigned char *c = (const unsigned char *)text; *c;) {
        int more = *c < 0x80 ? 0 : (*c & 0xE0) == 0xC0 ? 1 : (*c & 0xF0) == 0xE0 ? 2 : (*c & 0xF8) == 0xF0 ? 3 : -1;
        if (more < 0) return false;
        for (c++; more > 0; more--, c++)
            if ((*c & 0xC0) != 0x80) return false;
    }
    return true;
}

/* A refusal says what is wrong: one sentence, of text, on one line, with its status. */
static inline void must_say_why(mst_status status, const mst_error *error) {
    if (status == MST_OK) return;
    MUST(error->status == status);
    size_t length = strlen(error->sentence);
    MUST(length > 3 && length < sizeof error->sentence);
    MUST(strlen(error->page) < sizeof error->page);
    MUST(is_utf8(error->sentence) && is_utf8(error->page));
    MUST(!strpbrk(error->sentence, "\r\n"));
    MUST(error->row >= 0 && error->column >= 0);
}

static inline bool same(double a, double b) { return a == b || (isnan(a) && isnan(b)); }

static inline mst_arena *new_arena(void) {
    mst_arena *arena = mst_arena_new();
    if (!arena) abort();
    return arena;
}
#endif
