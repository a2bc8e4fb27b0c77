/* LandXML 1.2 TIN surfaces, read as a stream. The file is a stranger's: no document type, no entities, no network,
 * bounded sizes; every refusal names the line. Lengths become metres, northing-first becomes easting-first. */
#include "merestone/exchange.h"
#include <libxml/xmlreader.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static const size_t BYTES_MOST = 512u * 1024u * 1024u;
enum { POINTS_MOST = 20000000, FACES_MOST = 40000000, NUMBER_MOST = 64 };
static const char NAMESPACE[] = "http://www.landxml.org/schema/LandXML-1.";

typedef struct reader {
    xmlTextReaderPtr xml;
    mst_arena *arena, *scratch; /* scratch: point ids */
    const char *name;
    double metres;     /* in a unit; 0 until stated */
    bool root, inside; /* inside a Definition */
    const char *surface_name;
    mst_surface *surfaces;
    size_t surface_count, surface_capacity, point_capacity, face_capacity;
    mst_index ids;
    char parser_words[200]; /* libxml2's own reason */
    int parser_line;
} reader;

#define REFUSE(r, error, ...) mst_fail_at(error, MST_INVALID, (r)->name, line_of(r), 0, __VA_ARGS__)

/* The line of the element at hand; the parser itself is up to a few hundred bytes ahead. */
static int line_of(const reader *r) {
    xmlNodePtr node = r->xml ? xmlTextReaderCurrentNode(r->xml) : NULL;
    long line = node ? xmlGetLineNo(node) : 0;
    return line > 0 && line < INT_MAX ? (int)line : 0;
}

static mst_status no_memory(mst_error *error) { return mst_fail(error, MST_NO_MEMORY, "Out of memory."); }

/* ---- attributes and numbers ---- */

static bool attribute(const reader *r, const char *name, char out[NUMBER_MOST]) {
    xmlChar *value = xmlTextReaderGetAttribute(r->xml, (const xmlChar *)name);
    bool fits = value && strlen((const char *)value) < NUMBER_MOST;
    if (fits) memcpy(out, value, strlen((const char *)value) + 1);
    xmlFree(value);
    return fits;
}

/* The next word of text, cut off at blanks. @return false at the end, or for a word that no number is as long as */
static bool next_word(const char **at, char out[NUMBER_MOST]) {
    *at += strspn(*at, " \t\r\n");
    size_t length = strcspn(*at, " \t\r\n");
    if (length == 0 || length >= NUMBER_MOST) return false;
    memcpy(out, *at, length);
    out[length] = '\0';
    *at += length;
    return true;
}

static bool at_end(const char *at) { return at[strspn(at, " \t\r\n")] == '\0'; }

static double stated_area(const reader *r, const char *name) {
    char text[NUMBER_MOST];
    double value;
    return attribute(r, name, text) && mst_number_read(text, &value) ? value * r->metres * r->metres : NAN;
}

/* ---- elements ---- */

static mst_status start_root(reader *r, mst_error *error) {
    const char *name = (const char *)xmlTextReaderConstLocalName(r->xml),
               *space = (const char *)xmlTextReaderConstNamespaceUri(r->xml);
    if (strcmp(name, "LandXML") != 0 || !space || strncmp(space, NAMESPACE, sizeof NAMESPACE - 1) != 0)
        return REFUSE(r, error, "This is not a LandXML 1.2 file; its outer element is %.40s.", name);
    r->root = true;
    return MST_OK;
}

static mst_status take_units(reader *r, mst_error *error) {
    static const struct {
        const char *name;
        double metres;
    } UNITS[] = {{"meter", 1},         {"foot", MST_FOOT_M}, {"USSurveyFoot", MST_FOOT_US_M}, {"millimeter", 0.001},
                 {"centimeter", 0.01}, {"kilometer", 1000},  {"inch", MST_FOOT_M / 12}};
    char unit[NUMBER_MOST] = "";
    if (!attribute(r, "linearUnit", unit)) return REFUSE(r, error, "The units have no linearUnit.");
    for (size_t i = 0; i < sizeof UNITS / sizeof *UNITS; i++)
        if (strcmp(unit, UNITS[i].name) == 0) {
            r->metres = UNITS[i].metres;
            return MST_OK;
        }
    return REFUSE(r, error, "The length unit '%s' is not known; meter, foot and USSurveyFoot are.", unit);
}

