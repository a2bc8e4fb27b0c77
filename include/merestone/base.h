/** @file merestone/base.h  What every part leans on: status and reason, arena memory, text, units.
 *
 * Inside the library a length is in metres, an angle in radians, an area in square metres, a volume in
 * cubic metres; names carry the unit where a number could be mistaken. Other units exist only at the doors. */
#ifndef MERESTONE_BASE_H
#define MERESTONE_BASE_H
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* ---- status and reason ---- */

/** Outcome of a call; zero is success. A number keeps its meaning once released. */
typedef enum mst_status {
    MST_OK = 0,
    MST_INVALID = 1,       /**< an argument, a cell or a file cannot be accepted */
    MST_TOO_FEW = 2,       /**< fewer readings or points than the task needs */
    MST_UNDETERMINED = 3,  /**< the geometry leaves the answer open */
    MST_NOT_CONVERGED = 4, /**< iteration limit reached */
    MST_NO_MEMORY = 5,
    MST_NOT_FOUND = 6, /**< a name that the site does not have */
    MST_NO = 7,        /**< the answer is "no": a test failed, a place outside the model */
    MST_CONFLICT = 8,  /**< the site has changed since the caller looked */
    MST_IO = 9         /**< the machine failed: disk full, file not writable, database locked */
} mst_status;

/** Why a call failed, and where its input came from. Owned by the caller; nothing to free. */
typedef struct mst_error {
    mst_status status;
    char sentence[400]; /**< UTF-8, terminated; one sentence that says what to do */
    char page[128];     /**< file or field page; "" if none */
    int row, column;    /**< from 1; 0 if none */
} mst_error;

#define MST_CHECKED __attribute__((warn_unused_result))
#define MST_PRINTF(text_at, first) __attribute__((format(printf, text_at, first)))

/** Fills @p error, which may be NULL, with no place of origin, and returns @p status. */
mst_status mst_fail(mst_error *error, mst_status status, const char *format, ...) MST_PRINTF(3, 4);
/** As mst_fail, with the place of origin. @p page may be NULL; row and column count from 1, 0 = none. */
mst_status mst_fail_at(mst_error *error, mst_status status, const char *page, int row, int column, const char *format,
                       ...) MST_PRINTF(6, 7);
/** The exit status of the program for @p status: 0 done, 1 "no", 2 bad input, 3 a fault of the machine. */
int mst_exit_code(mst_status status);

/* ---- arena: memory that is freed all at once ---- */

/** A growing store of small pieces; freed as a whole. Not thread-safe. */
typedef struct mst_arena mst_arena;
/** @return a new arena, or NULL when memory is short. The caller frees it with mst_arena_free. */
mst_arena *mst_arena_new(void);
void mst_arena_free(mst_arena *arena); /**< NULL is allowed */
/** @return @p size zeroed bytes aligned for any type, owned by @p arena; NULL when memory is short. */
void *mst_arena_alloc(mst_arena *arena, size_t size);
/** @return an array of @p count elements of @p size zeroed bytes; NULL when short or on overflow. */
void *mst_arena_array(mst_arena *arena, size_t count, size_t size);
/** @return a terminated copy of the first @p length bytes of @p text. */
char *mst_arena_text(mst_arena *arena, const char *text, size_t length);
/** @return a terminated copy of @p text, NULL for NULL. */
char *mst_arena_string(mst_arena *arena, const char *text);
/** printf into the arena. */
char *mst_arena_printf(mst_arena *arena, const char *format, ...) MST_PRINTF(2, 3);

/** Makes room for one more element behind @p count in an arena array, doubling it when full.
 * The old block stays in the arena. Use through MST_PUSH. */
void *mst_arena_grow(mst_arena *arena, void *items, size_t count, size_t *capacity, size_t size);
/** Appends a zeroed element to `items` (with `count` and `capacity` beside it) and yields a pointer to it, or NULL. */
#define MST_PUSH(arena, items, count, capacity)                                                                        \
    (((items) = mst_arena_grow((arena), (items), (count), &(capacity), sizeof *(items))) == NULL                       \
         ? NULL                                                                                                        \
         : &(items)[(count)++])

/* ---- growing text, for writers ---- */

