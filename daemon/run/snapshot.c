/* SPDX-License-Identifier: Apache-2.0 */
#include "snapshot.h"

#include "err.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>

/* Two pictures of one configuration. */
struct album {
    struct album *next; /* in the list of retired ones */
    struct config *config;
    struct picture pictures[2];
    int readers[2];
    int shown; /* index of the newest picture; −1: none yet */
};

struct snapshot {
    pthread_mutex_t mutex;
    struct album *album;
    struct album *retired; /* the latest first */
    const struct config *first;
};

static void album_destroy(struct album *album)
{
    for (int i = 0; i < 2; i++) {
        free(album->pictures[i].spaces);
        free(album->pictures[i].sensors);
        free(album->pictures[i].outputs);
        free(album->pictures[i].buses);
    }
    free(album);
}

static struct album *album_create(struct config *config)
{
    struct album *album = calloc(1, sizeof *album);
    if (!album) {
        return NULL;
    }
    album->config = config;
    album->shown = -1;
    for (int i = 0; i < 2; i++) {
        struct picture *picture = &album->pictures[i];
        picture->config = config;
        picture->spaces = calloc((size_t)config->space_count + 1, sizeof *picture->spaces);
        picture->sensors = calloc((size_t)config->sensor_count + 1, sizeof *picture->sensors);
        picture->outputs = calloc((size_t)config->output_count + 1, sizeof *picture->outputs);
        picture->buses = calloc((size_t)config->bus_count + 1, sizeof *picture->buses);
        if (!picture->spaces || !picture->sensors || !picture->outputs || !picture->buses) {
            album_destroy(album);
            return NULL;
        }
    }
    return album;
}

int snapshot_create(struct config *config, struct snapshot **ret, struct err *err)
{
    struct snapshot *snapshot = calloc(1, sizeof *snapshot);
    struct album *album = album_create(config);
    if (!snapshot || !album) {
        free(snapshot);
        if (album) {
            album_destroy(album);
        }
        return err_fail(err, ENOMEM, "no memory for the snapshots");
    }
    pthread_mutex_init(&snapshot->mutex, NULL);
    snapshot->album = album;
    snapshot->first = config;
    *ret = snapshot;
    return 0;
}

/* The album whose picture is the newest: after reloads that of the last configuration that came to
 * a picture, until the first one of the new. Call with the mutex held. */
static struct album *newest(const struct snapshot *snapshot)
{
    struct album *album = snapshot->album->shown < 0 ? snapshot->retired : snapshot->album;
    while (album && album->shown < 0) {
        album = album->next;
    }
    return album ? album : snapshot->album;
}

/* Call with the mutex held. */
static void drop_retired(struct snapshot *snapshot, const struct album *keep)
{
    struct album **link = &snapshot->retired;
    while (*link) {
        struct album *album = *link;
        if (album != keep && album->readers[0] == 0 && album->readers[1] == 0) {
            *link = album->next;
            if (album->config != snapshot->first) {
                config_free(album->config);
            }
            album_destroy(album);
        } else {
            link = &album->next;
        }
    }
}

void snapshot_destroy(struct snapshot *snapshot)
{
    if (snapshot) {
        drop_retired(snapshot, NULL);
        album_destroy(snapshot->album);
        pthread_mutex_destroy(&snapshot->mutex);
        free(snapshot);
    }
}

int snapshot_replace(struct snapshot *snapshot, struct config *config, struct err *err)
{
    struct album *album = album_create(config);
    if (!album) {
        return err_fail(err, ENOMEM, "no memory for the snapshots");
    }
    pthread_mutex_lock(&snapshot->mutex);
    snapshot->album->next = snapshot->retired;
    snapshot->retired = snapshot->album;
    snapshot->album = album;
    pthread_mutex_unlock(&snapshot->mutex);
    return 0;
}

struct picture *snapshot_begin(struct snapshot *snapshot)
{
    struct picture *picture = NULL;
    pthread_mutex_lock(&snapshot->mutex);
    drop_retired(snapshot, newest(snapshot));
    struct album *album = snapshot->album;
    int spare = album->shown == 0 ? 1 : 0;
    if (album->readers[spare] == 0) {
        picture = &album->pictures[spare];
    }
    pthread_mutex_unlock(&snapshot->mutex);
    return picture;
}

void snapshot_show(struct snapshot *snapshot, struct picture *picture)
{
    pthread_mutex_lock(&snapshot->mutex);
    snapshot->album->shown = picture == &snapshot->album->pictures[1] ? 1 : 0;
    pthread_mutex_unlock(&snapshot->mutex);
}

const struct picture *snapshot_take(struct snapshot *snapshot)
{
    const struct picture *picture = NULL;
    pthread_mutex_lock(&snapshot->mutex);
    struct album *album = newest(snapshot);
    if (album->shown >= 0) {
        picture = &album->pictures[album->shown];
        album->readers[album->shown]++;
    }
    pthread_mutex_unlock(&snapshot->mutex);
    return picture;
}

static bool put_back(struct album *album, const struct picture *picture)
{
    for (int i = 0; i < 2; i++) {
        if (picture == &album->pictures[i]) {
            album->readers[i]--;
            return true;
        }
    }
    return false;
}

void snapshot_release(struct snapshot *snapshot, const struct picture *picture)
{
    pthread_mutex_lock(&snapshot->mutex);
    if (!put_back(snapshot->album, picture)) {
        for (struct album *album = snapshot->retired; album; album = album->next) {
            if (put_back(album, picture)) {
                break;
            }
        }
    }
    pthread_mutex_unlock(&snapshot->mutex);
}
