/* Numbers and words as files want them. The program never leaves the C locale, so a decimal point stays a point. */
#include "exchange/write.h"
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void mst_text_number(mst_text *text, double value) {
    char digits[32];
    for (int precision = 15; precision <= 17; precision++) {
        snprintf(digits, sizeof digits, "%.*g", precision, value == 0 ? 0 : value);
        if (strtod(digits, NULL) == value) break;
    }
    mst_text_string(text, digits);
}

void mst_text_fixed(mst_text *text, double value, int decimals) {
    char digits[400];
    snprintf(digits, sizeof digits, "%.*f", decimals, value);
    bool zero = digits[0] == '-' && strspn(digits + 1, "0.") == strlen(digits + 1);
    mst_text_string(text, digits + zero);
}

void mst_text_xml(mst_text *text, const char *value) {
    for (const char *c = value; *c; c++) {
        switch (*c) {
        case '&':
            mst_text_string(text, "&amp;");
            break;
        case '<':
            mst_text_string(text, "&lt;");
            break;
        case '>':
            mst_text_string(text, "&gt;");
            break;
        case '"':
            mst_text_string(text, "&quot;");
            break;
        default:
            mst_text_add(text, (unsigned char)*c < 0x20 ? " " : c, 1);
        }
    }
}

void mst_written_date(const mst_handover *from, char date[16], char time[16]) {
    const char *written = from->written ? from->written : "2000-01-01T00:00:00";
    snprintf(date, 16, "%.10s", written);
    snprintf(time, 16, "%.8s", strlen(written) >= 19 ? written + 11 : "00:00:00");
}

bool mst_is_imperial(const mst_handover *from) { return from->site && mst_site_imperial(from->site); }
