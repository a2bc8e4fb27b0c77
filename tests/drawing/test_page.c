/* The page: true to scale, nothing on anything, all that a sheet must say, the same bytes twice.
 * Sources: T14-I of the shared reference page 14 (paper length = ground length / scale; 1 pt = 1/72 in); ISO 216 for
 * the page sizes; the trade page on drawings for what a sheet must show. pdfinfo, pdftotext and pdftocairo (poppler)
 * read the files independently of cairo. */
#include "garden_helper.c"
#include "lsan_helper.c"
#include <setjmp.h>
#include <stdarg.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

static const double TRUE_TO_MM = 0.05; /* what a rule on paper can tell */

typedef struct sheet {
    garden g;
    mst_pen pen;
    mst_layout layout;
    char path[64];
} sheet;

static void folder(char out[64], const char *name) {
    snprintf(out, 64, "/tmp/merestone-page-%d-%s", (int)getpid(), name);
}

static void draw(sheet *s, const char *name) {
    mst_error error = {0};
    mst_text bytes = {0};
    mst_page_file file = {.dots_per_mm = 4, .title = "t", .author = "a", .date = s->g.text.date};
    folder(s->path, name);
    assert_true(mst_form_of(s->path, &file.form));
    assert_int_equal(garden_layout(&s->g, &s->pen, &s->layout, &error), MST_OK);
    assert_int_equal(mst_page_bytes(&s->layout, &file, &s->pen, s->g.arena, &bytes, &error), MST_OK);
    assert_int_equal(mst_write_whole(s->path, bytes.data, bytes.length, &error), MST_OK);
    mst_text_free(&bytes);
}

static sheet open_sheet(size_t spots) {
    sheet s = {.g = garden_new(spots)};
    assert_true(mst_pen_open(&s.pen));
    return s;
}

static void close_sheet(sheet *s) {
    if (*s->path) unlink(s->path);
    mst_pen_close(&s->pen);
    mst_arena_free(s->g.arena);
}

static void run(const char *command, const char *path, mst_text *out) {
    char line[256], part[4096];
    size_t n;
    snprintf(line, sizeof line, command, path);
    FILE *pipe = popen(line, "r");
    assert_non_null(pipe);
    while ((n = fread(part, 1, sizeof part, pipe)) > 0) mst_text_add(out, part, n);
    assert_int_equal(pclose(pipe), 0);
}

/* All straight two-point strokes of the SVG text with that length, mm; their direction, degrees clockwise on paper. */
static int strokes_of_length(const char *svg, double unit_mm, double length, double by, double *degrees) {
    int count = 0;
    for (const char *at = svg; (at = strstr(at, "d=\"M")) != NULL; at++) {
        double x0, y0, x1, y1;
        int used = 0;
        if (sscanf(at + 3, "M %lf %lf L %lf %lf %n", &x0, &y0, &x1, &y1, &used) != 4) continue;
        if (at[3 + used] != '"') continue;
        if (fabs(hypot(x1 - x0, y1 - y0) * unit_mm - length) > by) continue;
        count++;
        if (degrees) *degrees = atan2(y1 - y0, x1 - x0) * 180 / MST_PI;
    }
    return count;
}

/* A garden with one 30 m fence in a direction of its own, true north-east of nothing else. */
static void add_thirty_metres(garden *g) {
    FEATURE(g, "Thirty", "gate", MST_FEATURE_LINE, {{5, 5, 0}, {5 + 30 * 0.96, 5 + 30 * 0.28, 0}});
}

