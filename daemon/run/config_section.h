/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Checked settings: one section for every group and for every entry of a list, its values parallel
 * to its table of keys. Built by section_parse from nodes, read by everything after it; kept inside
 * the configuration, so that printing shows what was read and where it came from.
 */
#ifndef LAMPWARDEN_CONFIG_SECTION_H
#define LAMPWARDEN_CONFIG_SECTION_H

#include "schema.h"

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

struct arena;
struct findings;
struct node;
struct section;

struct value {
    int line;        /* where it was written; 0: the default */
    bool is_set;     /* false: may be absent and is, or is unusable */
    bool is_bad;     /* reported already: checks that need it keep silent */
    int64_t integer; /* INT; BOOL 0, 1; CHOICE index; TIME, OFFSET s; DATE day; REF index or −1 */
    double real;     /* REAL, INT; NaN when not set */
    const char *text;         /* as written; never NULL */
    int count;                /* REFS, LIST, GROUP */
    struct value *items;      /* REFS: one a name */
    struct section *sections; /* GROUP: 1; LIST: count */
};

struct section {
    const struct key *keys; /* own keys, then the driver's */
    int key_count, own_count;
    struct value *values;
    int line;
    const struct driver *driver; /* of a bus, sensor or output; NULL: unknown */
};

/* An entry of one of the configuration's own lists. */
static inline const struct section *section_entry(const struct section *root, enum root_key list,
                                                  int index)
{
    return &root->values[list].sections[index];
}

/* Where a section or value stands, for messages: "fixtures[2].curve[0].drive". */
struct place {
    const struct place *outer;
    const char *name;
    int index; /* −1: not in a list */
};
#define PLACE_MAX 160
void place_format(const struct place *place, char *buffer, unsigned size);

/* What stands behind config->memory. */
struct config_source {
    struct arena *arena;
    struct section root;
    const char *file;
};

struct parser {
    struct arena *arena;
    struct findings *findings;
    const struct node *root_node;
    const struct section *root; /* grows in the order of schema_root */
};

/* The whole file by schema_root, or by a table of the same order that asks for less; false: no
 * memory. Findings tell the rest. */
bool section_parse(struct parser *parser, const struct key *root_keys, struct section *ret);

/* Makes names unique and references point to entries. */
void section_resolve(const struct section *root, struct findings *findings);

/* What one value cannot show: limits between values, things used twice, lamps that cannot work.
 * Fills the offset of a time zone. */
void section_check(const struct section *root, struct findings *findings);
/* … of buses and sensors alone; section_check leaves these out. */
void section_check_points(const struct section *root, struct findings *findings);

/* One scalar: reports and sets is_bad when it does not fit. */
void value_take(struct findings *findings, const struct key *key, const struct node *node,
                const struct place *place, struct value *ret);

/* The default's text as a value; false: the text does not fit its own key (a programmer's error).
 */
bool value_fallback(const struct key *key, const char *text, struct value *ret);

/* The points of a fixture's dimming curve; a lamp without one is a straight line from 0 to full. */
struct dimcurve_point;
int section_curve(const struct section *fixture, struct dimcurve_point *ret_points);

/* Any name of a NULL-ended list within two slips of a given one; NULL: none is near. */
const char *value_nearest(const char *const *names, const char *word);

/* Two scalars of the same key; a value that is not set equals only another such. */
bool value_is_same(const struct value *a, const struct value *b);

/* As libconfig reads it again. */
void value_print(const struct key *key, const struct value *value, FILE *out);
void value_print_text(const char *text, FILE *out);

static inline const struct section *section_group(const struct section *section, int key)
{
    return &section->values[key].sections[0];
}

static inline double section_real(const struct section *section, int key)
{
    return section->values[key].real;
}

static inline int64_t section_integer(const struct section *section, int key)
{
    return section->values[key].integer;
}

static inline const char *section_text(const struct section *section, int key)
{
    return section->values[key].text;
}

static inline bool section_is_usable(const struct section *section, int key)
{
    return section->values[key].is_set && !section->values[key].is_bad;
}

#endif
