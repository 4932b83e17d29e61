/* SPDX-License-Identifier: Apache-2.0 */
#include "page.h"

#include "clock.h"
#include "err.h"
#include "log.h"
#include "page_server.h"

#include <errno.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>

enum { STACK = 256 * 1024 };

static const int64_t pulse_ns = CLOCK_NS_PER_S;
static const int64_t rest_ns = 3600 * CLOCK_NS_PER_S; /* without a page */
static const int64_t retry_ns = 30 * CLOCK_NS_PER_S;
static const int64_t patience_ns = 2 * CLOCK_NS_PER_S;

struct page {
    struct page_sources sources;
    pthread_t thread;
    pthread_mutex_t mutex;
    pthread_cond_t changed, ended;
    struct config_page wanted;
    bool is_new, is_stopping, has_ended; /* under the mutex */
    /* the thread's own */
    struct page_server *server;
    struct config_page config;
    int64_t again_ns;
    char reason[ERR_TEXT_MAX]; /* why there is no listener, as it was logged */
};

static void open_listener(struct page *page, int64_t now_ns)
{
    struct err err = {""};
    const int code = page_server_start(&page->config, &page->sources, &page->server, &err);
    if (code == 0) {
        const bool is_six = strchr(page->config.address, ':') != NULL;
        log_info("page: listening at http://%s%s%s:%d/", is_six ? "[" : "", page->config.address,
                 is_six ? "]" : "", page->config.port);
        page->reason[0] = '\0';
        return;
    }
    page->server = NULL;
    page->again_ns = code == -ENOTSUP ? INT64_MAX : now_ns + retry_ns;
    if (strcmp(page->reason, err.text) != 0) {
        log_error("page: %s; the light goes on without it%s", err.text,
                  code == -ENOTSUP ? "" : ", trying again every 30 s");
        memcpy(page->reason, err.text, sizeof page->reason);
    }
}

/* A password's file may hold another one now. */
static bool is_same(const struct config_page *a, const struct config_page *b)
{
    return a->port == b->port && a->is_behind_proxy == b->is_behind_proxy &&
           strcmp(a->address, b->address) == 0 && strcmp(a->host_names, b->host_names) == 0 &&
           a->password_file[0] == '\0' && b->password_file[0] == '\0';
}

static void take_over(struct page *page, const struct config_page *config)
{
    if (page->server && is_same(&page->config, config)) {
        return; /* nobody is disturbed */
    }
    if (page->server) {
        page_server_stop(page->server);
        page->server = NULL;
        if (config->port == 0) {
            log_info("page: closed, the configuration has none any more");
        }
    }
    page->config = *config;
    page->again_ns = 0;
    page->reason[0] = '\0';
}

static void work(struct page *page, int64_t now_ns)
{
    if (!page->server && page->config.port > 0 && now_ns >= page->again_ns) {
        open_listener(page, now_ns);
    }
    if (page->server) {
        page_server_pulse(page->server, now_ns);
    }
}

/* With the mutex held, but for the work itself. */
static void live(struct page *page)
{
    while (!page->is_stopping) {
        const bool is_new = page->is_new;
        const struct config_page wanted = page->wanted;
        page->is_new = false;
        pthread_mutex_unlock(&page->mutex);
        if (is_new) {
            take_over(page, &wanted);
        }
        const int64_t now_ns = clock_real_ns();
        work(page, now_ns);
        pthread_mutex_lock(&page->mutex);
        if (!page->is_stopping && !page->is_new) {
            const int64_t wait_ns = page->config.port > 0 ? pulse_ns : rest_ns;
            (void)clock_wait_until_real(&page->changed, &page->mutex, now_ns + wait_ns);
        }
    }
}

static void *run(void *context)
{
    struct page *page = context;
    (void)pthread_setname_np(pthread_self(), "page"); /* only for people who look */
    page_files_load(&page->sources.files, page_chart_folder);
    pthread_mutex_lock(&page->mutex);
    live(page);
    pthread_mutex_unlock(&page->mutex);
    page_server_stop(page->server);
    page_files_free(&page->sources.files);
    pthread_mutex_lock(&page->mutex);
    page->has_ended = true;
    pthread_cond_signal(&page->ended);
    pthread_mutex_unlock(&page->mutex);
    return NULL;
}

static int start_thread(struct page *page, struct err *err)
{
    pthread_attr_t attributes;
    int code = pthread_attr_init(&attributes);
    if (code == 0) {
        (void)pthread_attr_setstacksize(&attributes, STACK); /* the default is as good */
        code = pthread_create(&page->thread, &attributes, run, page);
        (void)pthread_attr_destroy(&attributes);
    }
    return code == 0 ? 0 : err_fail(err, code, "no thread for the page: %s", err_name(code));
}

static void page_free(struct page *page)
{
    pthread_cond_destroy(&page->ended);
    pthread_cond_destroy(&page->changed);
    pthread_mutex_destroy(&page->mutex);
    free(page);
}

int page_open(const struct page_setup *setup, struct page **ret, struct err *err)
{
    struct page *page = calloc(1, sizeof *page);
    if (!page) {
        return err_fail(err, ENOMEM, "no memory for the page");
    }
    page->sources.snapshot = setup->snapshot;
    page->sources.version = setup->version;
    (void)snprintf(page->sources.journal_path, sizeof page->sources.journal_path, "%s",
                   setup->journal_path);
    page->wanted = setup->config;
    page->is_new = true;
    pthread_mutex_init(&page->mutex, NULL);
    pthread_cond_init(&page->changed, NULL);
    pthread_cond_init(&page->ended, NULL);
    int code = start_thread(page, err);
    if (code < 0) {
        page_free(page);
        return code;
    }
    *ret = page;
    return 0;
}

void page_change(struct page *page, const struct config_page *config)
{
    pthread_mutex_lock(&page->mutex);
    page->wanted = *config;
    page->is_new = true;
    pthread_cond_signal(&page->changed);
    pthread_mutex_unlock(&page->mutex);
}

void page_close(struct page *page)
{
    if (!page) {
        return;
    }
    const int64_t until_ns = clock_real_ns() + patience_ns;
    atomic_store(&page->sources.is_over, true);
    pthread_mutex_lock(&page->mutex);
    page->is_stopping = true;
    pthread_cond_signal(&page->changed);
    int code = 0;
    while (!page->has_ended && code != -ETIMEDOUT) {
        code = clock_wait_until_real(&page->ended, &page->mutex, until_ns);
    }
    const bool has_ended = page->has_ended;
    pthread_mutex_unlock(&page->mutex);
    if (has_ended) {
        (void)pthread_join(page->thread, NULL);
        page_free(page);
    } else {
        (void)pthread_detach(page->thread);
        log_warning("page: it still waits for the journal's disk and is left behind");
    }
}
