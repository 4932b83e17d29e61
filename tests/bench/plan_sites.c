/* SPDX-License-Identifier: Apache-2.0 */
#include "plan_sites.h"

#include "plan_csv.h"
#include "err.h"

#include <ctype.h>
#include <dirent.h>
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#define DAY_MIN      1440
#define DAYS_LEAST   300
#define INDEX_MOST   1.6  /* clear-sky index of a long step */
#define BRIGHT_WM2   20.0 /* clear sky that makes a missing minute matter */
#define GAP_LONG_MIN 60
#define EDGE_S       3600 /* a day may lack so much at the file's ends: it is night there */
#define RADIANS      (3.14159265358979323846 / 180)

double plan_sites_clear(double latitude, double longitude, int64_t utc_s)
{
    const double days = (double)utc_s / 86400; /* since 1970 */
    const double years = floor((days + 0.5) / 365.2425);
    int64_t january = plan_csv_day(1970 + (int64_t)years, 1, 1);
    if ((double)january > days) {
        january = plan_csv_day(1970 + (int64_t)years - 1, 1, 1);
    }
    const double of_year = days - (double)january; /* 0: midnight of 1 January */
    const double hours = (of_year - floor(of_year)) * 24;
    const double g = 360.0 / 365.0 * RADIANS * (floor(of_year) + (hours - 12) / 24);
    const double equation_min = 229.18 * (0.000075 + 0.001868 * cos(g) - 0.032077 * sin(g) -
                                          0.014615 * cos(2 * g) - 0.040849 * sin(2 * g));
    const double declination = 0.006918 - 0.399912 * cos(g) + 0.070257 * sin(g) -
                               0.006758 * cos(2 * g) + 0.000907 * sin(2 * g) -
                               0.002697 * cos(3 * g) + 0.00148 * sin(3 * g);
    const double angle = ((60 * hours + equation_min + 4 * longitude) / 4 - 180) * RADIANS;
    const double up = sin(latitude * RADIANS) * sin(declination) +
                      cos(latitude * RADIANS) * cos(declination) * cos(angle);
    return up > 0.001 ? 1098 * up * exp(-0.057 / up) : 0;
}

void plan_site_free(struct plan_site *site)
{
    free(site->ghi);
    free(site->clear);
    free(site->is_bad);
    *site = (struct plan_site){0};
}

static int64_t site_begin_s(const struct plan_site *site)
{
    return site->first_day * 86400 - 60 * (int64_t)site->offset_min;
}

/* West for east happens in such comments: the sun tells, by which way the light falls together. */
static void settle_longitude(struct plan_csv *csv)
{
    double as_said = 0;
    double mirrored = 0;
    for (size_t i = 0; i < csv->count; i++) {
        const struct plan_row *row = &csv->rows[i];
        if (row->ghi > BRIGHT_WM2 && i % 7 == 0) {
            const int64_t middle_s = row->begin_s + csv->step_s / 2;
            as_said += row->ghi * plan_sites_clear(csv->latitude, csv->longitude, middle_s);
            mirrored += row->ghi * plan_sites_clear(csv->latitude, -csv->longitude, middle_s);
        }
    }
    if (mirrored > 1.2 * as_said) {
        csv->longitude = -csv->longitude;
        csv->offset_min = 60 * (int)lround(csv->longitude / 15);
    }
}

/* Means of the minutes that rows of a minute or less fall into. */
static void lay_short_rows(const struct plan_csv *csv, struct plan_site *site, float *counts)
{
    const int64_t begin_s = site_begin_s(site);
    for (size_t i = 0; i < csv->count; i++) {
        const int64_t at_s = csv->rows[i].begin_s - begin_s;
        if (at_s < 0 || at_s >= site->days * (int64_t)86400 || isnan(csv->rows[i].ghi)) {
            continue;
        }
        const int64_t minute = at_s / 60;
        const double before = counts[minute] > 0 ? site->ghi[minute] * (double)counts[minute] : 0;
        counts[minute] += 1;
        site->ghi[minute] = (before + fmax(csv->rows[i].ghi, 0)) / (double)counts[minute];
    }
}

