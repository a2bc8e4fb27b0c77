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
        if (room > SIZE_MAX / 2) {
            text->failed = true;
            return false;
        }
        room *= 2;
    }
    char *grown = realloc(text->data, room);
    if (!grown) {
        text->failed = true;
        return false;
    }
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
    size_t length = strlen(field);
    bool spaced = length && (strchr(" \t", field[0]) || strchr(" \t", field[length - 1])); /* readers trim bare cells */
    if (!spaced && !strpbrk(field, ",\"\r\n")) {
        mst_text_add(text, field, length);
        return;
    }
    mst_text_string(text, "\"");
    for (const char *c = field; *c; c++) {
        if (*c == '"') mst_text_string(text, "\"");
        mst_text_add(text, c, 1);
    }
    mst_text_string(text, "\"");
}

size_t mst_utf8_length(const char *text, size_t left) {
    const unsigned char *p = (const unsigned char *)text;
    if (left == 0) return 0;
    if (p[0] < 0x80) return 1;
    if (p[0] >= 0xC2 && p[0] <= 0xDF) return left >= 2 && (p[1] & 0xC0) == 0x80 ? 2 : 0;
    if ((p[0] & 0xF0) == 0xE0) {
        if (left < 3 || (p[1] & 0xC0) != 0x80 || (p[2] & 0xC0) != 0x80) return 0;
        return (p[0] == 0xE0 && p[1] < 0xA0) || (p[0] == 0xED && p[1] > 0x9F) ? 0 : 3; /* overlong, surrogate */
    }
    if (p[0] >= 0xF0 && p[0] <= 0xF4) {
        if (left < 4 || (p[1] & 0xC0) != 0x80 || (p[2] & 0xC0) != 0x80 || (p[3] & 0xC0) != 0x80) return 0;
        return (p[0] == 0xF0 && p[1] < 0x90) || (p[0] == 0xF4 && p[1] > 0x8F) ? 0 : 4; /* overlong, beyond U+10FFFF */
    }
    return 0;
}

void mst_text_tidy(char *text) {
    char *to = text;
    size_t length = strlen(text);
    for (size_t i = 0; i < length;) {
        size_t step = mst_utf8_length(text + i, length - i);
        if (step == 0) {
            i++;
            continue;
        }
        if (step == 1 && ((unsigned char)text[i] < 0x20 || text[i] == 0x7F)) *to++ = ' ';
        else memmove(to, text + i, step), to += step;
        i += step;
    }
    *to = '\0';
}