static mst_status start_definition(reader *r, mst_error *error) {
    char type[NUMBER_MOST] = "";
    if (r->metres == 0)
        return REFUSE(r, error,
                      "The file does not state its length unit before its surfaces; ask for it, it cannot be guessed.");
    if (!attribute(r, "surfType", type) || strcmp(type, "TIN") != 0)
        return REFUSE(r, error, "Surface %s is of type '%s'; only triangles (TIN) are read.", r->surface_name, type);
    mst_surface *s = MST_PUSH(r->arena, r->surfaces, r->surface_count, r->surface_capacity);
    if (!s) return no_memory(error);
    s->name = r->surface_name;
    s->stated_area_m2 = stated_area(r, "area2DSurf");
    s->stated_slope_area_m2 = stated_area(r, "area3DSurf");
    r->ids = (mst_index){0};
    r->point_capacity = r->face_capacity = 0;
    r->inside = !xmlTextReaderIsEmptyElement(r->xml);
    return MST_OK;
}

static mst_status end_definition(reader *r, mst_error *error) {
    const mst_surface *s = &r->surfaces[r->surface_count - 1];
    r->inside = false;
    if (s->face_count == 0) return REFUSE(r, error, "Surface %s has no face that is part of it.", s->name);
    return MST_OK;
}

static mst_status point_text(reader *r, mst_surface *s, const char *text, mst_error *error) {
    double nez[3];
    char word[NUMBER_MOST];
    for (int k = 0; k < 3; k++) {
        if (!next_word(&text, word) || !mst_number_read(word, &nez[k]))
            return REFUSE(r, error, "A point of surface %s is not three numbers (northing, easting, elevation).",
                          s->name);
        nez[k] *= r->metres;
        if (!(fabs(nez[k]) <= MST_PLACE_MOST_M))
            return REFUSE(r, error, "A point of surface %s is farther away than the earth is round.", s->name);
    }
    if (!at_end(text)) return REFUSE(r, error, "A point of surface %s has more than three numbers.", s->name);
    double(*p)[3] =
        s->point_count < POINTS_MOST ? MST_PUSH(r->arena, s->points, s->point_count, r->point_capacity) : NULL;
    if (!p)
        return s->point_count < POINTS_MOST
                   ? no_memory(error)
                   : REFUSE(r, error, "Surface %s has more than %d points.", s->name, POINTS_MOST);
    (*p)[0] = nez[1];
    (*p)[1] = nez[0];
    (*p)[2] = nez[2];
    return MST_OK;
}

static mst_status take_point(reader *r, const char *text, mst_error *error) {
    mst_surface *s = &r->surfaces[r->surface_count - 1];
    char id[NUMBER_MOST];
    if (!attribute(r, "id", id)) return REFUSE(r, error, "A point of surface %s has no id.", s->name);
    if (mst_index_get(&r->ids, id) != UINT32_MAX)
        return REFUSE(r, error, "Two points of surface %s have the id %s.", s->name, id);
    const char *kept = mst_arena_string(r->scratch, id);
    if (!kept || !mst_index_put(&r->ids, r->scratch, kept, (uint32_t)s->point_count)) return no_memory(error);
    return point_text(r, s, text, error);
}

static mst_status take_face(reader *r, const char *text, mst_error *error) {
    mst_surface *s = &r->surfaces[r->surface_count - 1];
    char word[NUMBER_MOST];
    uint32_t corner[3];
    bool invisible = attribute(r, "i", word) && strcmp(word, "1") == 0;
    for (int k = 0; k < 3; k++) {
        if (!next_word(&text, word))
            return REFUSE(r, error, "A face of surface %s does not name three points.", s->name);
        corner[k] = mst_index_get(&r->ids, word);
        if (corner[k] == UINT32_MAX)
            return REFUSE(r, error, "A face of surface %s names point %s, which the surface does not have.", s->name,
                          word);
    }
    if (!at_end(text)) return REFUSE(r, error, "A face of surface %s names more than three points.", s->name);
    if (corner[0] == corner[1] || corner[1] == corner[2] || corner[2] == corner[0])
        return REFUSE(r, error, "A face of surface %s names one point twice.", s->name);
    if (invisible) return MST_OK;
    uint32_t(*f)[3] = s->face_count < FACES_MOST ? MST_PUSH(r->arena, s->faces, s->face_count, r->face_capacity) : NULL;
    if (!f)
        return s->face_count < FACES_MOST ? no_memory(error)
                                          : REFUSE(r, error, "Surface %s has more than %d faces.", s->name, FACES_MOST);
    memcpy(*f, corner, sizeof corner);
    return MST_OK;
}

