/* mst_number_read, mst_quantity_read, mst_length_read and their writers mst_feet_inches, mst_angle_dms. */
#include "fuzz_helper.h"

/* A written length is read back to half of the 1/8 in to which it is rounded, a written angle to half a digit. */
static void written_reads_the_same(double value) {
    char out[64];
    double again;
    if (fabs(value) < 1e9) {
        mst_feet_inches(value, out, sizeof out);
        MUST(mst_quantity_read(out, MST_UNIT_FTIN, &again, NULL) == MST_OK);
        MUST(fabs(again - value) <= MST_FOOT_M / 96 / 2 * 1.000001 + fabs(value) * 1e-15);
    }
    if (fabs(value) < 1e6) {
        mst_angle_dms(value, 3, out, sizeof out);
        MUST(mst_quantity_read(out, MST_UNIT_DMS, &again, NULL) == MST_OK);
        MUST(fabs(again - value) <= 0.000501 / 3600 * MST_PI / 180 + fabs(value) * 1e-15);
        double turn = mst_angle_turn(value), sign = mst_angle_signed(value);
        MUST(turn >= 0 && turn < 2 * MST_PI && sign > -MST_PI && sign <= MST_PI);
    }
}

/* strtod knows no U+2212, which spreadsheets write for a minus. */
static double plainly(const char *text) {
    static const char MINUS[] = "\xE2\x88\x92";
    bool minus = strncmp(text, MINUS, sizeof MINUS - 1) == 0;
    return minus ? -strtod(text + sizeof MINUS - 1, NULL) : strtod(text, NULL);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    bytes b = {data, data + size};
    char *text = take_text(&b);
    double value = -1;
    if (mst_number_read(text, &value)) {
        MUST(isfinite(value) && value == plainly(text));
        written_reads_the_same(value);
    }
    mst_error error = {0};
    for (int unit = MST_UNIT_NONE; unit <= MST_UNIT_S; unit++) {
        mst_status status = mst_quantity_read(text, (mst_unit)unit, &value, &error);
        must_say_why(status, &error);
        if (!status) MUST(isfinite(value));
        if (!status) written_reads_the_same(value);
        status = mst_length_read(text, (mst_unit)unit, &value, &error);
        must_say_why(status, &error);
        if (!status) MUST(isfinite(value));
    }
    free(text);
    return 0;
}
