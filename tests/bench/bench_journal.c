/* SPDX-License-Identifier: Apache-2.0 */
/* A day of one space into a journal, a commit a minute: what is written, by how much the file
 * grows. */
#include "err.h"
#include "journal.h"
#include "resume.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define DAY        20508
#define MINUTES    1440
#define WARMUP_MIN 1440 /* a day before, so that the tables have their usual shape */

static struct resume_record record = {.space = "lettuce", .fixture_count = 2};
static char packed[RESUME_PACKED_MAX];

/* Bytes that this process handed to write calls so far; 0: the kernel does not say. */
static unsigned long long bytes_written(void)
{
    char line[64];
    unsigned long long bytes = 0;
    FILE *io = fopen("/proc/self/io", "r");
    while (io && fgets(line, sizeof line, io)) {
        if (strncmp(line, "wchar: ", 7) == 0) {
            bytes = strtoull(line + 7, NULL, 10);
        }
    }
    if (io) {
        (void)fclose(io);
    }
    return bytes;
}

static void put_minute(struct journal *journal, int index)
{
    const double light = index % MINUTES < 360 ? 0 : 1;
    const struct journal_minute minute = {
        .space = "lettuce",
        .wall_s = DAY * 86400LL + 60LL * index,
        .light_day = DAY + index / MINUTES,
        .ppfd_umol = light * (233 + sin(index)),
        .lamp_umol = light * (233 + sin(index)),
        .level = light * 0.565 + 0.001 * sin(index),
        .drive = light * 0.51 + 0.001 * sin(index),
        .limiter = light > 0 ? LIMITER_PLAN : LIMITER_NIGHT,
        .heatsink_c = 44 + sin(index),
        .air_c = 21 + 0.1 * sin(index),
        .humidity_percent = 60 + cos(index),
        .watts = 161 * light + sin(index),
        .delivered_mol = 0.009 * (index % MINUTES),
        .target_mol = 13,
        .price_per_kwh = 0.3,
    };
    record.state.wall_s = minute.wall_s;
    struct journal_state state = {"lettuce", minute.wall_s, 0, packed};
    state.size = resume_pack(&record, 0, packed);
    (void)journal_put_minute(journal, &minute);
    (void)journal_put_state(journal, &state);
    if (index % 10 == 0) {
        struct journal_day day = {.space = "lettuce", .stage = "growing"};
        day.summary.light_day = minute.light_day;
        day.summary.account.delivered_mol = minute.delivered_mol;
        (void)journal_put_day(journal, &day);
    }
    (void)journal_flush(journal, 60); /* the status at the end tells of failures */
}

static int measure(const char *path)
{
    const struct journal_options options = {.path = path, .commit_s = 3600};
    struct journal *journal = NULL;
    struct err err;
    if (journal_open(&options, &journal, &err) != 0) {
        (void)fprintf(stderr, "%s\n", err.text);
        return 1;
    }
    for (int i = 0; i < WARMUP_MIN; i++) {
        put_minute(journal, i);
    }
    const unsigned long long bytes = bytes_written();
    for (int i = WARMUP_MIN; i < WARMUP_MIN + MINUTES; i++) {
        put_minute(journal, i);
    }
    const unsigned long long day_bytes = bytes_written() - bytes;
    const struct journal_status status = journal_get_status(journal);
    journal_close(journal);
    FILE *file = fopen(path, "rb");
    if (status.health != JOURNAL_HEALTHY || bytes == 0 || !file || fseek(file, 0, SEEK_END) != 0) {
        return 1;
    }
    printf("journal.kb_per_day %.0f kB\n", (double)day_bytes / 1000);
    printf("journal.file_kb_per_day %.0f kB\n",
           (double)ftell(file) / 1000 / (WARMUP_MIN + MINUTES) * MINUTES);
    return fclose(file) == 0 ? 0 : 1;
}

int main(void)
{
    char folder[] = "/tmp/lampwarden-bench-XXXXXX";
    char path[64];
    if (!mkdtemp(folder)) {
        perror(folder);
        return 1;
    }
    (void)snprintf(path, sizeof path, "%s/journal.db", folder);
    const int code = measure(path);
    (void)unlink(path);
    (void)snprintf(path, sizeof path, "%s/journal.db.lock", folder);
    (void)unlink(path);
    (void)rmdir(folder);
    return code;
}
