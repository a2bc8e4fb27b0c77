/* What a sheet must say in words: what the figures count from, how far they can be trusted, what was not measured,
 * and what can hurt. */
#include "drawing/figures.h"
#include "drawing/plan.h"
#include <math.h>
#include <string.h>

enum { NAMES_LISTED = 6, SUSPECTS_LISTED = 3 };

typedef struct writer {
    const mst_drawing_input *input;
    mst_arena *arena;
    mst_plan *plan;
    mst_text text;
    bool failed;
} writer;

static bool given(const char *text) { return text && *text; }

/* Closes the note under way; one without text is left out. */
static void end_note(writer *w, const char *heading) {
    mst_plan_note *slot = NULL;
    if (w->text.length) {
        slot = MST_PUSH(w->arena, w->plan->notes, w->plan->note_count, w->plan->note_capacity);
        const char *text = mst_arena_text(w->arena, w->text.data, w->text.length);
        if (slot && text) *slot = (mst_plan_note){heading, text};
        w->failed |= !slot || !text;
    }
    w->failed |= w->text.failed;
    mst_text_free(&w->text);
    w->text = (mst_text){0};
}

/* Starts the next sentence behind a space. */
static mst_text *sentence(writer *w) {
    if (w->text.length && w->text.data[w->text.length - 1] != ' ') mst_text_string(&w->text, " ");
    return &w->text;
}

static void small_length(writer *w, double metres) {
    if (w->plan->imperial) mst_text_printf(&w->text, "%.2f in", metres / 0.0254);
    else mst_text_printf(&w->text, "%.0f mm", fmax(1, metres * 1000));
}

/* ---- what the figures count from ---- */

static void datum(writer *w) {
    const char *said = w->input->text.datum;
    if (!given(said)) said = w->input->adjustment->datum;
    if (given(said)) mst_text_string(sentence(w), said);
    else mst_text_string(sentence(w), "Levels and coordinates count from the site's first visit.");
    if (!given(w->input->text.datum)) mst_text_string(sentence(w), "Local datum, not sea level, unless said here.");
    end_note(w, "Datum");
}

static void coordinates(writer *w) {
    const char *north = given(w->input->text.north) ? w->input->text.north : "site north";
    mst_text_printf(sentence(w),
                    "Eastings and northings of the site's own grid in %s, at ground scale; the arrow shows %s.",
                    w->plan->imperial ? "feet" : "metres", north);
    end_note(w, "Coordinates");
}

static void units(writer *w) {
    if (w->plan->imperial)
        mst_text_string(sentence(w),
                        "Lengths in feet and inches (12'-6\"). Levels in decimal feet (12.5'): one decimal, "
                        "two on built surfaces.");
    else
        mst_text_string(sentence(w), "Metres. Levels to 2 decimals, 3 on built surfaces known to 5 mm, 1 where known "
                                     "worse than 50 mm. R = radius.");
    mst_text_string(sentence(w), "Do not scale: use figured dimensions. Very short edges are not figured.");
    end_note(w, "Units");
}

/* ---- how far they can be trusted ---- */

static void visits(writer *w) {
    const mst_site *s = w->input->site;
    mst_text_printf(sentence(w), "%zu points", w->plan->point_count);
    if (w->input->adjustment->observation_count)
        mst_text_printf(&w->text, " from %zu readings", w->input->adjustment->observation_count);
    for (size_t i = 0; i < s->visit_count && i < NAMES_LISTED; i++)
        mst_text_printf(&w->text, "%s%s",
                        i                    ? ", "
                        : s->visit_count > 1 ? "; visits: "
                                             : "; visit: ",
                        s->visits[i].name);
    if (s->visit_count > NAMES_LISTED) mst_text_printf(&w->text, " and %zu more", s->visit_count - NAMES_LISTED);
    mst_text_string(&w->text, ".");
}

static bool gear_named_before(const mst_site *s, size_t page) {
    for (size_t i = 0; i < page; i++)
        if (given(s->pages[i].gear) && !strcmp(s->pages[i].gear, s->pages[page].gear)) return true;
    return false;
}

static void gear(writer *w) {
    const mst_site *s = w->input->site;
    size_t named = 0;
    for (size_t i = 0; i < s->page_count; i++) {
        if (!given(s->pages[i].gear) || gear_named_before(s, i)) continue;
        if (named++) mst_text_printf(&w->text, ", %s", s->pages[i].gear);
        else mst_text_printf(sentence(w), "Gear: %s", s->pages[i].gear);
    }
    if (named) mst_text_string(&w->text, ".");
}

