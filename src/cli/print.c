/* Results as a person reads them: a table, a figure with its interval, a sentence. */
#include "cli/result.h"
#include "cli/sheets.h"
#include "merestone/estimate.h"
#include <math.h>
#include <string.h>

static void print_new(const cli_printer *p, const json_t *r) {
    fprintf(p->out, "Made %s%s%s.\n", text(r, "path"), *text(r, "title") ? ": " : "", text(r, "title"));
}

static void print_import(const cli_printer *p, const json_t *r) {
    if (at(r, "features"))
        fprintf(p->out, "%s: %lld features in %lld rows.\n", text(r, "page"), whole(r, "features"), whole(r, "rows"));
    else
        fprintf(p->out, "%s: %lld rows as %s%s%s%s%s.\n", text(r, "page"), whole(r, "rows"), text(r, "kind"),
                *text(r, "visit") ? ", visit " : "", text(r, "visit"), *text(r, "gear") ? ", gear " : "",
                text(r, "gear"));
    if (*text(r, "notes")) fprintf(p->out, "  %s\n", text(r, "notes"));
    sentences(p, r, "warnings", "  ! ");
}

static void print_cloud(const cli_printer *p, const json_t *r) {
    const char *u = length_unit(p);
    fprintf(p->out, "%s: %s%s%s, %lld points, %lld of them taken.\n", text(r, "page"), text(at(r, "file"), "kind"),
            *text(at(r, "file"), "system") ? ", " : "", text(at(r, "file"), "system"), whole(r, "points_read"),
            whole(r, "points_thinned"));
    fprintf(p->out,
            "Kept %lld points, visit %s. The surface through them is off the cloud by %.3f %s at most and %.3f %s rms "
            "(asked: %.3f %s); %.1f s.\n",
            whole(r, "points_kept"), text(r, "visit"), length_in(p, number(r, "largest_error_m")), u,
            length_in(p, number(r, "rms_error_m")), u, length_in(p, number(r, "tolerance_m")), u, number(r, "seconds"));
    sentences(p, r, "cloud_notes", "  ! ");
    sentences(p, r, "warnings", "  ! ");
}

static void print_change(const cli_printer *p, const json_t *r) {
    if (at(r, "undone")) fprintf(p->out, "Undone: %s.\n", text(r, "undone"));
    else if (at(r, "redone")) fprintf(p->out, "Redone: %s.\n", text(r, "redone"));
    else fprintf(p->out, "Done; the site is at revision %lld.\n", whole(r, "revision"));
    sentences(p, r, "warnings", "  ! ");
}

static void print_history(const cli_printer *p, const json_t *r) {
    size_t i;
    json_t *c;
    json_array_foreach(at(r, "changes"), i, c)
        fprintf(p->out, "%5lld  %-19.19s  %-12s  %s%s\n", whole(c, "revision"), text(c, "at"), text(c, "who"),
                text(c, "why"), json_is_true(at(c, "undone")) ? "  (undone)" : "");
}

static void print_ground(const cli_printer *p, const json_t *r) {
    double a = p->imperial ? FOOT2 : 1;
    fprintf(
        p->out,
        "%lld points, %lld triangles\nplan area  %.2f %s\nslope area %.2f %s\nlowest     %.3f %s\nhighest    %.3f %s\n",
        whole(r, "points"), whole(r, "triangles"), number(r, "plan_area_m2") / a, area_unit(p),
        number(r, "slope_area_m2") / a, area_unit(p), length_in(p, number(r, "lowest_m")), length_unit(p),
        length_in(p, number(r, "highest_m")), length_unit(p));
    figure(p, "mean level", r, "mean_level_m", "mean_level_m_interval", p->imperial ? MST_FOOT_M : 1, length_unit(p),
           3);
    fprintf(p->out, "%s\n", text(at(r, "roughness"), "sentence"));
    size_t i;
    json_t *next;
    json_array_foreach(at(r, "where_next"), i, next) fprintf(p->out, "%2zu. %s\n", i + 1, text(next, "sentence"));
    sentences(p, r, "warnings", "! ");
}

