/* SPDX-License-Identifier: Apache-2.0 */
/*
 * The page's own files, which are in the program, and the charts' library, which Debian's package
 * libjs-dygraphs puts on the disk; read once at the start.
 */
#ifndef LAMPWARDEN_PAGE_FILES_H
#define LAMPWARDEN_PAGE_FILES_H

#include <stddef.h>

/* Made at build from daemon/page; ended by a row without a name. */
struct page_embedded {
    const char *name;
    const char *text; /* ends with a NUL, which size does not count */
    size_t size;
};
extern const struct page_embedded page_embedded[];

struct page_file {
    char name[32]; /* "page.css" */
    const char *type;
    const char *text;
    size_t size;
    char *owned;  /* text, where it was read from the disk */
    char tag[24]; /* changes with the text; in quotes, as HTTP wants it */
};

enum { PAGE_FILES_MAX = 24 };

struct page_files {
    const char *index_html;
    struct page_file items[PAGE_FILES_MAX];
    int count;
};

/* folder: of the charts' library. What is missing there is left out. */
void page_files_load(struct page_files *ret, const char *folder);
void page_files_free(struct page_files *files);

/* NULL: no such file. */
const struct page_file *page_files_find(const struct page_files *files, const char *name);

/* Where the charts' library is looked for. */
extern const char page_chart_folder[];

#endif