static double median_level_sd(const writer *w) {
    double *values = mst_arena_array(w->arena, w->plan->point_count, sizeof *values);
    size_t count = 0;
    for (size_t i = 0; values && i < w->plan->point_count; i++)
        if (w->plan->points[i].sd_level_m > 0) values[count++] = w->plan->points[i].sd_level_m;
    return mst_median(values, count);
}

static void deviations(writer *w) {
    double level = median_level_sd(w);
    if (!(w->plan->sd_plan_m > 0) && !(level > 0)) return;
    mst_text_string(sentence(w), "Standard deviation of a usual point:");
    if (w->plan->sd_plan_m > 0) mst_text_string(&w->text, " plan "), small_length(w, w->plan->sd_plan_m);
    if (level > 0) mst_text_string(&w->text, w->plan->sd_plan_m > 0 ? ", level " : " level "), small_length(w, level);
    mst_text_string(&w->text, ".");
}

static void global_test(writer *w) {
    const mst_adjustment *a = w->input->adjustment;
    if (a->degrees_of_freedom <= 0) mst_text_string(sentence(w), "No reading checks another: nothing here is proven.");
    else if (a->global_test.passed)
        mst_text_printf(sentence(w), "With %d checks the readings agree as well as the gear should allow.",
                        a->degrees_of_freedom);
    else if (a->global_test.statistic > a->global_test.upper)
        mst_text_printf(sentence(w),
                        "The readings disagree more than the gear should allow (%d checks): deviations widened "
                        "by %.1f.",
                        a->degrees_of_freedom, a->scale);
    else
        mst_text_printf(sentence(w), "The readings agree better than the gear promises (%d checks).",
                        a->degrees_of_freedom);
}

static void suspects(writer *w) {
    const mst_adjustment *a = w->input->adjustment;
    for (size_t i = 0; i < a->suspect_count && i < SUSPECTS_LISTED; i++)
        if (given(a->suspects[i].sentence)) mst_text_printf(sentence(w), "Suspect: %s", a->suspects[i].sentence);
    if (a->suspect_count > SUSPECTS_LISTED)
        mst_text_printf(sentence(w), "%zu more readings are suspect.", a->suspect_count - SUSPECTS_LISTED);
}

static void unproven(writer *w) {
    size_t count = 0;
    for (size_t i = 0; i < w->plan->point_count; i++) count += w->plan->points[i].unproven;
    if (count == 1) mst_text_string(sentence(w), "1 point rests on one reading (hollow mark).");
    if (count > 1) mst_text_printf(sentence(w), "%zu points rest on one reading each (hollow marks).", count);
}

static void undetermined(writer *w) {
    const mst_adjustment *a = w->input->adjustment;
    for (size_t i = 0; i < a->undetermined_count && i < NAMES_LISTED; i++)
        mst_text_printf(i ? &w->text : sentence(w), "%s%s",
                        i ? ", " : "Without a place, not drawn: ", a->undetermined[i]);
    if (a->undetermined_count > NAMES_LISTED)
        mst_text_printf(&w->text, " and %zu more", a->undetermined_count - NAMES_LISTED);
    if (a->undetermined_count) mst_text_string(&w->text, ".");
}

static bool drawn(const mst_plan *plan, const char *name) {
    for (size_t i = 0; i < plan->feature_count; i++)
        if (!strcmp(plan->features[i].name, name)) return true;
    return false;
}

static void missing_features(writer *w) {
    const mst_site *s = w->input->site;
    size_t missing = s->feature_count - w->plan->feature_count, listed = 0;
    for (size_t i = 0; i < s->feature_count && missing && listed < NAMES_LISTED; i++) {
        if (drawn(w->plan, s->features[i].name)) continue;
        mst_text_printf(listed ? &w->text : sentence(w), "%s%s",
                        listed ? ", " : "Features not drawn, a point has no place: ", s->features[i].name);
        listed++;
    }
    if (missing > listed) mst_text_printf(&w->text, " and %zu more", missing - listed);
    if (missing) mst_text_string(&w->text, ".");
}

static void survey(writer *w) {
    visits(w);
    gear(w);
    deviations(w);
    global_test(w);
    suspects(w);
    unproven(w);
    undetermined(w);
    missing_features(w);
    end_note(w, "Survey");
}

static bool has(const mst_plan *plan, mst_matter matter) {
    for (size_t i = 0; i < plan->feature_count; i++)
        if (plan->features[i].style->matter == matter) return true;
    return false;
}

