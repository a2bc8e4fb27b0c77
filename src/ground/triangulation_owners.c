/* A hash from edges to the segments that run along them. Lists, because breaklines may overlap. An edge that is no
 * breakline any more keeps an entry without segments until the table grows. */
#include "ground/triangulation_fixer.h"

mst_owner *mst_owner_of(const mst_fixer *f, uint32_t a, uint32_t b) {
    uint32_t low = a < b ? a : b, high = a < b ? b : a;
    size_t at = (low * (size_t)0x9E3779B97F4A7C15u ^ high * (size_t)0xC2B2AE3D27D4EB4Fu) >> 20;
    for (;; at++) {
        mst_owner *o = &f->owners[at & (f->owner_room - 1)];
        if (o->low == o->high || (o->low == low && o->high == high)) return o;
    }
}

static bool grow(mst_fixer *f) {
    size_t live = 0, old_room = f->owner_room;
    mst_owner *old = f->owners;
    for (size_t i = 0; i < old_room; i++) live += old[i].first != 0;
    size_t room = 64;
    while (room < 4 * live) room *= 2;
    f->owners = mst_arena_array(f->scratch, room, sizeof *f->owners);
    if (!f->owners) return false;
    f->owner_room = room;
    f->owner_count = live;
    for (size_t i = 0; i < old_room; i++)
        if (old[i].first) *mst_owner_of(f, old[i].low, old[i].high) = old[i];
    return true;
}

static bool has_name(const mst_fixer *f, const mst_owner *o, uint32_t segment) {
    for (uint32_t i = o->first; i; i = f->names[i].next)
        if (f->names[i].segment == segment) return true;
    return false;
}
bool mst_owns(const mst_fixer *f, uint32_t a, uint32_t b, uint32_t segment) {
    return f->owner_room && has_name(f, mst_owner_of(f, a, b), segment);
}

/* The first one made stands for none. */
static bool new_name(mst_fixer *f, uint32_t *name) {
    mst_name *made = MST_PUSH(f->scratch, f->names, f->name_count, f->name_capacity);
    if (made && made == f->names) made = MST_PUSH(f->scratch, f->names, f->name_count, f->name_capacity);
    *name = (uint32_t)f->name_count - 1;
    return made;
}

static bool add_name(mst_fixer *f, mst_owner *o, uint32_t segment) {
    if (has_name(f, o, segment)) return true;
    uint32_t i = f->spare_name;
    if (i) f->spare_name = f->names[i].next;
    else if (!new_name(f, &i)) return false;
    f->names[i] = (mst_name){segment, o->first};
    o->first = i;
    return true;
}

bool mst_own(mst_fixer *f, uint32_t a, uint32_t b, uint32_t segment) {
    if (3 * f->owner_count >= 2 * f->owner_room && !grow(f)) return false;
    mst_owner *o = mst_owner_of(f, a, b);
    if (o->low == o->high) {
        f->owner_count++;
        *o = (mst_owner){a < b ? a : b, a < b ? b : a, 0};
    }
    return add_name(f, o, segment);
}

bool mst_own_alike(mst_fixer *f, uint32_t a, uint32_t b, uint32_t p, uint32_t q) {
    uint32_t i = mst_owner_of(f, a, b)->first; /* the list stays where it is when the table grows */
    for (; i; i = f->names[i].next)
        if (!mst_own(f, p, q, f->names[i].segment)) return false;
    return true;
}

static void release(mst_fixer *f, uint32_t name) {
    f->names[name].next = f->spare_name;
    f->spare_name = name;
}

bool mst_disown(mst_fixer *f, uint32_t a, uint32_t b, uint32_t segment) {
    mst_owner *o = mst_owner_of(f, a, b);
    for (uint32_t *i = &o->first; *i; i = &f->names[*i].next) {
        if (f->names[*i].segment != segment) continue;
        uint32_t gone = *i;
        *i = f->names[gone].next;
        release(f, gone);
        break;
    }
    return o->first != 0;
}

bool mst_fix_edge(mst_fixer *f, uint32_t edge, uint32_t segment) {
    mst_tie(f->m, edge, mst_across(f->m, edge) | MST_FIXED);
    return mst_own(f, mst_from(f->m, edge), mst_to(f->m, edge), segment);
}

void mst_disown_all(mst_fixer *f, uint32_t a, uint32_t b) {
    mst_owner *o = mst_owner_of(f, a, b);
    while (o->first) {
        uint32_t gone = o->first;
        o->first = f->names[gone].next;
        release(f, gone);
    }
}

void mst_free_edge(mst_fixer *f, uint32_t edge) {
    mst_disown_all(f, mst_from(f->m, edge), mst_to(f->m, edge));
    mst_tie(f->m, edge, mst_across(f->m, edge));
}