static void print_elevation(const cli_printer *p, const json_t *r) {
    fprintf(p->out, "%.3f %s (95 %%: %.3f to %.3f, from the readings%s), slope %.2f %%",
            length_in(p, number(r, "elevation_m")), length_unit(p), length_in(p, interval_end(r, "interval_m", 0)),
            length_in(p, interval_end(r, "interval_m", 1)),
            json_is_true(at(r, "roughness_known")) ? " and the ground between the points" : "",
            number(r, "slope_percent"));
    if (isfinite(number(r, "fall_bearing_deg")))
        fprintf(p->out, " falling towards %.0f deg", number(r, "fall_bearing_deg"));
    fputc('\n', p->out);
    const json_t *edge = at(r, "nearest_breakline");
    if (json_is_object(edge))
        fprintf(p->out, "Nearest breakline %.3f %s away, at level %.3f.\n", length_in(p, number(edge, "distance_m")),
                length_unit(p), length_in(p, number(edge, "elevation_m")));
    if (json_is_string(at(r, "feature")))
        fprintf(p->out, "Mean over %s; lowest %.3f, highest %.3f.\n", text(r, "feature"),
                length_in(p, number(r, "lowest_m")), length_in(p, number(r, "highest_m")));
}

static void print_contours(const cli_printer *p, const json_t *r) {
    size_t n = json_is_array(at(r, "features")) ? json_array_size(at(r, "features")) : (size_t)whole(r, "contours");
    fprintf(p->out, "%zu contour lines at %.3f m%s%s\n", n, number(r, "interval_m"), *text(r, "file") ? " in " : "",
            text(r, "file"));
}

static void print_profile(const cli_printer *p, const json_t *r) {
    fprintf(p->out, "%10s %10s %12s %12s\n", "chainage", "level", "easting", "northing");
    size_t i;
    json_t *o;
    json_array_foreach(at(r, "points"), i, o) {
        cell(p->out, 9, 2, length_in(p, number(o, "chainage_m")));
        cell(p->out, 10, 3, length_in(p, number(o, "elevation_m")));
        cell(p->out, 12, 3, length_in(p, number(o, "easting_m")));
        cell(p->out, 12, 3, length_in(p, number(o, "northing_m")));
        fputc('\n', p->out);
    }
    double run = number(r, "run_m"), change = number(r, "to_m") - number(r, "from_m");
    fprintf(p->out, "\nrun %.2f %s, rise %.3f, fall %.3f, end to end %+.3f %s", length_in(p, run), length_unit(p),
            length_in(p, number(r, "rise_m")), length_in(p, number(r, "fall_m")), length_in(p, change), length_unit(p));
    if (fabs(change) > 1e-9 && run > 0)
        fprintf(p->out, " = 1:%.0f = %.2f %%", run / fabs(change), fabs(change) / run * 100);
    fputc('\n', p->out);
    sentences(p, r, "warnings", "! ");
}

static void print_advice(const cli_printer *p, const json_t *list, double unit, int decimals, const char *name) {
    size_t i;
    json_t *o;
    json_array_foreach(list, i, o) {
        fprintf(p->out, "  %-10s %-10s %-10s %5.1f min", text(o, "reading"), text(o, "from"), text(o, "to"),
                number(o, "minutes"));
        if (name)
            fprintf(p->out, "   %.*f -> %.*f %s", decimals, number(o, "before") / unit, decimals,
                    number(o, "after") / unit, name);
        fputc('\n', p->out);
    }
}

static void print_plan_visit(const cli_printer *p, const json_t *r) {
    const char *u = length_unit(p);
    fprintf(p->out, "%s\n\nExpected, at 95 %%\n%-12s %10s %10s %10s\n", text(r, "datum"), "point", "within", "sd plan",
            "sd level");
    size_t i;
    json_t *o;
    json_array_foreach(at(r, "points"), i, o) {
        fprintf(p->out, "%-12s", text(o, "point"));
        cell(p->out, 10, 3, length_in(p, number(o, "within_95_m")));
        cell(p->out, 10, 3, length_in(p, fmax(number(o, "sd_easting_m"), number(o, "sd_northing_m"))));
        cell(p->out, 10, 3, length_in(p, number(o, "sd_elevation_m")));
        fprintf(p->out, " %s\n", u);
    }
    json_array_foreach(at(r, "features"), i, o) {
        fprintf(p->out, "%-12s length +- %.3f %s", text(o, "feature"), length_in(p, number(o, "length_within_95_m")),
                u);
        if (isfinite(number(o, "area_m2")))
            fprintf(p->out, ", area +- %.2f %s", number(o, "area_within_95_m2") / (p->imperial ? FOOT2 : 1),
                    area_unit(p));
        fputc('\n', p->out);
    }
    json_array_foreach(at(r, "undetermined"), i, o) fprintf(
        p->out, "? %s: %s\n", json_string_value(o), json_string_value(json_array_get(at(r, "undetermined_why"), i)));
    json_array_foreach(at(r, "by_sketch"), i, o) fprintf(
        p->out, "%s%s", i ? ", " : "Only your sketch tells on which side these lie; write it down in the field: ",
        json_string_value(o));
    if (json_array_size(at(r, "by_sketch"))) fputs(".\n", p->out);
    if (json_array_size(at(r, "added")))
        fprintf(p->out, "\nAdd, for every point within %.3f %s:\n", length_in(p, number(r, "aim_m")), u);
    print_advice(p, at(r, "added"), 1, 3, NULL);
}