/** A heap text that grows; start from {0}. `failed` stays true once memory was short. */
typedef struct mst_text {
    char *data; /**< terminated; NULL while empty */
    size_t length, capacity;
    bool failed;
} mst_text;
void mst_text_free(mst_text *text);
void mst_text_add(mst_text *text, const char *data, size_t length);
void mst_text_string(mst_text *text, const char *data);
void mst_text_printf(mst_text *text, const char *format, ...) MST_PRINTF(2, 3);
/** Adds a CSV field, quoted where RFC 4180 asks for it. */
void mst_text_csv(mst_text *text, const char *field);
/** Adds @p sentence with its measured figures in feet: "12.014 m" as "39.42 ft", mm as inches, m2 as ft2, m3 as yd3,
 * "level 98.027" and "101.39 E" as they are, in feet. Names between single quotes stay, and so does a figure with a
 * no-break space before its unit: it quotes a code. */
void mst_words_in_feet(const char *sentence, mst_text *text);

/** @return the length of the UTF-8 sequence at @p text (RFC 3629), or 0 if there is none within @p left bytes. */
size_t mst_utf8_length(const char *text, size_t left);
/** Makes one line of UTF-8 out of @p text, in place: a character cut in two goes, a line end or a tab becomes a space.
 */
void mst_text_tidy(char *text);

/* ---- numbers, lengths and angles as people type them ---- */

/** Reads the whole of @p text as a plain decimal number (no hex, no inf, no nan). @return false if it is not. */
bool mst_number_read(const char *text, double *value);

typedef enum mst_unit {
    MST_UNIT_NONE,
    MST_UNIT_M,
    MST_UNIT_MM,
    MST_UNIT_FT,
    MST_UNIT_FTUS,
    MST_UNIT_FTIN, /**< lengths */
    MST_UNIT_DEG,
    MST_UNIT_DMS,
    MST_UNIT_GON, /**< angles */
    MST_UNIT_S    /**< seconds of time */
} mst_unit;
/** @return the unit named as in a page's header ("m", "ftin", "dms" ...), MST_UNIT_NONE if unknown. */
mst_unit mst_unit_named(const char *name);
bool mst_unit_is_length(mst_unit unit);
bool mst_unit_is_angle(mst_unit unit);
/** Reads @p text in @p unit to metres, radians or seconds: 12'-6 1/2", 123-45-56.7, 123°45'56.7", 12.5.
 * @retval MST_INVALID  not a number in that unit; inches of 12 or more, minutes or seconds of 60 or more */
mst_status mst_quantity_read(const char *text, mst_unit unit, double *si, mst_error *error) MST_CHECKED;
/** Reads a length that names its own unit ("1.25", "1250mm", "4'-1 1/4\"", "4.1ft"); a bare number is in @p bare. */
mst_status mst_length_read(const char *text, mst_unit bare, double *metres, mst_error *error) MST_CHECKED;

#define MST_PI 3.14159265358979323846
#define MST_FOOT_M 0.3048               /**< international foot, exact */
#define MST_FOOT_US_M (1200.0 / 3937.0) /**< US survey foot; NIST, 85 FR 62698 */
#define MST_SQUARE_FOOT_M2 (MST_FOOT_M * MST_FOOT_M)
#define MST_CUBIC_YARD_M3 (27 * MST_FOOT_M * MST_FOOT_M * MST_FOOT_M)
#define MST_PLACE_MOST_M 2.1e7 /**< a coordinate or a level of more is no place: half around the earth */

/** Metres as feet and inches to the nearest 1/8 in, e.g. 4'-1 1/4"; written into @p out[size]. */
void mst_feet_inches(double metres, char *out, size_t size);
/** Radians as d-mm-ss.s with @p decimals of the second. */
void mst_angle_dms(double radians, int decimals, char *out, size_t size);
/** Brings an angle into [0, 2 pi). */
double mst_angle_turn(double radians);
/** Brings an angle into (-pi, pi]. */
double mst_angle_signed(double radians);

/* ---- names to indices ---- */

/** A hash from borrowed, terminated names to indices; start from {0}. Lives in an arena. */
typedef struct mst_index {
    const char **names;
    uint32_t *values;
    size_t count, capacity;
} mst_index;
/** Puts or replaces. @return false when memory is short. @p name must outlive the index. */
bool mst_index_put(mst_index *index, mst_arena *arena, const char *name, uint32_t value);
/** @return the value, or UINT32_MAX when the name is not there. */
uint32_t mst_index_get(const mst_index *index, const char *name);

#ifdef __cplusplus
}
#endif
#endif
