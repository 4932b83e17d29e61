/* SPDX-License-Identifier: Apache-2.0 */
#include "fileio.h"

#include "err.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[64];

static int enter_folder(void **state)
{
    (void)state;
    (void)strcpy(folder, "/tmp/test_fileio_XXXXXX");
    return mkdtemp(folder) ? 0 : -1;
}

static int leave_folder(void **state)
{
    (void)state;
    static const char *const names[] = {"a", "a.new", "fifo"};
    for (size_t i = 0; i < sizeof names / sizeof *names; i++) {
        char path[128];
        (void)snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        (void)unlink(path);
    }
    return rmdir(folder);
}

static const char *in_folder(const char *name)
{
    static char path[128];
    (void)snprintf(path, sizeof path, "%s/%s", folder, name);
    return path;
}

static void crc32_check_value(void **state)
{
    (void)state;
    /* The common check value of the CRC-32 of IEEE 802.3. */
    assert_int_equal(fileio_crc32("123456789", 9), 0xCBF43926U);
    assert_int_equal(fileio_crc32("", 0), 0);
    /* Every byte once, from 0 to 255: as zlib's crc32 gives it. */
    unsigned char bytes[256];
    for (int i = 0; i < 256; i++) {
        bytes[i] = (unsigned char)i;
    }
    assert_int_equal(fileio_crc32(bytes, sizeof bytes), 0x29058C73U);
}

static void replaces_and_reads_back(void **state)
{
    (void)state;
    struct err err = {""};
    char *text = NULL;
    size_t size = 0;
    assert_int_equal(fileio_replace(in_folder("a"), "first", 5, 0600, &err), 0);
    assert_int_equal(fileio_replace(in_folder("a"), "sec\0nd", 6, 0640, &err), 0);
    assert_int_equal(fileio_read(in_folder("a"), 6, &text, &size, &err), 0);
    assert_int_equal(size, 6);
    assert_memory_equal(text, "sec\0nd", 7);
    free(text);
    struct stat info;
    assert_int_equal(stat(in_folder("a"), &info), 0);
    assert_int_equal(info.st_mode & 07777, 0640);
    assert_int_equal(access(in_folder("a.new"), F_OK), -1);
    assert_int_equal(fileio_replace(in_folder("a"), "", 0, 0600, &err), 0);
    assert_int_equal(fileio_read(in_folder("a"), 0, &text, &size, &err), 0);
    assert_int_equal(size, 0);
    assert_string_equal(text, "");
    free(text);
}

static void what_a_person_named_is_no_device(void **state)
{
    (void)state;
    struct err err = {""};
    char *text = NULL;
    assert_int_equal(fileio_put(in_folder("put"), "first", 5, &err), 0);
    assert_int_equal(fileio_put(in_folder("put"), "second", 6, &err), 0);
    assert_int_equal(symlink("put", in_folder("link")), 0);
    assert_int_equal(mkfifo(in_folder("pipe"), 0600), 0);
    const char *const strange[] = {"link", "pipe", "."};
    for (size_t i = 0; i < sizeof strange / sizeof *strange; i++) {
        assert_int_equal(fileio_put(in_folder(strange[i]), "x", 1, &err), -EINVAL);
        assert_non_null(strstr(err.text, "is not a regular file"));
    }
    assert_int_equal(fileio_may_put("/nonexistent/a", &err), -ENOENT);
    assert_string_equal(err.text, "cannot write /nonexistent/a: No such file or directory");
    assert_int_equal(fileio_may_put(in_folder("fresh"), &err), 0);
    assert_int_equal(unlink(in_folder("link")), 0);
    assert_int_equal(unlink(in_folder("pipe")), 0);
    assert_int_equal(fileio_read(in_folder("put"), 6, &text, NULL, &err), 0);
    assert_string_equal(text, "second");
    free(text);
    assert_int_equal(unlink(in_folder("put")), 0);
}

static void a_failed_replace_keeps_the_old(void **state)
{
    (void)state;
    struct err err = {""};
    assert_int_equal(fileio_replace(in_folder("a"), "old", 3, 0600, &err), 0);
    /* A folder in the way of the new file. */
    assert_int_equal(mkdir(in_folder("a.new"), 0700), 0);
    assert_true(fileio_replace(in_folder("a"), "new", 3, 0600, &err) < 0);
    assert_non_null(strstr(err.text, "a.new"));
    assert_int_equal(rmdir(in_folder("a.new")), 0);
    /* A full disk. */
    assert_int_equal(symlink("/dev/full", in_folder("a.new")), 0);
    assert_int_equal(fileio_replace(in_folder("a"), "new", 3, 0600, &err), -ELOOP);
    (void)unlink(in_folder("a.new"));
    char *text = NULL;
    assert_int_equal(fileio_read(in_folder("a"), 100, &text, NULL, &err), 0);
    assert_string_equal(text, "old");
    free(text);
    assert_int_equal(fileio_replace("/nonexistent/a", "x", 1, 0600, &err), -ENOENT);
    assert_string_equal(err.text, "cannot write /nonexistent/a.new: No such file or directory");
}

static void refuses_what_is_no_small_file(void **state)
{
    (void)state;
    struct err err = {""};
    char *text = (char *)folder;
    assert_int_equal(fileio_read(in_folder("none"), 10, &text, NULL, &err), -ENOENT);
    assert_int_equal(fileio_read(folder, 10, &text, NULL, &err), -EISDIR);
    assert_int_equal(mkfifo(in_folder("fifo"), 0600), 0);
    assert_int_equal(fileio_read(in_folder("fifo"), 10, &text, NULL, &err), -EINVAL);
    assert_int_equal(fileio_read("/dev/zero", 10, &text, NULL, &err), -EINVAL);
    assert_int_equal(fileio_replace(in_folder("a"), "0123456789A", 11, 0600, &err), 0);
    assert_int_equal(fileio_read(in_folder("a"), 10, &text, NULL, &err), -EFBIG);
    assert_non_null(strstr(err.text, "has 11 bytes (at most 10)"));
    /* procfs says size 0 and gives bytes all the same */
    assert_int_equal(fileio_read("/proc/self/status", 10, &text, NULL, &err), -EFBIG);
    assert_ptr_equal(text, folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(crc32_check_value),
        cmocka_unit_test(replaces_and_reads_back),
        cmocka_unit_test(what_a_person_named_is_no_device),
        cmocka_unit_test(a_failed_replace_keeps_the_old),
        cmocka_unit_test(refuses_what_is_no_small_file),
    };
    return cmocka_run_group_tests(tests, enter_folder, leave_folder);
}