static void print_next(const cli_printer *p, const json_t *r) {
    bool area = strcmp(text(r, "figure"), "area_within_95_m2") == 0;
    double unit = !p->imperial ? 1 : area ? FOOT2 : MST_FOOT_M;
    const char *name = area ? area_unit(p) : length_unit(p);
    fprintf(p->out, "%s is known to +- %.3f %s. Most gained a minute:\n", text(r, "feature"), number(r, "now") / unit,
            name);
    print_advice(p, at(r, "readings"), unit, 3, name);
}

static void print_measure(const cli_printer *p, const json_t *r) {
    double l = p->imperial ? MST_FOOT_M : 1, a = p->imperial ? FOOT2 : 1;
    fprintf(p->out, "%s (%s%s%s)\n", text(r, "feature"), text(r, "kind"), *text(r, "code") ? ", " : "",
            text(r, "code"));
    figure(p, "plan length", r, "length_m", "length_m_interval", l, length_unit(p), 3);
    figure(p, "slope length", r, "slope_length_m", "slope_length_m_interval", l, length_unit(p), 3);
    figure(p, "plan area", r, "area_m2", "area_m2_interval", a, area_unit(p), 2);
    figure(p, "slope area", r, "slope_area_m2", "slope_area_m2_interval", a, area_unit(p), 2);
}

static void print_list(const cli_printer *p, const json_t *r, const char *key, const char *title, const char *none) {
    size_t i;
    json_t *o;
    fprintf(p->out, "%s\n", title);
    if (json_array_size(at(r, key)) == 0) fprintf(p->out, "  %s\n", none);
    json_array_foreach(at(r, key), i, o) fprintf(p->out, "  %s\n", text(o, "sentence"));
}

static void print_drain(const cli_printer *p, const json_t *r) {
    fprintf(p->out, "%s ground\n", text(r, "surface"));
    print_list(p, r, "low_spots", "Low spots", "none: every place runs off.");
    print_list(p, r, "falls", "Falls", "no area with ground under it.");
    print_list(p, r, "buildings", "Beside buildings", "no area with a code of building or house.");
    print_list(p, r, "outfalls", "Where water leaves", "nowhere.");
    if (json_array_size(at(r, "lines"))) print_list(p, r, "lines", "Along lines of the works", "");
    if (json_array_size(at(r, "flows"))) print_list(p, r, "flows", "What swales and pipes carry", "");
    sentences(p, r, "warnings", "! ");
}

static void print_works(const cli_printer *p, const json_t *r) {
    size_t i;
    json_t *w;
    if (json_array_size(at(r, "works")) == 0) fprintf(p->out, "No works yet.\n");
    json_array_foreach(at(r, "works"), i, w) {
        fprintf(p->out, "%-16s %-12s %s %-14s", text(w, "name"), text(w, "kind"), *text(w, "in") ? "in" : "  ",
                text(w, "in"));
        if (isfinite(number(w, "level_m")))
            fprintf(p->out, " finish %.3f, formation %.3f %s", length_in(p, number(w, "level_m")),
                    length_in(p, number(w, "formation_m")), length_unit(p));
        if (number(w, "fall_percent") > 0)
            fprintf(p->out, ", falls %.2f %% (1:%.0f) towards %.0f deg", number(w, "fall_percent"),
                    100 / number(w, "fall_percent"), number(w, "fall_bearing_deg"));
        if (isfinite(number(w, "depth_m")))
            fprintf(p->out, " %s by %.3f %s", number(w, "depth_m") < 0 ? "filled" : "dug",
                    length_in(p, fabs(number(w, "depth_m"))), length_unit(p));
        fputc('\n', p->out);
    }
}