static void thirty_metres_are_150_mm_at_1_to_200(void **state) {
    (void)state;
    static const char *const names[] = {"scale.svg", "scale.pdf"};
    for (int i = 0; i < 2; i++) {
        sheet s = open_sheet(60);
        mst_text svg = {0};
        double degrees = 0;
        add_thirty_metres(&s.g);
        s.g.options.scale = 200;
        draw(&s, names[i]);
        run(i ? "pdftocairo -svg %s -" : "cat %s", s.path, &svg); /* of a PDF: its own numbers, in pt */
        assert_int_equal(strokes_of_length(svg.data, i ? 25.4 / 72 : 1, 150, TRUE_TO_MM, &degrees), 1);
        assert_true(fabs(degrees + atan2(0.28, 0.96) * 180 / MST_PI) < 0.02);                    /* y down */
        assert_true(strokes_of_length(svg.data, i ? 25.4 / 72 : 1, 100, TRUE_TO_MM, NULL) >= 1); /* the check bar */
        mst_text_free(&svg);
        close_sheet(&s);
    }
}

static void a_turned_plan_turns_clockwise(void **state) {
    (void)state;
    sheet s = open_sheet(20);
    mst_text svg = {0};
    double degrees = 0;
    add_thirty_metres(&s.g);
    s.g.options.scale = 200;
    s.g.options.north_up_turn_rad = 30 * MST_PI / 180;
    draw(&s, "turn.svg");
    run("cat %s", s.path, &svg);
    assert_int_equal(strokes_of_length(svg.data, 1, 150, TRUE_TO_MM, &degrees), 1);
    assert_true(fabs(degrees - (30 - atan2(0.28, 0.96) * 180 / MST_PI)) < 0.02);
    mst_text_free(&svg);
    close_sheet(&s);
}

static void pages_have_the_size_of_the_sheet(void **state) {
    (void)state;
    static const struct {
        const char *paper;
        bool portrait;
        double w, h;
    } papers[] = {{"A4", true, 210, 297},         {"A3", false, 420, 297},  {"A2", true, 420, 594},
                  {"A1", false, 841, 594},        {"A0", false, 1189, 841}, {"letter", false, 279.4, 215.9},
                  {"tabloid", true, 279.4, 431.8}};
    for (size_t i = 0; i < sizeof papers / sizeof *papers; i++) {
        sheet s = open_sheet(20);
        mst_text info = {0};
        double w, h;
        s.g.options.paper = papers[i].paper;
        s.g.options.portrait = papers[i].portrait;
        draw(&s, "size.pdf");
        run("pdfinfo %s", s.path, &info);
        assert_int_equal(sscanf(strstr(info.data, "Page size:"), "Page size: %lf x %lf", &w, &h), 2);
        assert_true(fabs(w * 25.4 / 72 - papers[i].w) < 0.01 && fabs(h * 25.4 / 72 - papers[i].h) < 0.01);
        assert_non_null(strstr(info.data, "Pages:           1\n"));
        mst_text_free(&info);
        close_sheet(&s);
    }
}

static void the_scale_bar_is_as_long_as_it_says(void **state) {
    (void)state;
    static const double scales[] = {20, 50, 100, 125, 200, 250, 500, 1000};
    for (size_t i = 0; i < sizeof scales / sizeof *scales; i++) {
        mst_scale_bar bar = mst_scale_bar_for(scales[i], false, 110);
        double length = bar.parts * bar.part_m * 1000 / scales[i];
        assert_true(length > 40 && length <= 110);
    }
    sheet s = open_sheet(20);
    mst_text svg = {0};
    s.g.options.scale = 200;
    draw(&s, "bar.svg");
    run("cat %s", s.path, &svg);
    int found = 0;
    for (const char *at = svg.data; (at = strstr(at, "d=\"M")) != NULL; at++) {
        double x[4], y[4];
        if (sscanf(at + 3, "M %lf %lf L %lf %lf L %lf %lf L %lf %lf Z", &x[0], &y[0], &x[1], &y[1], &x[2], &y[2], &x[3],
                   &y[3]) == 8 &&
            fabs(y[0] - s.layout.scale_bar_at[1]) < 0.01 && fabs(x[0] - s.layout.scale_bar_at[0]) < 0.01 &&
            fabs(y[2] - y[1] - 1.6) < 0.01)
            found += fabs(x[1] - x[0] - s.layout.scale_bar.parts * s.layout.scale_bar.part_m * 5) <=
                     TRUE_TO_MM; /* 5 mm to the metre */
    }
    assert_int_equal(found, 1);
    mst_text_free(&svg);
    close_sheet(&s);
}