static mst_status take_text(reader *r, bool point, mst_error *error) {
    xmlChar *text = xmlTextReaderReadString(r->xml);
    const char *words = text ? (const char *)text : "";
    mst_status status = point ? take_point(r, words, error) : take_face(r, words, error);
    xmlFree(text);
    return status;
}

static mst_status start_element(reader *r, mst_error *error) {
    const char *name = (const char *)xmlTextReaderConstLocalName(r->xml);
    if (!r->root) return start_root(r, error);
    if (r->inside && strcmp(name, "P") == 0) return take_text(r, true, error);
    if (r->inside && strcmp(name, "F") == 0) return take_text(r, false, error);
    if (strcmp(name, "Metric") == 0 || strcmp(name, "Imperial") == 0) return take_units(r, error);
    if (strcmp(name, "Definition") == 0) return start_definition(r, error);
    if (strcmp(name, "Surface") != 0) return MST_OK;
    xmlChar *title = xmlTextReaderGetAttribute(r->xml, (const xmlChar *)"name");
    r->surface_name =
        mst_arena_text(r->arena, title ? (const char *)title : "", title ? strnlen((const char *)title, 200) : 0);
    xmlFree(title);
    return r->surface_name ? MST_OK : no_memory(error);
}

static mst_status take_node(reader *r, mst_error *error) {
    switch (xmlTextReaderNodeType(r->xml)) {
    case XML_READER_TYPE_ELEMENT:
        return start_element(r, error);
    case XML_READER_TYPE_DOCUMENT_TYPE:
    case XML_READER_TYPE_ENTITY_REFERENCE:
        return REFUSE(r, error,
                      "The file declares a document type or entities, which a surface never needs; it is not read.");
    case XML_READER_TYPE_END_ELEMENT:
        if (r->inside && strcmp((const char *)xmlTextReaderConstLocalName(r->xml), "Definition") == 0)
            return end_definition(r, error);
        return MST_OK;
    default:
        return MST_OK;
    }
}

/* ---- the whole ---- */

#if LIBXML_VERSION >= 21200
typedef const xmlError *parser_error;
#else
typedef xmlErrorPtr parser_error;
#endif

static void keep_first(void *self, parser_error why) {
    reader *r = self;
    if (r->parser_words[0] || !why || !why->message) return;
    snprintf(r->parser_words, sizeof r->parser_words, "%s", why->message);
    r->parser_words[strcspn(r->parser_words, "\r\n")] = '\0';
    r->parser_line = why->line;
}

static mst_status read_all(reader *r, mst_error *error) {
    int more;
    while ((more = xmlTextReaderRead(r->xml)) == 1) {
        mst_status status = take_node(r, error);
        if (status) return status;
    }
    if (more < 0)
        return mst_fail_at(error, MST_INVALID, r->name, r->parser_line ? r->parser_line : line_of(r), 0,
                           "The file is not whole XML: %s.",
                           r->parser_words[0] ? r->parser_words : "it cannot be read");
    if (r->surface_count == 0)
        return mst_fail_at(error, MST_INVALID, r->name, 0, 0, "The file holds no surface of triangles.");
    return MST_OK;
}

mst_status mst_read_landxml(const char *text, size_t length, const char *name, mst_arena *arena, mst_surface **surfaces,
                            size_t *count, mst_error *error) {
    reader r = {.arena = arena, .name = name, .surface_name = ""};
    if (length > BYTES_MOST || length > INT_MAX)
        return mst_fail_at(error, MST_INVALID, name, 0, 0, "The file is larger than 512 MB.");
    if (length == 0) return mst_fail_at(error, MST_INVALID, name, 0, 0, "The file is empty.");
    r.scratch = mst_arena_new();
    r.xml = r.scratch ? xmlReaderForMemory(text, (int)length, NULL, NULL,
                                           XML_PARSE_NONET | XML_PARSE_NOCDATA | XML_PARSE_BIG_LINES)
                      : NULL;
    mst_status status = r.xml ? MST_OK : no_memory(error);
    if (r.xml) {
        xmlTextReaderSetStructuredErrorHandler(r.xml, (xmlStructuredErrorFunc)keep_first, &r);
        status = read_all(&r, error);
        xmlFreeTextReader(r.xml);
    }
    mst_arena_free(r.scratch);
    if (status) return status;
    *surfaces = r.surfaces;
    *count = r.surface_count;
    return MST_OK;
}
