/* A heap text that grows, for whatever is written out. */
#include "merestone/base.h"
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void mst_text_free(mst_text *text) {
    free(text->data);
    *text = (mst_text){0};
}

static bool reserve(mst_text *text, size_t more) {
    if (text->failed) return false;
    if (text->capacity - text->length > more) return true;
    size_t room = text->capacity ? text->capacity : 256;
    while (room - text->length <= more) {
        if (room > SIZE_MAX / 2) { text->failed = true; return false; }
        room *= 2;
    }
    char *grown = realloc(text->data, room);
    if (!grown) { text->failed = true; return false; }
    text->data = grown;
    text->capacity = room;
    return true;
}

void mst_text_add(mst_text *text, const char *data, size_t length) {
    if (!reserve(text, length)) return;
    if (length) memcpy(text->data + text->length, data, length);
    text->length += length;
    text->data[text->length] = '\0';
}

void mst_text_string(mst_text *text, const char *data) { mst_text_add(text, data, strlen(data)); }

void mst_text_printf(mst_text *text, const char *format, ...) {
    va_list arguments;
    va_start(arguments, format);
    int length = vsnprintf(NULL, 0, format, arguments);
    va_end(arguments);
    if (length < 0 || !reserve(text, (size_t)length)) return;
    va_start(arguments, format);
    vsnprintf(text->data + text->length, (size_t)length + 1, format, arguments);
    va_end(arguments);
    text->length += (size_t)length;
}

void mst_text_csv(mst_text *text, const char *field) {
    if (!strpbrk(field, ",\"\r\n")) { mst_text_string(text, field); return; }
    mst_text_string(text, "\"");
    for (const char *c = field; *c; c++) {
        if (*c == '"') mst_text_string(text, "\"");
        mst_text_add(text, c, 1);
    }
    mst_text_string(text, "\"");
}