static void print_earthwork(const cli_printer *p, const json_t *r) {
    double v = p->imperial ? YARD3 : 1;
    figure(p, "  cut, bank", r, "cut_m3", "cut_interval_m3", v, volume_unit(p), 2);
    figure(p, "  fill", r, "fill_m3", "fill_interval_m3", v, volume_unit(p), 2);
    figure(p, "  net, cut - fill", r, "net_m3", "net_interval_m3", v, volume_unit(p), 2);
    if (number(r, "strip_m3") > 0)
        figure(p, "  topsoil strip", r, "strip_m3", "strip_interval_m3", v, volume_unit(p), 2);
    fprintf(p->out, "%-18s %12.2f %s\n", "  over", number(r, "area_m2") / (p->imperial ? FOOT2 : 1), area_unit(p));
    if (number(r, "uncovered_m2") > 0.005)
        fprintf(p->out,
                json_object_get(r, "from") ? "  ! %.2f %s lie in the ground of one visit only and are not counted.\n"
                                           : "  ! %.2f %s have no ground under them and are not counted.\n",
                number(r, "uncovered_m2") / (p->imperial ? FOOT2 : 1), area_unit(p));
    size_t i;
    json_t *l;
    json_array_foreach(at(r, "layers"), i, l) {
        char label[40];
        snprintf(label, sizeof label, "  %.30s", text(l, "material"));
        figure(p, label, l, "volume_m3", "volume_interval_m3", v, volume_unit(p), 2);
    }
}

static void print_volume(const cli_printer *p, const json_t *r) {
    size_t i;
    json_t *o;
    if (json_array_size(at(r, "elements")) > 1) json_array_foreach(at(r, "elements"), i, o) {
            fprintf(p->out, "%s\n", text(o, "element"));
            print_earthwork(p, o);
        }
    fprintf(p->out, "%s\n", *text(r, "from") ? "ground then and now" : "total");
    bool one = json_array_size(at(r, "elements")) == 1;
    print_earthwork(p, one ? json_array_get(at(r, "elements"), 0) : r);
    double v = p->imperial ? YARD3 : 1;
    if (json_array_size(at(r, "materials")))
        fprintf(p->out, "\n%-24s %10s %10s %10s  loads   (%s)\n", "material", "bank", "loose", "compacted",
                volume_unit(p));
    json_array_foreach(at(r, "materials"), i, o) {
        fprintf(p->out, "%-24s", text(o, "material"));
        cell(p->out, 10, 2, number(o, "bank_m3") / v);
        cell(p->out, 10, 2, number(o, "loose_m3") / v);
        cell(p->out, 10, 2, number(o, "compacted_m3") / v);
        fprintf(p->out, " %6lld\n", whole(o, "loads"));
    }
    sentences(p, r, "cautions", "! ");
}

static void print_balance(const cli_printer *p, const json_t *r) {
    double v = p->imperial ? YARD3 : 1;
    size_t i;
    json_t *o;
    if (at(r, "raise_m")) {
        fprintf(p->out,
                "Together their cut makes their fill when all are %s by %.3f %s: %.2f %s cut (bank), %.2f %s "
                "fill (compacted).\n",
                number(r, "raise_m") < 0 ? "lowered" : "raised", length_in(p, fabs(number(r, "raise_m"))),
                length_unit(p), number(r, "cut_m3") / v, volume_unit(p), number(r, "fill_m3") / v, volume_unit(p));
        json_array_foreach(at(r, "elements"), i, o) fprintf(
            p->out, "  %-16s to %.3f %s: %.2f cut, %.2f fill\n", text(o, "element"), length_in(p, number(o, "level_m")),
            length_unit(p), number(o, "cut_m3") / v, number(o, "fill_m3") / v);
        return;
    }
    if (at(r, "fall_percent")) {
        fprintf(p->out,
                "Cut meets fill at a fall of %.3f %%, its level kept: %.2f %s cut (bank), %.2f %s fill "
                "(compacted). Check that it drains.\n",
                number(r, "fall_percent"), number(r, "cut_m3") / v, volume_unit(p), number(r, "fill_m3") / v,
                volume_unit(p));
        return;
    }
    fprintf(p->out,
            "Cut meets fill with the finished level at %.3f %s: %.2f %s cut (bank), %.2f %s fill (compacted).\n",
            length_in(p, number(r, "level_m")), length_unit(p), number(r, "cut_m3") / v, volume_unit(p),
            number(r, "fill_m3") / v, volume_unit(p));
}