/* ---- labels ---- */

static const mst_choice *placed(const mst_labels *l, size_t i) {
    return l->placings[i].chosen >= 0 ? &l->placings[i].choices[l->placings[i].chosen] : NULL;
}

static void no_two_labels_overlap(const mst_layout *layout) {
    const mst_labels *l = &layout->annotation.labels;
    for (size_t i = 0; i < l->count; i++) {
        const mst_choice *a = placed(l, i);
        for (size_t k = 0; a && k < l->count; k++) {
            const mst_choice *b = k == i ? NULL : placed(l, k);
            if (!b) continue;
            assert_false(mst_boxes_overlap(&a->box, &b->box));
            if (b->leader) assert_false(mst_box_meets_segment(&a->box, b->x0, b->y0, b->x1, b->y1));
        }
    }
}

static void a_crowded_sheet_has_no_overlap_and_loses_no_level(void **state) {
    (void)state;
    for (int names = 0; names < 2; names++) {
        sheet s = open_sheet(500);
        mst_error error = {0};
        s.g.options.point_names = names;
        assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
        const mst_labels *l = &s.layout.annotation.labels;
        size_t shown = 0, dropped = 0, numbered = 0;
        no_two_labels_overlap(&s.layout);
        for (size_t i = 0; i < l->count; i++) {
            if (l->items[i].kind == MST_LABEL_KEY) numbered += placed(l, i) != NULL;
            else if (placed(l, i)) shown++;
            else dropped += l->items[i].list_name != NULL;
        }
        assert_true(shown > 250 && dropped > 50); /* crowded enough to mean something */
        assert_int_equal(dropped, s.layout.annotation.listed_count);
        assert_int_equal(s.layout.ledger.listed_count, s.layout.annotation.listed_count);
        size_t with_number = 0;
        for (size_t i = 0; i < s.layout.annotation.listed_count; i++)
            with_number += s.layout.annotation.listed[i].number > 0;
        assert_int_equal(with_number, numbered);
        close_sheet(&s);
    }
}

static void levels_keep_off_heavy_lines_and_signs(void **state) {
    (void)state;
    sheet s = open_sheet(200);
    mst_error error = {0};
    assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
    const mst_labels *l = &s.layout.annotation.labels;
    const mst_path *house = &s.g.plan.features[0].shape.paths[0];
    size_t tested = 0;
    for (size_t i = 0; i < l->count; i++) {
        const mst_choice *c = placed(l, i);
        if (!c || l->items[i].kind != MST_LABEL_PLAIN || !l->items[i].list_name) continue;
        tested++;
        for (size_t k = 0; k < house->count; k++) {
            double x0, y0, x1, y1;
            const mst_path_vertex *a = &house->vertices[k], *b = &house->vertices[(k + 1) % house->count];
            mst_to_paper(&s.layout.view, (mst_point){a->easting_m, a->northing_m}, &x0, &y0);
            mst_to_paper(&s.layout.view, (mst_point){b->easting_m, b->northing_m}, &x1, &y1);
            if (strcmp(l->items[i].list_name, "Shed")) assert_false(mst_box_meets_segment(&c->box, x0, y0, x1, y1));
        }
        for (size_t k = 0; k < s.g.plan.point_count; k++) {
            double x, y;
            mst_to_paper(&s.layout.view, s.g.plan.points[k].at, &x, &y);
            mst_box sign = {x, y, 0.8, 0.8, 1, 0};
            assert_false(mst_boxes_overlap(&c->box, &sign));
        }
    }
    assert_true(tested > 100);
    close_sheet(&s);
}

