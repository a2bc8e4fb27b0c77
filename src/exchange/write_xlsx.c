/* Takeoff and estimate as a workbook whose figures follow when a cell is changed: gross, packs, spare, amounts and the
 * total are formulas. Names and remarks are always written as text, so that none of them can act as a formula. */
#include "exchange/write.h"
#include <math.h>
#include <stdio.h>
#include <string.h>
#include <xlsxwriter.h>

typedef struct book {
    lxw_workbook *workbook;
    lxw_worksheet *takeoff, *estimate, *notes;
    lxw_format *head, *plain, *quantity, *money, *rate, *total;
    const mst_bill *bill;
    int decimals; /* of the currency */
    double minor; /* minor units in one */
    lxw_error failed;
} book;

static void tell(book *b, lxw_error error) {
    if (error && !b->failed) b->failed = error;
}
static void text(book *b, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column, const char *words,
                 lxw_format *format) {
    tell(b, worksheet_write_string(sheet, row, column, words ? words : "", format));
}
static void number(book *b, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column, double value, lxw_format *format) {
    if (isfinite(value)) tell(b, worksheet_write_number(sheet, row, column, value, format));
}
/* A formula and what it comes to now, for readers that do not calculate. */
static void formula(book *b, lxw_worksheet *sheet, lxw_row_t row, lxw_col_t column, const char *words,
                    lxw_format *format, double now) {
    tell(b, worksheet_write_formula_num(sheet, row, column, words, format, now));
}

static void header(book *b, lxw_worksheet *sheet, const char *const words[], const double widths[]) {
    for (int i = 0; words[i]; i++) {
        text(b, sheet, 0, (lxw_col_t)i, words[i], b->head);
        tell(b, worksheet_set_column(sheet, (lxw_col_t)i, (lxw_col_t)i, widths[i], NULL));
    }
    worksheet_freeze_panes(sheet, 1, 1);
}

/* ---- takeoff ---- */

static void sources(book *b, lxw_row_t row, lxw_col_t column, const mst_takeoff_line *l) {
    char list[1000] = "";
    size_t length = 0;
    for (size_t i = 0; i < l->source_count && length < sizeof list - 1; i++)
        length += (size_t)snprintf(list + length, sizeof list - length, "%s%s", i ? ", " : "", l->sources[i]);
    if (length >= sizeof list) memcpy(list + sizeof list - 4, "...", 4);
    text(b, b->takeoff, row, column, list, b->plain);
}

static void takeoff_line(book *b, size_t i) {
    const mst_takeoff_line *l = &b->bill->lines[i];
    lxw_row_t row = (lxw_row_t)i + 1;
    unsigned n = row + 1; /* as formulas count */
    char words[80];
    text(b, b->takeoff, row, 0, l->item, b->plain);
    text(b, b->takeoff, row, 1, l->unit, b->plain);
    number(b, b->takeoff, row, 2, l->net, b->quantity);
    number(b, b->takeoff, row, 3, l->low, b->quantity);
    number(b, b->takeoff, row, 4, l->high, b->quantity);
    number(b, b->takeoff, row, 5, l->waste_percent, b->quantity);
    snprintf(words, sizeof words, "=C%u*(1+F%u/100)", n, n);
    formula(b, b->takeoff, row, 6, words, b->quantity, l->gross);
    sources(b, row, 11, l);
    if (!isfinite(l->pack)) return;
    number(b, b->takeoff, row, 7, l->pack, b->quantity);
    snprintf(words, sizeof words, "=ROUNDUP(ROUND(G%u/H%u,9),0)", n, n);
    formula(b, b->takeoff, row, 8, words, b->plain, l->packs);
    text(b, b->takeoff, row, 9, l->pack_unit, b->plain);
    snprintf(words, sizeof words, "=I%u*H%u-G%u", n, n, n);
    formula(b, b->takeoff, row, 10, words, b->quantity, l->spare);
}