static void print_grade(const cli_printer *p, const json_t *r) {
    double v = p->imperial ? YARD3 : 1;
    size_t i;
    json_t *wish;
    json_array_foreach(at(r, "conflict"), i, wish)
        fprintf(p->out, "%s %s\n", i ? "     and" : "Conflict:", json_string_value(wish));
    if (!json_is_true(at(r, "met"))) return;
    fprintf(p->out, "Cheapest levels at %zu points for %.2f: %.2f %s cut (bank), %.2f %s fill (compacted).\n",
            json_array_size(at(r, "levels")), number(r, "cost"), number(r, "exact_cut_m3") / v, volume_unit(p),
            number(r, "exact_fill_m3") / v, volume_unit(p));
    fprintf(p->out, "Proved: nothing that meets these wishes costs less than %.2f.\n", number(r, "least_cost"));
    fprintf(p->out, "Import %.2f %s (compacted), cart away %.2f %s (bank). The levels themselves: --json.\n",
            number(r, "import_m3") / v, volume_unit(p), number(r, "cart_away_m3") / v, volume_unit(p));
}

static void print_haul(const cli_printer *p, const json_t *r) {
    double v = p->imperial ? YARD3 : 1;
    size_t i;
    json_t *h;
    fprintf(p->out, "%-18s %-18s %12s %12s %10s  loads\n", "from", "to", "bank", "loose", "way");
    json_array_foreach(at(r, "hauls"), i, h)
        fprintf(p->out, "%-18s %-18s %9.2f %s %9.2f %s %8.1f %s  %lld\n", text(h, "from"), text(h, "to"),
                number(h, "bank_m3") / v, volume_unit(p), number(h, "loose_m3") / v, volume_unit(p),
                length_in(p, number(h, "distance_m")), length_unit(p), whole(h, "loads"));
    if (isfinite(number(r, "cost"))) fprintf(p->out, "Cost %.2f\n", number(r, "cost"));
    const json_t *topsoil = at(r, "topsoil");
    if (json_array_size(at(topsoil, "hauls"))) fprintf(p->out, "\nTopsoil, kept apart\n"), print_haul(p, topsoil);
}

static void print_sections(const cli_printer *p, const json_t *r) {
    double v = p->imperial ? YARD3 : 1;
    size_t i;
    json_t *s;
    double area = p->imperial ? FOOT2 : 1;
    fprintf(p->out, "%10s %12s %12s %12s   (areas %s, mass haul %s)\n", "chainage", "cut", "fill", "mass", area_unit(p),
            volume_unit(p));
    json_array_foreach(at(r, "stations"), i, s)
        fprintf(p->out, "%10.2f %12.2f %12.2f %12.2f\n", length_in(p, number(s, "chainage_m")),
                number(s, "cut_m2") / area, number(s, "fill_m2") / area, number(s, "mass_m3") / v);
    fprintf(p->out, "The lines themselves: --json.\n");
}

static void print_money(const cli_printer *p, int width, double minor, int decimals) {
    char amount[40];
    fprintf(p->out, " %*s", width, isfinite(minor) ? money(minor, decimals, amount) : "-");
}

static void print_total(const cli_printer *p, const json_t *r, int decimals) {
    char total[40], from[40], to[40];
    double low = interval_end(r, "total_interval", 0), high = interval_end(r, "total_interval", 1);
    fprintf(p->out, "%-34s %s %s", json_is_true(at(r, "partial")) ? "total, as far as priced" : "total",
            text(r, "currency"), money(number(r, "total"), decimals, total));
    if (isfinite(low))
        fprintf(p->out, "   (95 %%, from the measurement: %s to %s)", money(round(low), decimals, from),
                money(round(high), decimals, to));
    fputc('\n', p->out);
}