/* "Level at the door missing" is the third fault that a practitioner looks for (trade page, section 6). */
static void the_level_at_the_door_is_never_left_out(void **state) {
    (void)state;
    static const char *const papers[] = {"A4", "A3", "A2"};
    for (int i = 0; i < 3; i++) {
        sheet s = open_sheet(500);
        mst_error error = {0};
        bool found = false;
        s.g.options.paper = papers[i];
        assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
        const mst_labels *l = &s.layout.annotation.labels;
        for (size_t k = 0; k < l->count; k++) found |= placed(l, k) && !strcmp(l->items[k].lines[0], "13.455");
        assert_true(found);
        close_sheet(&s);
    }
}

static void every_pad_has_its_level(void **state) {
    (void)state;
    static const char *const papers[] = {"A4", "A3", "A2"};
    for (int i = 0; i < 6; i++) {
        sheet s = open_sheet(200);
        mst_error error = {0};
        size_t found = 0;
        s.g.options.paper = papers[i % 3];
        s.g.options.north_up_turn_rad = i / 3 * 0.8;
        assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
        const mst_labels *l = &s.layout.annotation.labels;
        for (size_t k = 0; k < l->count; k++)
            found += placed(l, k) && l->items[k].kind == MST_LABEL_BOXED && l->items[k].line_count == 3;
        assert_int_equal(found, s.g.plan.pad_count);
        close_sheet(&s);
    }
}

static void contours_read_uphill(void **state) {
    (void)state;
    sheet s = open_sheet(20);
    mst_error error = {0};
    s.g.options.north_up_turn_rad = 1;
    assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
    const mst_labels *l = &s.layout.annotation.labels;
    size_t tested = 0;
    for (size_t i = 0; i < l->count; i++) {
        const mst_choice *c = placed(l, i);
        if (!c || l->items[i].kind != MST_LABEL_CONTOUR) continue;
        mst_point head = mst_to_plan(&s.layout.view, c->box.x + c->box.sin_a, c->box.y - c->box.cos_a);
        mst_point foot = mst_to_plan(&s.layout.view, c->box.x - c->box.sin_a, c->box.y + c->box.cos_a);
        assert_true(garden_level(head) > garden_level(foot));
        double level = atof(l->items[i].lines[0]);
        mst_point middle = mst_to_plan(&s.layout.view, c->box.x, c->box.y);
        assert_true(fabs(garden_level(middle) - level) < 0.02);
        tested++;
    }
    assert_true(tested >= 3);
    close_sheet(&s);
}

static void fall_arrows_point_down(void **state) {
    (void)state;
    for (double turn = 0; turn < 6.3; turn += 0.7) {
        sheet s = open_sheet(5);
        mst_error error = {0};
        s.g.options.north_up_turn_rad = turn;
        assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
        const mst_labels *l = &s.layout.annotation.labels;
        const mst_plane *f = &s.g.plan.pads[1].finish;
        int arrows = 0;
        for (size_t i = 0; i < l->count; i++) {
            const mst_choice *c = placed(l, i);
            if (!c || l->items[i].kind != MST_LABEL_ARROW) continue;
            double way = l->items[i].backwards ? -1 : 1;
            mst_point tail = mst_to_plan(&s.layout.view, c->box.x, c->box.y);
            mst_point head = mst_to_plan(&s.layout.view, c->box.x + way * c->box.cos_a, c->box.y + way * c->box.sin_a);
            double de = head.easting_m - tail.easting_m, dn = head.northing_m - tail.northing_m;
            double slope = hypot(f->slope_e, f->slope_n), drop = -(f->slope_e * de + f->slope_n * dn);
            assert_true(fabs(drop - slope * hypot(de, dn)) < 1e-9); /* straight down the fall */
            assert_true(c->box.cos_a > -1e-6);                      /* its figure is not upside down */
            arrows++;
        }
        assert_int_equal(arrows, 1);
        close_sheet(&s);
    }
}

