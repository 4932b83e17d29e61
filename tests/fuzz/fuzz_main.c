/* SPDX-License-Identifier: Apache-2.0 */
/*
 * Runs a fuzz target without libFuzzer: every file of the folders given, then mutations of them
 * with a printed seed (LAMPWARDEN_SEED). Usage: fuzz_NAME ROUNDS FOLDER…
 */
#include "fileio.h"
#include "prng.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define FILES_MAX 512
#define BYTES_MAX 65536
#define GROWTH    256

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

struct corpus {
    int count;
    char *files[FILES_MAX];
    size_t sizes[FILES_MAX];
};

static void add_folder(struct corpus *corpus, const char *folder)
{
    DIR *dir = opendir(folder);
    const struct dirent *entry;
    while (dir && (entry = readdir(dir)) && corpus->count < FILES_MAX) {
        char path[1024];
        (void)snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        int i = corpus->count;
        if (fileio_read(path, BYTES_MAX, &corpus->files[i], &corpus->sizes[i], NULL) == 0) {
            corpus->count++;
        }
    }
    if (dir) {
        (void)closedir(dir);
    }
}

/* One change: a byte, a bit, a lost or doubled piece, or a piece of another file. */
static size_t change(struct prng *prng, const struct corpus *corpus, uint8_t *data, size_t size)
{
    size_t place = (size_t)prng_int(prng, 0, (int64_t)size - 1);
    size_t length = (size_t)prng_int(prng, 1, 32);
    length = length > size - place ? size - place : length;
    int donor = (int)prng_int(prng, 0, corpus->count - 1);
    switch (prng_int(prng, 0, 4)) {
    case 0:
        data[place] = (uint8_t)prng_int(prng, 0, 255);
        return size;
    case 1:
        data[place] ^= (uint8_t)(1U << prng_int(prng, 0, 7));
        return size;
    case 2:
        memmove(data + place, data + place + length, size - place - length);
        return size - length;
    case 3:
        memmove(data + place + length, data + place, size - place);
        return size + length;
    default:
        if (corpus->sizes[donor] >= length) {
            size_t from = (size_t)prng_int(prng, 0, (int64_t)(corpus->sizes[donor] - length));
            memcpy(data + place, corpus->files[donor] + from, length);
        }
        return size;
    }
}

static void mutate(struct prng *prng, const struct corpus *corpus)
{
    static uint8_t data[BYTES_MAX + GROWTH];
    int file = (int)prng_int(prng, 0, corpus->count - 1);
    size_t size = corpus->sizes[file];
    memcpy(data, corpus->files[file], size);
    int64_t changes = prng_int(prng, 1, 6);
    for (int64_t i = 0; i < changes && size > 1; i++) {
        size = change(prng, corpus, data, size);
    }
    (void)LLVMFuzzerTestOneInput(data, size);
}

int main(int argc, char **argv)
{
    static struct corpus corpus;
    long rounds = argc > 1 ? strtol(argv[1], NULL, 10) : 0;
    for (int i = 2; i < argc; i++) {
        add_folder(&corpus, argv[i]);
    }
    if (corpus.count == 0) {
        (void)fprintf(stderr, "usage: %s ROUNDS FOLDER…: no files found\n", argv[0]);
        return 2;
    }
    for (int i = 0; i < corpus.count; i++) {
        (void)LLVMFuzzerTestOneInput((const uint8_t *)corpus.files[i], corpus.sizes[i]);
    }
    struct prng prng = prng_start(argv[0]);
    for (long i = 0; i < rounds; i++) {
        mutate(&prng, &corpus);
    }
    printf("%d files and %ld mutations\n", corpus.count, rounds);
    for (int i = 0; i < corpus.count; i++) {
        free(corpus.files[i]);
    }
    return 0;
}
