/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The file of a survey by hand. It is written whole after every point, beside the old one and then
 * over it: at any moment the disk has all points that were accepted, and a file that can be read.
 */
#include "survey_live_parts.h"

#include "err.h"
#include "fileio.h"
#include "table.h"
#include "units.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define BYTES_MAX   ((size_t)4 << 20)
#define BYTE_ORDER8 "\xEF\xBB\xBF"

static bool is_same_file(const struct stat *a, const struct stat *b)
{
    return a->st_dev == b->st_dev && a->st_ino == b->st_ino && a->st_size == b->st_size &&
           a->st_mtim.tv_sec == b->st_mtim.tv_sec && a->st_mtim.tv_nsec == b->st_mtim.tv_nsec;
}

/* 0, -ENOENT, or what stands in the way. A link is no file: the new one would take its place. */
static int find(const struct live_file *file, struct stat *ret, struct err *err)
{
    if (lstat(file->path, ret) != 0) {
        return err_fail(err, errno, "%s: %s", file->path, err_name(errno));
    }
    return S_ISREG(ret->st_mode) ? 0
                                 : err_fail(err, EINVAL, "%s is not a regular file", file->path);
}

int live_file_check(const struct live_file *file, struct err *err)
{
    char folder[SURVEY_LIVE_PATH_MAX];
    struct stat found;
    const int rc = find(file, &found, err);
    if (rc < 0 && rc != -ENOENT) {
        return rc;
    }
    (void)snprintf(folder, sizeof folder, "%s", file->path);
    char *slash = strrchr(folder, '/');
    if (slash) {
        slash[slash == folder] = '\0';
    }
    if (access(slash ? folder : ".", W_OK | X_OK) != 0) {
        return err_fail(err, errno, "%s cannot be written there: %s", file->path, err_name(errno));
    }
    return 0;
}

static void copy_note(const struct table *table, const char *key, char *buffer, size_t size)
{
    const struct table_note *note = table_note(table, key);
    (void)snprintf(buffer, size, "%s", note ? note->value : "");
}

static int read_notes(const struct table *table, struct live_begun *begun, struct err *err)
{
    const char *const heights[] = {"height_cm", "height_in"};
    copy_note(table, "space", begun->space, sizeof begun->space);
    copy_note(table, "sensor", begun->sensor, sizeof begun->sensor);
    copy_note(table, "fixture", begun->fixture, sizeof begun->fixture);
    begun->height_note[0] = '\0';
    for (int i = 0; i < 2; i++) {
        const struct table_note *note = table_note(table, heights[i]);
        if (note) {
            (void)snprintf(begun->height_note, sizeof begun->height_note, "%s: %.40s", note->key,
                           note->value);
        }
    }
    begun->level = UNITS_NONE;
    return table_note_number(table, "level", 0.01, 1, &begun->level, err);
}

/* Lines of notes and remarks, up to the one that names the columns. */
static char *cut_head(const char *text)
{
    const char *line = text;
    while (*line && strchr("#\r\n", line[strspn(line, " \t" BYTE_ORDER8)])) {
        line += strcspn(line, "\n");
        line += *line == '\n';
    }
    return strndup(text, (size_t)(line - text));
}

int live_file_read(struct live_file *file, bool is_one_way, struct walk *walk,
                   struct live_begun *ret, struct err *err)
{
    char *text = NULL;
    struct table table = {0};
    int rc = find(file, &file->as_left, err);
    if (rc == 0) {
        rc = fileio_read(file->path, BYTES_MAX, &text, NULL, err);
    }
    if (!text) {
        return rc;
    }
    file->head = cut_head(text);
    rc = file->head ? table_parse(file->path, text, &table, err)
                    : err_fail(err, ENOMEM, "no memory for %s", file->path);
    if (rc == 0) {
        rc = read_notes(&table, ret, err);
    }
    if (rc == 0) {
        rc = walk_resume(&table, is_one_way, walk, err);
    }
    table_free(&table);
    free(text);
    file->is_there = rc == 0;
    return rc;
}