static void takeoff_sheet(book *b) {
    static const char *const WORDS[] = {"Item",      "Unit",  "Net",  "Low (95 %)", "High (95 %)", "Waste %", "Gross",
                                        "In a pack", "Packs", "Pack", "Spare",      "From",        NULL};
    static const double WIDTHS[] = {34, 7, 11, 11, 11, 9, 11, 10, 8, 10, 10, 40};
    header(b, b->takeoff, WORDS, WIDTHS);
    for (size_t i = 0; i < b->bill->count; i++) takeoff_line(b, i);
}

/* ---- estimate ---- */

static double to_buy(const mst_takeoff_line *l) { return isfinite(l->pack) ? l->packs * l->pack : l->gross; }

/* The range goes the same way as the quantity: waste, whole packs, rate, one rounding. */
static void range(book *b, lxw_row_t row, lxw_col_t column, const mst_takeoff_line *l, char from, double now) {
    unsigned n = row + 1;
    char words[160];
    if (isfinite(l->pack))
        snprintf(words, sizeof words,
                 "=ROUND(ROUNDUP(ROUND(Takeoff!%c%u*(1+Takeoff!F%u/100)/Takeoff!H%u,9),0)*Takeoff!H%u*D%u,%d)", from, n,
                 n, n, n, n, b->decimals);
    else snprintf(words, sizeof words, "=ROUND(Takeoff!%c%u*(1+Takeoff!F%u/100)*D%u,%d)", from, n, n, n, b->decimals);
    formula(b, b->estimate, row, column, words, b->money, now / b->minor);
}

static void estimate_line(book *b, size_t i) {
    const mst_takeoff_line *l = &b->bill->lines[i];
    lxw_row_t row = (lxw_row_t)i + 1;
    unsigned n = row + 1;
    char words[80];
    text(b, b->estimate, row, 0, l->item, b->plain);
    text(b, b->estimate, row, 1, l->unit, b->plain);
    if (isfinite(l->pack)) snprintf(words, sizeof words, "=Takeoff!I%u*Takeoff!H%u", n, n);
    else snprintf(words, sizeof words, "=Takeoff!G%u", n);
    formula(b, b->estimate, row, 2, words, b->quantity, to_buy(l));
    if (!isfinite(l->rate_minor)) {
        text(b, b->estimate, row, 3, "no rate", b->plain);
        return;
    }
    number(b, b->estimate, row, 3, l->rate_minor / b->minor, b->rate);
    snprintf(words, sizeof words, "=ROUND(C%u*D%u,%d)", n, n, b->decimals);
    formula(b, b->estimate, row, 4, words, b->money, l->amount_minor / b->minor);
    range(b, row, 5, l, 'D', l->amount_low_minor);
    range(b, row, 6, l, 'E', l->amount_high_minor);
}

static void estimate_sheet(book *b) {
    static const char *const WORDS[] = {"Item", "Unit", "To buy", "Rate", "Amount", "Low (95 %)", "High (95 %)", NULL};
    static const double WIDTHS[] = {34, 7, 11, 12, 14, 14, 14};
    header(b, b->estimate, WORDS, WIDTHS);
    for (size_t i = 0; i < b->bill->count; i++) estimate_line(b, i);
    lxw_row_t row = (lxw_row_t)b->bill->count + 1;
    char words[80], label[100];
    snprintf(label, sizeof label, "Total %.40s%s", b->bill->currency ? b->bill->currency : "",
             b->bill->partial ? " (not whole, see Notes)" : "");
    text(b, b->estimate, row, 0, label, b->total);
    const double totals[] = {b->bill->total_minor, b->bill->total_low_minor, b->bill->total_high_minor};
    for (int k = 0; k < 3; k++) {
        snprintf(words, sizeof words, "=SUM(%c2:%c%u)", 'E' + k, 'E' + k, (unsigned)row);
        formula(b, b->estimate, row, (lxw_col_t)(4 + k), words, b->total, totals[k] / b->minor);
    }
}

/* ---- notes ---- */