static void print_bill(const cli_printer *p, const json_t *r) {
    bool priced = at(r, "total") != NULL;
    int decimals = mst_currency_decimals(text(r, "currency"));
    fprintf(p->out, "%-34s %-5s %10s %7s %10s %7s %-8s %8s", "item", "unit", "net", "waste %", "gross", "packs", "",
            "spare");
    fprintf(p->out, priced ? " %10s %12s\n" : "%s%s\n", priced ? "rate" : "", priced ? "amount" : "");
    size_t i;
    json_t *l;
    json_array_foreach(at(r, "lines"), i, l) {
        fprintf(p->out, "%-34s %-5s", text(l, "item"), text(l, "unit"));
        cell(p->out, 10, 2, number(l, "net"));
        cell(p->out, 7, 1, number(l, "waste_percent"));
        cell(p->out, 10, 2, number(l, "gross"));
        cell(p->out, 7, 0, number(l, "packs"));
        fprintf(p->out, " %-8s", text(l, "pack_unit"));
        cell(p->out, 8, 2, number(l, "spare"));
        if (priced) {
            print_money(p, 10, number(l, "rate"), decimals);
            print_money(p, 12, number(l, "amount"), decimals);
        }
        fputc('\n', p->out);
    }
    if (priced) print_total(p, r, decimals);
    sentences(p, r, "warnings", "! ");
    sentences(p, r, "cautions", "! ");
}

static void print_file(const cli_printer *p, const json_t *r) {
    fprintf(p->out, "%s", text(r, "file"));
    if (at(r, "scale")) fprintf(p->out, "  1:%.0f at %s", number(r, "scale"), text(r, "paper"));
    fputc('\n', p->out);
    sentences(p, r, "notes", "  ");
}

static void print_stake(const cli_printer *p, const json_t *s, const char *method) {
    const json_t *m = at(s, "methods");
    fprintf(p->out, "%-10s", text(s, "stake"));
    cell(p->out, 11, 3, length_in(p, number(s, "easting_m")));
    cell(p->out, 11, 3, length_in(p, number(s, "northing_m")));
    cell(p->out, 9, 3, length_in(p, number(s, "elevation_m")));
    cell(p->out, 9, 3, length_in(p, number(s, "ground_m")));
    double cut = number(s, "cut_m");
    if (isfinite(cut)) fprintf(p->out, "  %s %.3f", cut >= 0 ? "CUT " : "FILL", length_in(p, fabs(cut)));
    if (isfinite(number(s, "sd_m"))) fprintf(p->out, "  +-%.3f", 1.96 * length_in(p, number(s, "sd_m")));
    fputc('\n', p->out);
    size_t i;
    json_t *tie;
    if (json_array_size(at(m, "ties"))) fprintf(p->out, "           ties:");
    json_array_foreach(at(m, "ties"), i, tie) fprintf(p->out, "%s %s %.3f", i == 2 ? "  check" : "", text(tie, "from"),
                                                      length_in(p, number(tie, "distance_m")));
    if (json_array_size(at(m, "ties"))) fprintf(p->out, "%s%s\n", *text(s, "side") ? "; " : "", text(s, "side"));
    const json_t *polar = at(m, "polar"), *offset = at(m, "offsets");
    char circle[32], bearing[32];
    if (polar && strcmp(method, "ties") != 0) {
        mst_angle_dms(number(polar, "circle_deg") * MST_PI / 180, 0, circle, sizeof circle);
        mst_angle_dms(number(polar, "bearing_deg") * MST_PI / 180, 0, bearing, sizeof bearing);
        fprintf(p->out, "           polar: at %s on %s, circle %s, bearing %s, distance %.3f\n", text(polar, "at"),
                text(polar, "backsight"), circle, bearing, length_in(p, number(polar, "distance_m")));
    }
    if (offset)
        fprintf(p->out, "           offset: %s to %s, chainage %.3f, offset %.3f %s\n", text(offset, "from"),
                text(offset, "to"), length_in(p, number(offset, "chainage_m")),
                length_in(p, fabs(number(offset, "offset_m"))), number(offset, "offset_m") < 0 ? "left" : "right");
    if (*text(s, "caution")) fprintf(p->out, "           ! %s\n", text(s, "caution"));
}

static void print_setout(const cli_printer *p, const json_t *r) {
    const json_t *f = at(r, "fit");
    fprintf(p->out, "%s\n\n%-10s %11s %11s %9s %9s   to the design level (%s)\n", text(f, "sentence"), "stake",
            "easting", "northing", "design", "ground", length_unit(p));
    size_t i, k;
    json_t *name, *s;
    json_array_foreach(at(r, "order"), i, name) /* in walking order */
        json_array_foreach(at(r, "stakes"), k, s) if (strcmp(text(s, "stake"), json_string_value(name)) == 0) {
        print_stake(p, s, text(r, "method"));
        break;
    }
    fprintf(p->out, "\nLevels are of the design as given; say on each peg whether it is formation or finished level. "
                    "Measured by ______  date ______\n");
}