/* ---- words ---- */

static void has(const mst_text *page, const char *words) {
    if (!strstr(page->data, words)) fail_msg("the sheet does not say \"%s\"", words);
}

static void the_sheet_says_what_it_must(void **state) {
    (void)state;
    static const char *const words[] = {"FOR PRICING",
                                        "1:200",
                                        "1:200 at A3",
                                        "site north",
                                        "Legend",
                                        "Datum",
                                        "held at 13.500 m",
                                        "Local datum, not sea level",
                                        "Coordinates",
                                        "Units",
                                        "Survey",
                                        "Not surveyed",
                                        "Earthworks",
                                        "Cautions",
                                        "unproven until dug by hand",
                                        "legal boundaries",
                                        "Verify levels",
                                        "If this bar is not 100 mm long, the print is not to scale.",
                                        "Garden levels",
                                        "14 Larch Row",
                                        "Example Groundworks",
                                        "0412-GR-02",
                                        "2 of 5",
                                        "2031-03-21",
                                        "terrace lowered 60 mm",
                                        "A. Maker",
                                        "B. Checker",
                                        "C. Client",
                                        "Grading plan",
                                        "FL 12.860",
                                        "formation 12.695",
                                        "falls 1:54",
                                        "FL 13.350",
                                        "House",
                                        "127.7 m\xC2\xB2",
                                        "28.40",
                                        "R 3.00",
                                        "C1",
                                        "13.534",
                                        "S1",
                                        "12.860",
                                        "cut to formation",
                                        "fill to formation",
                                        "gas found",
                                        "fence",
                                        "number in the list",
                                        "Not shown on the plan for want of room",

                                        "N 930",
                                        "E 510"};
    sheet s = open_sheet(60);
    mst_text page = {0};
    s.g.options.scale = 200;
    draw(&s, "words.pdf");
    run("pdftotext -layout %s -", s.path, &page);
    for (size_t i = 0; i < sizeof words / sizeof *words; i++) has(&page, words[i]);
    mst_text_free(&page);
    close_sheet(&s);
}

static void the_legend_has_nothing_unused(void **state) {
    (void)state;
    sheet s = open_sheet(12);
    mst_text page = {0};
    s.g.plan.feature_count = 1; /* the house */
    s.g.plan.pad_count = s.g.plan.stake_count = s.g.plan.contour_count = 0;
    draw(&s, "legend.pdf");
    run("pdftotext -layout %s -", s.path, &page);
    has(&page, "building");
    has(&page, "control, held");
    static const char *const unused[] = {
        "gas found", "fence", "cut to formation", "stake", "contour", "number in the list", "fall, down", "tree"};
    for (size_t i = 0; i < sizeof unused / sizeof *unused; i++) assert_null(strstr(page.data, unused[i]));
    mst_text_free(&page);
    close_sheet(&s);
}

static void feet_and_inches(void **state) {
    (void)state;
    sheet s = open_sheet(30);
    mst_text page = {0};
    s.g.plan.imperial = true;
    s.g.options.paper = "tabloid";
    s.g.options.scale = 240;
    draw(&s, "feet.pdf");
    run("pdftotext -layout %s -", s.path, &page);
    has(&page, "1 in = 20 ft (1:240) at tabloid");
    has(&page, "If this bar is not 4 in long");
    has(&page, "93'-2 1/8\"");     /* the north wall: 28.4007 m = 1118.14 in */
    has(&page, "FL 42.19'");       /* 12.860 m */
    has(&page, "1375 ft\xC2\xB2"); /* the house: 127.70 m2 / 0.09290304 */
    has(&page, "80 ft");
    mst_text_free(&page);
    close_sheet(&s);
}