/* What is not on the plan was not measured; that is all that can be known. */
static void not_surveyed(writer *w) {
    static const struct {
        mst_matter matter;
        const char *words;
    } matters[] = {{MST_MATTER_SERVICE, "underground services and drains"},
                   {MST_MATTER_TREE, "trees"},
                   {MST_MATTER_OCCUPATION, "line of occupation"}};
    size_t listed = 0;
    for (size_t i = 0; i < sizeof matters / sizeof *matters; i++)
        if (!has(w->plan, matters[i].matter))
            mst_text_printf(&w->text, "%s%s", listed++ ? ", " : "Nothing was measured of: ", matters[i].words);
    mst_text_string(&w->text, listed ? ". What is not drawn was not measured." : "What is not drawn was not measured.");
    end_note(w, "Not surveyed");
}

/* ---- works and what can hurt ---- */

static void volume(writer *w, const char *what, mst_figure figure) {
    char value[MST_FIGURE_SIZE], low[MST_FIGURE_SIZE], high[MST_FIGURE_SIZE];
    mst_write_volume(figure.value, w->plan->imperial, value);
    mst_text_printf(sentence(w), "%s %s", what, value);
    if (!isfinite(figure.low) || !isfinite(figure.high)) {
        mst_text_string(&w->text, ".");
        return;
    }
    mst_write_volume(figure.low, w->plan->imperial, low);
    mst_write_volume(figure.high, w->plan->imperial, high);
    mst_text_printf(&w->text, " (%.*s to %s).", (int)strcspn(low, " "), low, high);
}

/* Adds each sentence of @p text that the note does not have yet: cautions for three elements repeat themselves. */
static void add_new_sentences(writer *w, const char *text) {
    while (*text) {
        const char *stop = strstr(text, ". ");
        size_t length = stop ? (size_t)(stop - text) + 1 : strlen(text);
        const char *one = mst_arena_text(w->arena, text, length);
        w->failed |= !one;
        if (one && (!w->text.data || !strstr(w->text.data, one))) mst_text_string(sentence(w), one);
        text += length;
        while (*text == ' ') text++;
    }
}

static const char *in_the_plans_units(writer *w, const char *said) {
    if (!w->plan->imperial) return said;
    mst_text text = {0};
    mst_words_in_feet(said, &text);
    const char *kept = text.data && !text.failed ? mst_arena_text(w->arena, text.data, text.length) : NULL;
    w->failed |= !kept;
    mst_text_free(&text);
    return kept ? kept : said;
}

static void earthwork(writer *w) {
    const mst_earthwork_report *r = w->input->earthwork;
    if (!r) return;
    volume(w, "Cut", r->total.cut_m3);
    volume(w, "Fill", r->total.fill_m3);
    mst_text_string(sentence(w), "In the ground (bank), to formation, intervals at 95 %.");
    if (r->total.strip_m3 > 0) volume(w, "Topsoil strip, besides:", (mst_figure){r->total.strip_m3, NAN, NAN});
    for (size_t i = 0; i < r->caution_count; i++) add_new_sentences(w, in_the_plans_units(w, r->cautions[i]));
    end_note(w, "Earthworks");
}

static void cautions(writer *w) {
    const char *asked = w->input->text.services;
    mst_text_string(sentence(w),
                    "Services: approximate, unproven until dug by hand; ask their owners before any digging.");
    if (given(asked)) mst_text_printf(sentence(w), "Enquiry: %s.", asked);
    if (w->input->element_count || w->input->setout)
        mst_text_string(sentence(w),
                        "Excavations: a competent person decides on support, batters and access under local rules.");
    if (has(w->plan, MST_MATTER_WALL) || w->input->element_count)
        mst_text_string(sentence(w), "Walls that hold ground: by a licensed engineer where local rules ask for one.");
    mst_text_string(sentence(w), "Verify levels and dimensions on site before ordering or building.");
    mst_text_string(sentence(w), "Lines of occupation are as seen, not legal boundaries.");
    end_note(w, "Cautions");
}

bool mst_plan_add_notes(const mst_drawing_input *input, mst_arena *arena, mst_plan *plan) {
    writer w = {.input = input, .arena = arena, .plan = plan};
    cautions(&w);
    datum(&w);
    coordinates(&w);
    units(&w);
    survey(&w);
    not_surveyed(&w);
    earthwork(&w);
    return !w.failed;
}