/* A longer row's clear-sky index is the same in all its minutes. */
static void lay_long_rows(const struct plan_csv *csv, struct plan_site *site)
{
    const int64_t begin_min = site_begin_s(site) / 60;
    const int64_t last = site->days * (int64_t)DAY_MIN;
    for (size_t i = 0; i < csv->count; i++) {
        const int64_t from = csv->rows[i].begin_s / 60 - begin_min;
        const int64_t to = (csv->rows[i].begin_s + csv->step_s) / 60 - begin_min;
        if (isnan(csv->rows[i].ghi) || to <= 0 || from >= last) {
            continue;
        }
        double clear = 0;
        for (int64_t m = from; m < to; m++) {
            clear += m >= 0 && m < last ? site->clear[m]
                                        : plan_sites_clear(site->latitude, site->longitude,
                                                           (begin_min + m) * 60 + 30);
        }
        clear /= (double)(to - from);
        const double index = clear > 1 ? fmin(fmax(csv->rows[i].ghi, 0) / clear, INDEX_MOST) : 0;
        for (int64_t m = from < 0 ? 0 : from; m < to && m < last; m++) {
            site->ghi[m] = index * site->clear[m];
        }
    }
}

/* Fills [from, to) between the clear-sky indices of its neighbours; 0 when there are none. */
static void fill(struct plan_site *site, int64_t from, int64_t to)
{
    const int64_t last = site->days * (int64_t)DAY_MIN;
    int64_t before = from - 1;
    while (before >= 0 && site->clear[before] < BRIGHT_WM2) {
        before--;
    }
    int64_t after = to;
    while (after < last && !(site->clear[after] >= BRIGHT_WM2 && !isnan(site->ghi[after]))) {
        after++;
    }
    const double first = before >= 0 ? site->ghi[before] / site->clear[before] : (double)NAN;
    const double second = after < last ? site->ghi[after] / site->clear[after] : first;
    const double left = isnan(first) ? second : first;
    int64_t bright = 0;
    for (int64_t m = from; m < to; m++) {
        bright += site->clear[m] >= BRIGHT_WM2;
    }
    for (int64_t m = from; m < to; m++) {
        const double share = (double)(m - before) / (double)(after - before);
        const double index = isnan(left) ? 0 : left + (second - left) * share;
        site->ghi[m] = fmin(index, INDEX_MOST) * site->clear[m];
        if (bright > GAP_LONG_MIN && site->clear[m] >= BRIGHT_WM2) {
            site->is_bad[m] = true;
            site->bad_minutes++;
        }
    }
}

static void fill_gaps(struct plan_site *site)
{
    const int64_t last = site->days * (int64_t)DAY_MIN;
    for (int64_t m = 0; m < last; m++) {
        if (!isnan(site->ghi[m])) {
            continue;
        }
        int64_t to = m + 1;
        while (to < last && isnan(site->ghi[to])) {
            to++;
        }
        fill(site, m, to);
        m = to;
    }
}

static int lay_minutes(const struct plan_csv *csv, struct plan_site *site, struct err *err)
{
    const size_t minutes = (size_t)site->days * DAY_MIN;
    site->ghi = calloc(minutes, sizeof *site->ghi);
    site->clear = calloc(minutes, sizeof *site->clear);
    site->is_bad = calloc(minutes, sizeof *site->is_bad);
    float *counts = calloc(minutes, sizeof *counts);
    if (!site->ghi || !site->clear || !site->is_bad || !counts) {
        free(counts);
        return err_fail(err, ENOMEM, "no memory for %d days", site->days);
    }
    const int64_t begin_s = site_begin_s(site);
    for (size_t m = 0; m < minutes; m++) {
        site->ghi[m] = (double)NAN;
        site->clear[m] =
            plan_sites_clear(site->latitude, site->longitude, begin_s + (int64_t)m * 60 + 30);
    }
    if (csv->step_s <= 60) {
        lay_short_rows(csv, site, counts);
    } else {
        lay_long_rows(csv, site);
    }
    free(counts);
    fill_gaps(site);
    return 0;
}