static void a_status_that_is_not_given_is_preliminary(void **state) {
    (void)state;
    sheet s = open_sheet(12);
    mst_text page = {0};
    s.g.text = (mst_sheet_text){0};
    draw(&s, "bare.pdf");
    run("pdftotext -layout %s -", s.path, &page);
    has(&page, "PRELIMINARY");
    has(&page, "Not for construction.");
    has(&page, "1 of 1");
    mst_text_free(&page);
    close_sheet(&s);
}

/* ---- hatches ---- */

static int hatch_of(double level_m) {
    garden g = garden_new(5);
    mst_sizes sizes = mst_sizes_for(mst_paper_named("A3"));
    cairo_surface_t *surface = cairo_recording_surface_create(CAIRO_CONTENT_COLOR, NULL);
    mst_pen pen = {.cairo = cairo_create(surface)};
    mst_view view = mst_view_make(200, 0);
    mst_plan_pad pad = g.plan.pads[0];
    pad.finish.level_m = level_m;
    pad.self = &pad;
    int found = mst_draw_hatch(&pen, &sizes, &view, &pad);
    cairo_destroy(pen.cairo);
    cairo_surface_destroy(surface);
    mst_arena_free(g.arena);
    return found;
}

static void hatches_tell_cut_from_fill(void **state) {
    (void)state;
    assert_int_equal(hatch_of(10), MST_EARTH_CUT);
    assert_int_equal(hatch_of(15), MST_EARTH_FILL);
    assert_int_equal(hatch_of(13.1), MST_EARTH_CUT + MST_EARTH_FILL);
}

/* ---- refusals ---- */

static void what_does_not_fit_is_told_what_would(void **state) {
    (void)state;
    sheet s = open_sheet(20);
    mst_error error = {0};
    s.g.options.scale = 50;
    assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_INVALID);
    char larger[8], way[16];
    double scale;
    const char *advice = strstr(error.sentence, "take 1:");
    assert_non_null(advice);
    assert_int_equal(sscanf(advice, "take 1:%lf on A3, or %7s %15s at 1:50.", &scale, larger, way), 3);
    s.g.options.scale = scale; /* the advice holds */
    assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
    s.g.options = (mst_drawing_options){.paper = larger, .scale = 50, .portrait = strcmp(way, "portrait") == 0};
    assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
    close_sheet(&s);
}

static void an_automatic_scale_is_the_largest_that_fits(void **state) {
    (void)state;
    sheet s = open_sheet(20);
    mst_error error = {0};
    assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
    size_t count, i = 0;
    const double *scales = mst_scales(false, &count);
    while (i < count && scales[i] != s.layout.scale) i++;
    assert_true(i > 0 && i < count);
    for (size_t k = 0; k < s.g.plan.point_count; k++) {
        double x, y;
        mst_to_paper(&s.layout.view, s.g.plan.points[k].at, &x, &y);
        assert_true(x > s.layout.area.x && x < s.layout.area.x + s.layout.area.w && y > s.layout.area.y &&
                    y < s.layout.area.y + s.layout.area.h);
    }
    assert_true(37 * 1000 / scales[i - 1] + 18 > s.layout.area.w || 32 * 1000 / scales[i - 1] + 18 > s.layout.area.h);
    close_sheet(&s);
}

static void an_empty_plan_is_refused(void **state) {
    (void)state;
    sheet s = open_sheet(5);
    mst_error error = {0};
    s.g.plan = (mst_plan){0};
    assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_TOO_FEW);
    assert_true(strlen(error.sentence) > 20);
    close_sheet(&s);
}

/* ---- files ---- */

