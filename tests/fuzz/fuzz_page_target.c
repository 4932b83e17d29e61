/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as the target of a request, as a Host header and as a password: refused with a
 * sentence, or whole. In the form that libFuzzer calls; tests/fuzz/fuzz_main.c calls it with the
 * files of a corpus and mutations of them. */
#include "err.h"
#include "page_guard.h"
#include "page_paths.h"

#include <stdlib.h>
#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void require(bool holds)
{
    if (!holds) {
        abort();
    }
}

static void take(const char *target)
{
    struct page_request request;
    struct err err = {""};
    const int code = page_parse(target, &request, &err);
    require(code == 0 ? request.path != NULL : err.text[0] != '\0');
    require(memchr(request.space, '\0', sizeof request.space) &&
            memchr(request.file, '\0', sizeof request.file));
    require(request.count >= 1 && request.count <= PAGE_COUNT_MAX);
    for (const char *at = request.space; *at; at++) {
        require(strchr("\"<>&'\\/ %", *at) == NULL);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct config_page config = {.address = "0.0.0.0", .host_names = "lamps.example"};
    static const struct page_secret secret = {"QWxhZGRpbjpvcGVuIHNlc2FtZQ=="};
    char *text = malloc(size + 1);
    require(text != NULL);
    if (size > 0) {
        memcpy(text, data, size);
    }
    text[size] = '\0';
    for (char *line = strtok(text, "\n"); line; line = strtok(NULL, "\n")) {
        take(line);
        (void)page_host_is_ours(&config, line);
        (void)page_secret_fits(&secret, line);
    }
    free(text);
    return 0;
}
