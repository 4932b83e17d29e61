/* SPDX-License-Identifier: Apache-2.0 */
/* The second data block of a TZif file, with 64-bit times: RFC 8536, 3.1 and 3.2. */
#include "config_zone_parts.h"

#include <string.h>

enum { HEADER_BYTES = 44, NARROW = 4, WIDE = 8, TYPE_BYTES = 6, COUNT_MAX = 65536 };
enum { FIRST_YEAR = 1970, LAST_YEAR = 2099, OFFSET_MAX_S = 93600 }; /* RFC 8536: under 26 h */

struct counts {
    size_t is_ut, is_standard, leaps, times, types, letters;
};

static int64_t take_signed(const unsigned char *bytes, int width)
{
    uint64_t value = bytes[0] & 0x80 ? UINT64_MAX : 0;
    for (int i = 0; i < width; i++) {
        value = value << 8 | bytes[i];
    }
    return (int64_t)value;
}

static bool take_counts(const unsigned char *bytes, size_t size, size_t at, struct counts *ret)
{
    size_t counts[6];
    if (at > size || size - at < HEADER_BYTES || memcmp(bytes + at, "TZif", 4) != 0 ||
        bytes[at + 4] < '2') {
        return false;
    }
    for (size_t i = 0; i < 6; i++) {
        int64_t count = take_signed(bytes + at + 20 + 4 * i, 4);
        if (count < 0 || count > COUNT_MAX) {
            return false;
        }
        counts[i] = (size_t)count;
    }
    *ret = (struct counts){counts[0], counts[1], counts[2], counts[3], counts[4], counts[5]};
    return true;
}

static size_t block_bytes(const struct counts *counts, size_t width)
{
    return counts->times * (width + 1) + counts->types * TYPE_BYTES + counts->letters +
           counts->leaps * (width + 4) + counts->is_standard + counts->is_ut;
}

static int32_t present_offset(const struct zone_table *table)
{
    return table->count > 0 ? table->changes[table->count - 1].offset_s : table->offset_s;
}

static bool add(struct zone_table *table, int64_t from_s, int32_t offset_s)
{
    if (offset_s <= -OFFSET_MAX_S || offset_s >= OFFSET_MAX_S) {
        return false;
    }
    if (from_s <= 0) {
        table->offset_s = offset_s;
        return table->count == 0;
    }
    if (table->count > 0 && table->changes[table->count - 1].from_s == from_s) {
        table->count--; /* one offset all year, written as two that meet */
    }
    if (from_s >= civil_day(LAST_YEAR + 1, 1, 1) * 86400 || offset_s == present_offset(table)) {
        return true; /* a change of the name alone */
    }
    if (table->count == ZONE_CHANGES_MAX ||
        (table->count > 0 && from_s < table->changes[table->count - 1].from_s)) {
        return false;
    }
    table->changes[table->count++] = (struct civil_change){from_s, offset_s};
    return true;
}

static bool add_rule(struct zone_table *table, const struct zone_rule *rule, int64_t after_s)
{
    const struct civil utc = {0, 0, NULL};
    int32_t year = after_s > 0 ? civil_time(&utc, after_s).year : FIRST_YEAR;
    for (; rule->has_dates && year <= LAST_YEAR; year++) {
        struct civil_change pair[2];
        zone_rule_changes(rule, year, pair);
        for (int i = 0; i < 2; i++) {
            if (pair[i].from_s > after_s && !add(table, pair[i].from_s, pair[i].offset_s)) {
                return false;
            }
        }
    }
    return true;
}

bool zone_table_fill(const unsigned char *bytes, size_t size, const struct zone_rule *rule,
                     struct zone_table *ret)
{
    struct counts counts;
    if (!take_counts(bytes, size, 0, &counts)) {
        return false;
    }
    size_t at = HEADER_BYTES + block_bytes(&counts, NARROW);
    if (!take_counts(bytes, size, at, &counts)) {
        return false;
    }
    at += HEADER_BYTES;
    if (at > size || size - at < block_bytes(&counts, WIDE) || counts.types == 0 ||
        counts.leaps > 0) {
        return false;
    }
    const unsigned char *kinds = bytes + at + counts.times * WIDE;
    const unsigned char *types = kinds + counts.times;
    int64_t after_s = INT64_MIN;
    ret->offset_s = (int32_t)take_signed(types, 4);
    ret->count = 0;
    for (size_t i = 0; i < counts.times; i++) {
        int64_t from_s = take_signed(bytes + at + i * WIDE, WIDE);
        bool is_good = kinds[i] < counts.types && (i == 0 || from_s > after_s);
        after_s = from_s;
        if (!is_good ||
            !add(ret, from_s, (int32_t)take_signed(types + (size_t)kinds[i] * TYPE_BYTES, 4))) {
            return false;
        }
    }
    return add_rule(ret, rule, after_s);
}