static int64_t floor_div(int64_t a, int64_t b)
{
    return a / b - (a % b < 0);
}

/* A word without blanks, as figures and files of a place are named. */
static void name_site(const char *path, char *name, size_t size)
{
    const char *base = strrchr(path, '/');
    (void)snprintf(name, size, "%s", base ? base + 1 : path);
    char *end = strrchr(name, '.');
    if (end) {
        *end = 0;
    }
    for (char *p = name; *p; p++) {
        if (!isalnum((unsigned char)*p) && !strchr("_-", *p)) {
            *p = '_';
        }
    }
}

int plan_site_read(const char *path, struct plan_site *ret, struct err *err)
{
    struct plan_csv csv;
    int rc = plan_csv_read(path, &csv, err);
    if (rc < 0) {
        return rc;
    }
    settle_longitude(&csv);
    struct plan_site site = {
        .latitude = csv.latitude, .longitude = csv.longitude, .offset_min = csv.offset_min};
    name_site(path, site.name, sizeof site.name);
    const int64_t offset_s = 60 * (int64_t)csv.offset_min;
    const int64_t begin_s = csv.rows[0].begin_s + offset_s;
    const int64_t end_s = csv.rows[csv.count - 1].begin_s + csv.step_s + offset_s;
    site.first_day = floor_div(begin_s - EDGE_S + 86399, 86400);
    site.days = (int)(floor_div(end_s + EDGE_S, 86400) - site.first_day);
    if (site.days < 1 || site.days > 3700) {
        rc = err_fail(err, EINVAL, "%s: %d whole days, 1 … 3700 allowed", path, site.days);
    } else {
        rc = lay_minutes(&csv, &site, err);
    }
    free(csv.rows);
    if (rc < 0) {
        plan_site_free(&site);
        return rc;
    }
    *ret = site;
    return 0;
}

int plan_sites_folder(const char *source, char *ret, size_t size, struct err *err)
{
    const char *named = getenv("LAMPWARDEN_DATA");
    char folder[4096];
    (void)snprintf(folder, sizeof folder, "%s%s", named ? named : source,
                   named ? "" : "/../shared/data");
    struct stat about;
    if (stat(folder, &about) < 0 || !S_ISDIR(about.st_mode)) {
        return err_fail(err, ENOENT, "no folder of daylight at %s (LAMPWARDEN_DATA names it)",
                        folder);
    }
    (void)snprintf(ret, size, "%s", folder);
    return 0;
}

static int is_csv(const struct dirent *entry)
{
    const char *end = strrchr(entry->d_name, '.');
    return end && strcmp(end, ".csv") == 0;
}

int plan_sites_read(const char *folder, struct plan_site *ret, struct err *err)
{
    struct dirent **entries;
    const int found = scandir(folder, &entries, is_csv, alphasort);
    if (found < 0) {
        const int code = errno;
        return err_fail(err, code, "%s: %s", folder, err_name(code));
    }
    int count = 0;
    for (int i = 0; i < found; i++) {
        char path[4096];
        (void)snprintf(path, sizeof path, "%s/%s", folder, entries[i]->d_name);
        free(entries[i]);
        struct plan_site site;
        if (count == PLAN_SITES_MAX) {
            (void)fprintf(stderr, "%s: passed over, one more than %d years\n", path, count);
            continue;
        }
        if (plan_site_read(path, &site, err) < 0) {
            (void)fprintf(stderr, "passed over: %s\n", err->text);
            continue;
        }
        if (site.days < DAYS_LEAST) {
            (void)fprintf(stderr, "%s: passed over, %d whole days, at least %d wanted\n", path,
                          site.days, DAYS_LEAST);
            plan_site_free(&site);
            continue;
        }
        ret[count++] = site;
    }
    free(entries);
    if (count == 0) {
        (void)fprintf(stderr, "skipped: no year of daylight in %s\n", folder);
    }
    return count;
}
