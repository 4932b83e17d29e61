/* SPDX-License-Identifier: Apache-2.0 */
/* Which difference between two configurations needs the devices to be opened again. */
#include "config.h"

#include "arena.h"
#include "config_section.h"

#include <string.h>

/* −1: none. References are compared by name: a bus may stand elsewhere in its list. */
static int first_difference(const struct section *a, const struct section *b)
{
    for (int i = 0; i < a->key_count; i++) {
        if (!a->keys[i].is_hardware) {
            continue;
        }
        if (i >= b->key_count || strcmp(a->keys[i].name, b->keys[i].name) != 0 ||
            !value_is_same(&a->values[i], &b->values[i])) {
            return i;
        }
    }
    return -1;
}

/* "" when equal, else what differs; both texts end up in a's memory. */
static const char *compare_list(const struct config_source *a, const struct section *b,
                                enum root_key key)
{
    char what[PLACE_MAX];
    const struct value *ours = &a->root.values[key];
    const struct value *theirs = &b->values[key];
    for (int i = 0; i < ours->count && i < theirs->count; i++) {
        int difference = first_difference(&ours->sections[i], &theirs->sections[i]);
        if (difference >= 0) {
            (void)snprintf(what, sizeof what, "%s[%d].%s", schema_root[key].name, i,
                           ours->sections[i].keys[difference].name);
            return arena_text(a->arena, what);
        }
    }
    return ours->count == theirs->count ? "" : schema_root[key].name;
}

bool config_same_hardware(const struct config *a, const struct config *b, const char **ret_what)
{
    static const enum root_key lists[] = {ROOT_BUSES, ROOT_SENSORS, ROOT_OUTPUTS};
    const struct config_source *ours = a->memory;
    const struct config_source *theirs = b->memory;
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++) {
        const char *what = compare_list(ours, &theirs->root, lists[i]);
        if (what && what[0] == '\0') {
            continue;
        }
        if (ret_what) {
            *ret_what = what ? what : schema_root[lists[i]].name;
        }
        return false;
    }
    return true;
}