static void print_verify(const cli_printer *p, const json_t *r) {
    size_t i;
    json_t *c;
    json_array_foreach(at(r, "checks"), i, c) fprintf(p->out, "%-10s %-10s %-12s %s\n", text(c, "point"),
                                                      text(c, "stake"), text(c, "verdict"), text(c, "sentence"));
    fprintf(p->out, "\n%lld pass, %lld fail, %lld cannot be told.\n", whole(r, "pass"), whole(r, "fail"),
            whole(r, "cannot_tell"));
}

/* Figures of one gear as they are said; those that do not apply are left out. */
static void print_gear_figures(const cli_printer *p, const json_t *g) {
    static const struct {
        const char *key, *before, *behind;
        double by;
    } FIGURES[] = {{"distance_m", "distance ", " mm", 1000},
                   {"distance_ppm", "and ", " mm a km", 1},
                   {"angle_rad", "circle ", "\"", 180 * 3600 / MST_PI},
                   {"zenith_rad", "zenith ", "\"", 180 * 3600 / MST_PI},
                   {"centring_m", "over each mark ", " mm", 1000},
                   {"plan_m", "plan ", " mm", 1000},
                   {"height_m", "level ", " mm", 1000},
                   {"staff_m", "staff ", " mm", 1000},
                   {"levelled_km_m", "levelled ", " mm a root km", 1000},
                   {"leg_m", "leg ", " mm", 1000},
                   {"leg_rate", "and ", " mm x seconds to the power of", 1000},
                   {"leg_power", "", "", 1},
                   {"leg_height_ratio", "its rise ", " times that", 1}};
    const char *join = "";
    for (size_t i = 0; i < sizeof FIGURES / sizeof *FIGURES; i++) {
        double value = number(g, FIGURES[i].key);
        bool power = strcmp(FIGURES[i].key, "leg_power") == 0;
        if (!(value > 0) || (power && !(number(g, "leg_rate") > 0))) continue;
        fprintf(p->out, "%s%s%.4g%s", power ? " " : join, FIGURES[i].before, value * FIGURES[i].by, FIGURES[i].behind);
        join = ", ";
    }
}

static void print_gear(const cli_printer *p, const json_t *r) {
    size_t i;
    json_t *g;
    fprintf(p->out, "One standard deviation each; * your own. Change or add: set-gear.\n");
    json_array_foreach(at(r, "gear"), i, g) {
        fprintf(p->out, "%-18s%s ", text(g, "name"), json_is_true(at(g, "preset")) ? " " : "*");
        print_gear_figures(p, g);
        fprintf(p->out, "  (%s)\n", text(g, "source"));
    }
}

static const struct {
    const char *name;
    cli_print *print;
} PRINTERS[] = {{"new", print_new},
                {"cloud", print_cloud},
                {"import", print_import},
                {"set-aside", print_change},
                {"put-setting", print_change},
                {"put-gear", print_change},
                {"undo", print_change},
                {"redo", print_change},
                {"history", print_history},
                {"adjust", cli_print_adjust},
                {"traverse", cli_print_traverse},
                {"levels", cli_print_levels},
                {"ground", print_ground},
                {"rounds", cli_print_rounds},
                {"two-peg", cli_print_two_peg},
                {"fit-visits", cli_print_fit_visits},
                {"plan-visit", print_plan_visit},
                {"next", print_next},
                {"elevation", print_elevation},
                {"contours", print_contours},
                {"profile", print_profile},
                {"drain", print_drain},
                {"measure", print_measure},
                {"works", print_works},
                {"volume", print_volume},
                {"against", print_volume},
                {"balance", print_balance},
                {"grade", print_grade},
                {"haul", print_haul},
                {"sections", print_sections},
                {"takeoff", print_bill},
                {"estimate", print_bill},
                {"draw", print_file},
                {"export", print_file},
                {"setout", print_setout},
                {"verify", print_verify},
                {"gear", print_gear}};

cli_print *cli_printer_of(const char *operation) {
    for (size_t i = 0; i < sizeof PRINTERS / sizeof *PRINTERS; i++)
        if (strcmp(PRINTERS[i].name, operation) == 0) return PRINTERS[i].print;
    return NULL;
}
