/* SPDX-License-Identifier: Apache-2.0 */
/*
 * What the journal writes in a day of three spaces: the daemon's tick and journal as they run, on
 * simulated time with a commit every simulated minute, saved states included; then a rehearsal with
 * its scratch journal. The first day fills the tables and is not counted. From /proc/self/io:
 * wchar, the bytes handed to the kernel by write calls, whatever the file system; write_bytes, the
 * pages sent towards the disk, 0 where the file lies in memory.
 *
 * usage: bench_journal FOLDER DAEMON_CONFIG REHEARSAL_CONFIG
 */
#include "err.h"
#include "log.h"
#include "rehearsal.h"
#include "stepwise.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

enum { DAY_S = 86400, READY_S = 30 };

static const int64_t begin_day = 20766; /* 2026-11-09, days since 1970-01-01 */

struct written {
    double call_bytes, disk_bytes, file_bytes;
};

static struct written count(const char *path)
{
    struct written so_far = {0};
    char line[128];
    FILE *file = fopen("/proc/self/io", "re");
    while (file && fgets(line, sizeof line, file)) {
        char *colon = strchr(line, ':');
        double bytes = colon ? strtod(colon + 1, NULL) : 0;
        if (strncmp(line, "wchar:", 6) == 0) {
            so_far.call_bytes = bytes;
        } else if (strncmp(line, "write_bytes:", 12) == 0) {
            so_far.disk_bytes = bytes;
        }
    }
    if (file) {
        (void)fclose(file);
    }
    struct stat status;
    so_far.file_bytes = stat(path, &status) == 0 ? (double)status.st_size : 0;
    return so_far;
}

static struct config *load(const char *path)
{
    struct config *config = NULL;
    struct config_report report = {0};
    if (config_load(path, &config, &report) < 0) {
        (void)fputs(report.text, stderr);
    }
    config_report_free(&report);
    return config;
}

static struct written difference(const char *path, struct written before)
{
    struct written after = count(path);
    return (struct written){after.call_bytes - before.call_bytes,
                            after.disk_bytes - before.disk_bytes,
                            after.file_bytes - before.file_bytes};
}

static void run_seconds(struct tick *tick, struct journal *journal, int seconds)
{
    for (int i = 1; i <= seconds; i++) {
        stepwise_devices();
        stepwise_tick(tick);
        if (i % 60 == 0) {
            (void)journal_flush(journal, 10); /* is_whole looks at what came of it */
        }
    }
}

static bool is_whole(struct journal *journal, const char *what)
{
    struct journal_status status = journal_get_status(journal);
    bool is_good = status.health == JOURNAL_HEALTHY && status.dropped == 0 && status.queued == 0 &&
                   status.written > 3 * DAY_S / 60;
    if (!is_good) {
        (void)fprintf(stderr, "%s: the journal is not whole: %s\n", what, status.reason);
    }
    return is_good;
}

static bool run_daemon(const char *folder, const char *config_path, struct written *ret)
{
    char path[256];
    char resume_path[256];
    struct err err = {"the configuration"};
    struct journal *journal = NULL;
    struct tick *tick = NULL;
    (void)snprintf(path, sizeof path, "%s/daemon.db", folder);
    (void)snprintf(resume_path, sizeof resume_path, "%s/resume", folder);
    struct config *config = load(config_path);
    if (!config) {
        return false;
    }
    const struct journal_options options = {
        .path = path,
        .commit_s = 1e6, /* the flushes commit: the thread waits in real time, the ticks do not */
        .keep_days = config->journal.keep_days,
    };
    bool is_good = journal_open(&options, &journal, &err) == 0 &&
                   stepwise_open(config, journal, resume_path, begin_day * DAY_S, &tick, &err) == 0;
    if (is_good) {
        run_seconds(tick, journal, READY_S);
        tick_let_light(tick, 0);
        run_seconds(tick, journal, DAY_S - READY_S);
        struct written before = count(path);
        run_seconds(tick, journal, DAY_S);
        *ret = difference(path, before);
        is_good = is_whole(journal, "daemon");
    } else {
        (void)fprintf(stderr, "daemon: %s\n", err.text);
    }
    tick_destroy(tick);
    journal_close(journal);
    return is_good;
}

static void rehearse_day(struct rehearsal *rehearsal)
{
    for (int i = 0; i < DAY_S; i++) {
        rehearsal_step(rehearsal);
    }
}

static bool run_rehearsal(const char *folder, const char *config_path, struct written *ret)
{
    char path[256];
    struct err err = {"the configuration"};
    struct journal *journal = NULL;
    struct rehearsal *rehearsal = NULL;
    (void)snprintf(path, sizeof path, "%s/rehearsal.db", folder);
    struct config *config = load(config_path);
    if (!config) {
        return false;
    }
    const struct journal_options options = {.path = path, .commit_s = 60, .is_rehearsal = true};
    bool is_good = journal_open(&options, &journal, &err) == 0;
    const struct rehearsal_options how = {
        .from_day = begin_day, .step_s = 1, .seed = 1, .journal = journal};
    is_good = is_good && rehearsal_create(config, &how, &rehearsal, &err) == 0;
    if (is_good) {
        rehearse_day(rehearsal);
        struct written before = count(path);
        rehearse_day(rehearsal);
        *ret = difference(path, before);
        is_good = is_whole(journal, "rehearsal");
    } else {
        (void)fprintf(stderr, "rehearsal: %s\n", err.text);
    }
    rehearsal_destroy(rehearsal);
    journal_close(journal);
    config_free(config);
    return is_good;
}

int main(int argument_count, char **arguments)
{
    struct written real;
    struct written rehearsed;
    if (argument_count != 4) {
        (void)fprintf(stderr, "usage: bench_journal FOLDER DAEMON_CONFIG REHEARSAL_CONFIG\n");
        return 2;
    }
    log_set_level(LOG_LEVEL_ERROR);
    if (!run_daemon(arguments[1], arguments[2], &real) ||
        !run_rehearsal(arguments[1], arguments[3], &rehearsed)) {
        return 1;
    }
    (void)printf("journal.kb_per_day %.0f kB\n", real.call_bytes / 1e3);
    (void)printf("journal.disk_kb_per_day %.0f kB\n", real.disk_bytes / 1e3);
    (void)printf("journal.file_kb_per_day %.0f kB\n", real.file_bytes / 1e3);
    (void)printf("journal.kb_per_rehearsed_day %.0f kB\n", rehearsed.call_bytes / 1e3);
    return 0;
}