static void write_watts(const struct live *live, FILE *out)
{
    const struct live_sight *sight = &live->daemon.sight;
    if (units_known(live->watts)) {
        (void)fprintf(out, "# fixture_w: %.5g\n", live->watts);
    } else if (sight->watts > 0) {
        (void)fprintf(out, "# fixture_w: %.5g\n%s", sight->watts,
                      sight->is_metered ? "" : "# (watts of the dimming curves: no meter)\n");
    }
}

static void write_head(const struct live *live, FILE *out)
{
    char notes[3 * WALK_ROW_MAX];
    const struct live_begun *begun = &live->begun;
    const struct live_sight *sight = &live->daemon.sight;
    (void)fprintf(out, "# fixture: %s\n# %s\n", begun->fixture, begun->height_note);
    if (units_known(sight->drive)) {
        (void)fprintf(out, "# drive: %.4g\n", sight->drive);
    }
    if (begun->level > 0) {
        (void)fprintf(out, "# level: %.4g\n", begun->level);
    }
    write_watts(live, out);
    (void)fprintf(out, "# space: %s\n# sensor: %s\n", begun->space, begun->sensor);
    if (live->daemon.is_its_own && (sight->sensor_factor < 1 || sight->sensor_factor > 1)) {
        (void)fprintf(out, "# sensor_factor: %.5g\n# (readings were divided by it)\n",
                      sight->sensor_factor);
    }
    walk_notes(&live->walk.grid, notes, sizeof notes);
    (void)fprintf(out, "# begun: %s\n%s", sight->time, notes);
}

int live_file_head(struct live *live, struct err *err)
{
    size_t size = 0;
    struct live_file *file = &live->file;
    free(file->head);
    file->head = NULL;
    FILE *out = open_memstream(&file->head, &size);
    if (!out) {
        return err_fail(err, ENOMEM, "no memory for %s", file->path);
    }
    write_head(live, out);
    return fclose(out) == 0 ? 0 : err_fail(err, ENOMEM, "no memory for %s", file->path);
}

static char *whole(const struct live_file *file, const struct walk *walk, size_t *ret_size)
{
    char row[WALK_ROW_MAX];
    char *text = NULL;
    FILE *out = open_memstream(&text, ret_size);
    if (!out) {
        return NULL;
    }
    (void)fprintf(out, "%s%s", file->head, walk_columns(&walk->grid));
    for (int i = 0; i < walk->count; i++) {
        walk_row(walk, i, row, sizeof row);
        (void)fputs(row, out);
    }
    if (fclose(out) != 0) {
        free(text);
        return NULL;
    }
    return text;
}

/* Nobody else has written it since we did: two surveys, or an editor, would lose points. */
static int check_ours(const struct live_file *file, struct err *err)
{
    struct stat found;
    const int rc = find(file, &found, err);
    if (rc < 0 && rc != -ENOENT) {
        return rc;
    }
    if (rc == 0 ? !file->is_there || !is_same_file(&found, &file->as_left) : file->is_there) {
        return err_fail(err, EBUSY,
                        "%s was changed by somebody else meanwhile and is left as it is now",
                        file->path);
    }
    return 0;
}

int live_file_store(struct live_file *file, const struct walk *walk, struct err *err)
{
    size_t size = 0;
    int rc = check_ours(file, err);
    char *text = rc == 0 ? whole(file, walk, &size) : NULL;
    if (rc == 0 && !text) {
        rc = err_fail(err, ENOMEM, "no memory for %s", file->path);
    }
    if (rc == 0) {
        rc = fileio_replace(file->path, text, size, 0644, err);
    }
    if (rc == 0) {
        rc = find(file, &file->as_left, err);
        file->is_there = rc == 0;
    }
    free(text);
    return rc;
}

void live_file_close(struct live_file *file)
{
    free(file->head);
    file->head = NULL;
}
