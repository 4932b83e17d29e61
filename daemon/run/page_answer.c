/* SPDX-License-Identifier: Apache-2.0 */
#include "page_answer.h"

#include "control_proto.h"
#include "err.h"
#include "metrics.h"
#include "outlook_json.h"
#include "page_html.h"
#include "page_journal.h"
#include "status.h"

#include <errno.h>
#include <jansson.h>
#include <stdlib.h>
#include <string.h>

enum { JSON_STYLE = JSON_COMPACT | JSON_REAL_PRECISION(9) };

static const char type_json[] = "application/json; charset=utf-8";
static const char type_text[] = "text/plain; charset=utf-8";
static const char too_early[] = "the daemon has only just started; ask again";
static const char type_html[] = "text/html; charset=utf-8";

static void answer_with(char *text, const char *type, struct page_answer *ret)
{
    *ret = (struct page_answer){.status = 200, .type = type, .text = text, .owned = text};
    ret->size = text ? strlen(text) : 0;
    if (!text) {
        *ret = (struct page_answer){.status = 503, .type = type_text, .text = "no memory\n"};
        ret->size = strlen(ret->text);
    }
}

void page_refuse(const struct page_request *request, int status, const char *sentence,
                 struct page_answer *ret)
{
    const bool is_json = request->path && strstr(request->path->path, ".json");
    char *text = NULL;
    if (is_json) {
        json_t *object = json_pack("{s:o}", "error", control_text(sentence));
        text = json_dumps(object, JSON_STYLE);
        json_decref(object);
    } else {
        const size_t size = strlen(sentence) + 2;
        text = malloc(size);
        if (text) {
            (void)snprintf(text, size, "%s\n", sentence);
        }
    }
    answer_with(text, is_json ? type_json : type_text, ret);
    if (text) {
        ret->status = status;
    }
}

static json_t *status_with_version(const struct page_sources *sources)
{
    json_t *status = NULL;
    const struct picture *picture = snapshot_take(sources->snapshot);
    if (picture) {
        status = status_json(picture, -1);
        snapshot_release(sources->snapshot, picture);
        (void)json_object_set_new(status, "version", json_string(sources->version));
    }
    return status;
}

char *page_status_text(const struct page_sources *sources)
{
    json_t *status = status_with_version(sources);
    char *text = status ? json_dumps(status, JSON_STYLE) : NULL;
    json_decref(status);
    return text;
}

static void answer_status(const struct page_sources *sources, const struct page_request *request,
                          struct page_answer *ret)
{
    char *text = page_status_text(sources);
    if (text) {
        answer_with(text, type_json, ret);
    } else {
        page_refuse(request, 503, too_early, ret);
    }
}

static void answer_index(const struct page_sources *sources, struct page_answer *ret)
{
    json_t *status = status_with_version(sources);
    answer_with(page_html(sources->files.index_html, status), type_html, ret);
    json_decref(status);
}

static int find_space(const struct config *config, const char *name, struct err *err)
{
    char known[256] = "";
    size_t used = 0;
    for (int i = 0; i < config->space_count; i++) {
        if (strcmp(name, config->spaces[i].name) == 0) {
            return i;
        }
        const int length = snprintf(known + used, sizeof known - used, "%s%s", used ? ", " : "",
                                    config->spaces[i].name);
        if (length < 0 || (size_t)length >= sizeof known - used) {
            break;
        }
        used += (size_t)length;
    }
    return err_fail(err, ENOENT, "space: there is no \"%s\"; there are: %s", name, known);
}

static void answer_plan(const struct page_sources *sources, const struct page_request *request,
                        struct page_answer *ret)
{
    struct err err = {""};
    json_t *plan = NULL;
    const struct picture *picture = snapshot_take(sources->snapshot);
    if (!picture) {
        page_refuse(request, 503, too_early, ret);
        return;
    }
    const int space = find_space(picture->config, request->space, &err);
    if (space >= 0) {
        plan = outlook_json(picture, space);
    }
    snapshot_release(sources->snapshot, picture);
    if (space < 0) {
        page_refuse(request, 404, err.text, ret);
    } else {
        answer_with(plan ? json_dumps(plan, JSON_STYLE) : NULL, type_json, ret);
    }
    json_decref(plan);
}