static void notes_sheet(book *b, const mst_handover *from) {
    lxw_row_t row = 0;
    tell(b, worksheet_set_column(b->notes, 0, 0, 110, NULL));
    text(b, b->notes, row++, 0, from->site ? mst_site_setting(from->site, "title", "") : "", b->head);
    text(b, b->notes, row++, 0,
         "Net is as measured on plan or ground, gross with waste, packs rounded up. Low and high say how well the "
         "quantity is known; prices move for other reasons too.",
         b->plain);
    text(b, b->notes, row++, 0,
         "Ranges of the lines are added up for the total, as one measured edge feeds several lines.", b->plain);
    for (size_t i = 0; i < b->bill->warning_count; i++) text(b, b->notes, row++, 0, b->bill->warnings[i], b->plain);
}

/* ---- the book ---- */

/* Days since 1970 (civil calendar), so that no time zone of the machine gets in. */
static time_t stated_time(const mst_handover *from) {
    int y = 2000, m = 1, d = 1;
    if (from->written && sscanf(from->written, "%4d-%2d-%2d", &y, &m, &d) != 3) return 946684800;
    y -= m <= 2;
    int era = (y >= 0 ? y : y - 399) / 400, of_era = y - era * 400,
        of_year = (153 * (m + (m > 2 ? -3 : 9)) + 2) / 5 + d - 1;
    return (time_t)(era * 146097LL + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719468) * 86400;
}

static lxw_format *format(book *b, bool bold, const char *digits) {
    lxw_format *f = workbook_add_format(b->workbook);
    if (!f) {
        b->failed = LXW_ERROR_MEMORY_MALLOC_FAILED;
        return NULL;
    }
    if (bold) format_set_bold(f);
    if (digits) format_set_num_format(f, digits);
    return f;
}

static void start(book *b, const mst_handover *from) {
    const char *money = b->decimals == 0 ? "#,##0" : b->decimals == 3 ? "#,##0.000" : "#,##0.00";
    char title[] = "Takeoff and estimate";
    lxw_doc_properties properties = {.title = title, .created = stated_time(from)};
    tell(b, workbook_set_properties(b->workbook, &properties));
    b->head = format(b, true, NULL);
    b->plain = format(b, false, NULL);
    b->quantity = format(b, false, "#,##0.00");
    const char *rate = b->decimals == 0 ? "#,##0.####" : b->decimals == 3 ? "#,##0.000###" : "#,##0.00####";
    b->money = format(b, false, money);
    b->rate = format(b, false, rate); /* with all digits that it has */
    b->total = format(b, true, money);
    b->takeoff = workbook_add_worksheet(b->workbook, "Takeoff");
    b->estimate = workbook_add_worksheet(b->workbook, "Estimate");
    b->notes = workbook_add_worksheet(b->workbook, "Notes");
    if (!b->takeoff || !b->estimate || !b->notes) b->failed = LXW_ERROR_MEMORY_MALLOC_FAILED;
}

static mst_status write_book(const mst_handover *from, const char *path, mst_error *error) {
    book b = {.bill = from->bill, .workbook = workbook_new(path)};
    if (!b.workbook) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    b.decimals = mst_currency_decimals(from->bill->currency ? from->bill->currency : "");
    b.minor = b.decimals == 0 ? 1 : b.decimals == 3 ? 1000 : 100;
    start(&b, from);
    if (!b.failed) {
        takeoff_sheet(&b);
        estimate_sheet(&b);
        notes_sheet(&b, from);
    }
    tell(&b, workbook_close(b.workbook));
    if (!b.failed) return MST_OK;
    if (b.failed == LXW_ERROR_MEMORY_MALLOC_FAILED) return mst_fail(error, MST_NO_MEMORY, "Out of memory.");
    return mst_fail(error, MST_IO, "Cannot write %s: %s.", path, lxw_strerror(b.failed));
}

mst_status mst_write_xlsx(const mst_handover *from, const char *path, mst_error *error) {
    mst_atomic file = {0};
    if (!from->bill) return mst_fail(error, MST_TOO_FEW, "There is no bill to write; import a price list first.");
    mst_status status = mst_atomic_open(&file, path, error);
    if (!status) status = write_book(from, file.temporary ? file.temporary : path, error);
    if (!status) return mst_atomic_commit(&file, error);
    mst_atomic_cancel(&file);
    return status;
}
