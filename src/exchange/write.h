/** @file src/exchange/write.h  What every writer needs: numbers, saving, and the geometry of a handover. */
#ifndef EXCHANGE_WRITE_H
#define EXCHANGE_WRITE_H
#include "merestone/exchange.h"

/** Saves the text as a whole and frees it, whatever comes of it. */
mst_status mst_save_text(const char *path, mst_text *text, mst_error *error) MST_CHECKED;
/** Adds the shortest decimal that reads back as the same double. */
void mst_text_number(mst_text *text, double value);
/** Adds a fixed number of decimals, never -0.000. */
void mst_text_fixed(mst_text *text, double value, int decimals);
/** Adds text for an XML attribute or element; what XML 1.0 cannot hold becomes a space. */
void mst_text_xml(mst_text *text, const char *value);
/** The part of `written` before or behind its T, with the default in its place; into @p out. */
void mst_written_date(const mst_handover *from, char date[16], char time[16]);

/** True when the site's setting `units` is imperial: lengths go out in international feet where the format can say so.
 */
bool mst_is_imperial(const mst_handover *from);

/** The way from the site's frame to the earth. */
typedef struct mst_to_earth {
    mst_projection *projection;
    mst_similarity frame; /**< gnss plane to site */
} mst_to_earth;
/** @retval MST_NO the site does not know where on the earth it is */
mst_status mst_to_earth_open(const mst_handover *from, mst_to_earth *earth, mst_error *error) MST_CHECKED;
void mst_to_earth_close(mst_to_earth *earth);
/** Degrees. @return false where there is no such place */
bool mst_to_earth_degrees(const mst_to_earth *earth, mst_point site, double *latitude_deg, double *longitude_deg);
#endif