static void answer_metrics(const struct page_sources *sources, const struct page_request *request,
                           struct page_answer *ret)
{
    const struct picture *picture = snapshot_take(sources->snapshot);
    if (!picture) {
        page_refuse(request, 503, too_early, ret);
        return;
    }
    char *text = metrics_text(picture);
    snapshot_release(sources->snapshot, picture);
    answer_with(text, METRICS_CONTENT_TYPE, ret);
}

static int status_of(int code)
{
    switch (-code) {
    case ENOENT:
        return 404;
    case EINVAL:
    case ERANGE:
        return 400;
    case EAGAIN:
    case ECANCELED:
    case ENOMEM:
        return 503;
    default:
        return 500;
    }
}

typedef int ask_journal(struct journal_reader *reader, const struct page_request *request,
                        FILE *out, struct err *err);

static int read_journal(const struct page_sources *sources, ask_journal *ask,
                        const struct page_request *request, char **ret, struct err *err)
{
    const char *path = sources->journal_path;
    struct journal_reader *reader = NULL;
    size_t size = 0;
    int code = path[0] ? journal_reader_open(path, &reader, err)
                       : err_fail(err, ENOENT, "the configuration keeps no journal");
    if (code < 0) {
        return code;
    }
    journal_reader_end_by(reader, &sources->is_over);
    FILE *out = open_memstream(ret, &size);
    code = out ? ask(reader, request, out, err) : err_fail(err, ENOMEM, "no memory");
    journal_reader_close(reader);
    if (out) {
        const bool is_bad = ferror(out) != 0;
        if ((fclose(out) != 0 || is_bad) && code == 0) {
            code = err_fail(err, ENOMEM, "no memory for the answer");
        }
    }
    if (code != 0) {
        free(*ret);
        *ret = NULL;
    }
    return code;
}

static void answer_journal(const struct page_sources *sources, ask_journal *ask,
                           const struct page_request *request, struct page_answer *ret)
{
    struct err err = {""};
    char *text = NULL;
    const int code = read_journal(sources, ask, request, &text, &err);
    if (code == 0) {
        answer_with(text, type_json, ret);
    } else {
        page_refuse(request, status_of(code), err.text, ret);
    }
}

static void answer_file(const struct page_sources *sources, const struct page_request *request,
                        struct page_answer *ret)
{
    const struct page_file *file = page_files_find(&sources->files, request->file);
    if (!file) {
        page_refuse(request, 404,
                    strncmp(request->file, "dygraph.", strlen("dygraph.")) == 0
                        ? "the charts' library is not installed (Debian: libjs-dygraphs)"
                        : "the page has no such file",
                    ret);
        return;
    }
    *ret = (struct page_answer){.status = 200,
                                .type = file->type,
                                .text = file->text,
                                .size = file->size,
                                .tag = file->tag};
}

void page_answer(const struct page_sources *sources, const struct page_request *request, int code,
                 const struct err *err, struct page_answer *ret)
{
    if (code < 0) {
        page_refuse(request, status_of(code), err->text, ret);
        return;
    }
    switch (request->path->what) {
    case PAGE_INDEX:
        answer_index(sources, ret);
        break;
    case PAGE_FILE:
        answer_file(sources, request, ret);
        break;
    case PAGE_STATUS:
        answer_status(sources, request, ret);
        break;
    case PAGE_PLAN:
        answer_plan(sources, request, ret);
        break;
    case PAGE_DAY:
        answer_journal(sources, page_day, request, ret);
        break;
    case PAGE_MINUTES:
        answer_journal(sources, page_minutes, request, ret);
        break;
    case PAGE_DAYS:
        answer_journal(sources, page_days, request, ret);
        break;
    case PAGE_EVENTS:
        answer_journal(sources, page_events, request, ret);
        break;
    case PAGE_NIGHTS:
        answer_journal(sources, page_nights, request, ret);
        break;
    case PAGE_WHY:
        answer_journal(sources, page_why, request, ret);
        break;
    case PAGE_METRICS:
        answer_metrics(sources, request, ret);
        break;
    case PAGE_LIVE:
        page_refuse(request, 503, "a stream is no answer", ret);
        break;
    }
}
