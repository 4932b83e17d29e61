/* SPDX-License-Identifier: Apache-2.0 */
#include "page_files.h"

#include "fileio.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define LIBRARY_MAX (512 * 1024)

const char page_chart_folder[] = DYGRAPH_FOLDER;

static void add(struct page_files *files, const char *name, const char *text, size_t size)
{
    if (files->count == PAGE_FILES_MAX) {
        return;
    }
    struct page_file *file = &files->items[files->count++];
    const char *ending = strrchr(name, '.');
    *file = (struct page_file){
        .type = ending && strcmp(ending, ".css") == 0 ? "text/css; charset=utf-8"
                                                      : "text/javascript; charset=utf-8",
        .text = text,
        .size = size,
    };
    (void)snprintf(file->name, sizeof file->name, "%s", name);
    (void)snprintf(file->tag, sizeof file->tag, "\"%08x-%zx\"", (unsigned)fileio_crc32(text, size),
                   size);
}

/* name: as the page asks for it; theirs: as the package calls it. */
static void add_library(struct page_files *files, const char *folder, const char *name,
                        const char *theirs)
{
    char path[256];
    char *text = NULL;
    size_t size = 0;
    const int before = files->count;
    (void)snprintf(path, sizeof path, "%s/%s", folder, theirs);
    if (fileio_read(path, LIBRARY_MAX, &text, &size, NULL) != 0) {
        return;
    }
    add(files, name, text, size);
    if (files->count > before) {
        files->items[before].owned = text;
    } else {
        free(text);
    }
}

void page_files_load(struct page_files *ret, const char *folder)
{
    *ret = (struct page_files){.index_html = ""};
    for (const struct page_embedded *one = page_embedded; one->name; one++) {
        if (strcmp(one->name, "index.html") == 0) {
            ret->index_html = one->text;
        } else {
            add(ret, one->name, one->text, one->size);
        }
    }
    add_library(ret, folder, "dygraph.css", "dygraph.min.css");
    add_library(ret, folder, "dygraph.js", "dygraph.min.js");
}

void page_files_free(struct page_files *files)
{
    for (int i = 0; i < files->count; i++) {
        free(files->items[i].owned);
    }
    files->count = 0;
}

const struct page_file *page_files_find(const struct page_files *files, const char *name)
{
    for (int i = 0; i < files->count; i++) {
        if (strcmp(files->items[i].name, name) == 0) {
            return &files->items[i];
        }
    }
    return NULL;
}