static void the_same_page_gives_the_same_bytes(void **state) {
    (void)state;
    static const char *const names[] = {"same.pdf", "same.svg", "same.png"};
    for (int i = 0; i < 3; i++) {
        mst_text first = {0}, second = {0};
        sheet a = open_sheet(60);
        draw(&a, names[i]);
        run("cat %s", a.path, &first);
        close_sheet(&a);
        sheet b = open_sheet(60);
        draw(&b, names[i]);
        run("cat %s", b.path, &second);
        close_sheet(&b);
        assert_true(first.length > 10000);
        assert_int_equal(first.length, second.length);
        assert_memory_equal(first.data, second.data, first.length);
        mst_text_free(&first);
        mst_text_free(&second);
    }
}

static void a_file_is_whole_or_not_there(void **state) {
    (void)state;
    char path[64], inside[96];
    mst_error error = {0};
    struct stat about;
    folder(path, "whole.pdf");
    assert_int_equal(mst_write_whole(path, "old", 3, &error), MST_OK);
    assert_int_equal(mst_write_whole(path, "newer", 5, &error), MST_OK);
    assert_int_equal(stat(path, &about), 0);
    assert_int_equal(about.st_size, 5);
    snprintf(inside, sizeof inside, "%s/x.pdf", path); /* a file is no folder */
    assert_int_equal(mst_write_whole(inside, "x", 1, &error), MST_IO);
    assert_non_null(strstr(error.sentence, "cannot be written"));
    unlink(path);
    assert_int_equal(mkdir(path, 0755), 0);
    assert_int_equal(mst_write_whole(path, "x", 1, &error), MST_IO); /* the rename fails: nothing is left beside it */
    char command[160];
    snprintf(command, sizeof command, "ls -d %s.* 2>/dev/null | wc -l", path);
    FILE *pipe = popen(command, "r");
    int left = -1;
    assert_int_equal(fscanf(pipe, "%d", &left), 1);
    pclose(pipe);
    rmdir(path);
    assert_int_equal(left, 0);
}

static void a_picture_that_is_too_large_is_refused(void **state) {
    (void)state;
    sheet s = open_sheet(5);
    mst_error error = {0};
    mst_text bytes = {0};
    mst_page_file file = {MST_FORM_PNG, 1000, "", "", ""};
    assert_int_equal(garden_layout(&s.g, &s.pen, &s.layout, &error), MST_OK);
    assert_int_equal(mst_page_bytes(&s.layout, &file, &s.pen, s.g.arena, &bytes, &error), MST_INVALID);
    mst_text_free(&bytes);
    close_sheet(&s);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(thirty_metres_are_150_mm_at_1_to_200),
                                       cmocka_unit_test(a_turned_plan_turns_clockwise),
                                       cmocka_unit_test(pages_have_the_size_of_the_sheet),
                                       cmocka_unit_test(the_scale_bar_is_as_long_as_it_says),
                                       cmocka_unit_test(a_crowded_sheet_has_no_overlap_and_loses_no_level),
                                       cmocka_unit_test(levels_keep_off_heavy_lines_and_signs),
                                       cmocka_unit_test(the_level_at_the_door_is_never_left_out),
                                       cmocka_unit_test(every_pad_has_its_level),
                                       cmocka_unit_test(contours_read_uphill),
                                       cmocka_unit_test(fall_arrows_point_down),
                                       cmocka_unit_test(the_sheet_says_what_it_must),
                                       cmocka_unit_test(the_legend_has_nothing_unused),
                                       cmocka_unit_test(feet_and_inches),
                                       cmocka_unit_test(a_status_that_is_not_given_is_preliminary),
                                       cmocka_unit_test(hatches_tell_cut_from_fill),
                                       cmocka_unit_test(what_does_not_fit_is_told_what_would),
                                       cmocka_unit_test(an_automatic_scale_is_the_largest_that_fits),
                                       cmocka_unit_test(an_empty_plan_is_refused),
                                       cmocka_unit_test(the_same_page_gives_the_same_bytes),
                                       cmocka_unit_test(a_file_is_whole_or_not_there),
                                       cmocka_unit_test(a_picture_that_is_too_large_is_refused)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
