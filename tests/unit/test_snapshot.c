/* SPDX-License-Identifier: Apache-2.0 */
#include "snapshot.h"

#include "clock.h"

#include <pthread.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static struct config *small_config(void)
{
    static const char text[] =
        "buses = ({name = \"b\"; driver = \"bench\";});"
        "outputs = ({name = \"d\"; bus = \"b\"; kind = \"switch\";});"
        "fixtures = ({name = \"f\"; switch = \"d\"; ppfd_full = 300; full_watts = 100;});"
        "stages = ({name = \"s\"; days = 0; lights_on = \"06:00\"; day_length_h = 16;"
        "           target_mol = 10;});"
        "spaces = ({name = \"p\"; fixtures = [\"f\"]; stages = [\"s\"]; start = \"2026-11-02\";});"
        "site = {utc_offset = \"+01:00\";};";
    struct config *config = NULL;
    struct config_report report = {0};
    if (config_load_text("small", text, sizeof text - 1, &config, &report) < 0) {
        print_error("%s\n", report.text);
    }
    config_report_free(&report);
    assert_non_null(config);
    return config;
}

static void show(struct snapshot *snapshot, uint64_t ticks)
{
    struct picture *picture = snapshot_begin(snapshot);
    assert_non_null(picture);
    picture->ticks = ticks;
    snapshot_show(snapshot, picture);
}

static void a_held_picture_stands_still(void **state)
{
    (void)state;
    struct config *config = small_config();
    struct snapshot *snapshot = NULL;
    assert_int_equal(snapshot_create(config, &snapshot, NULL), 0);
    assert_null(snapshot_take(snapshot));
    show(snapshot, 1);
    const struct picture *one = snapshot_take(snapshot);
    assert_int_equal(one->ticks, 1);
    show(snapshot, 2);
    assert_int_equal(one->ticks, 1);
    assert_null(snapshot_begin(snapshot)); /* the spare one is held */
    const struct picture *two = snapshot_take(snapshot);
    assert_int_equal(two->ticks, 2);
    snapshot_release(snapshot, one);
    show(snapshot, 3);
    assert_int_equal(two->ticks, 2);
    snapshot_release(snapshot, two);
    snapshot_destroy(snapshot);
    config_free(config);
}

/* Under the address sanitizer: nothing is freed too early, nothing is left. */
static void a_reload_frees_what_nobody_holds(void **state)
{
    (void)state;
    struct config *first = small_config();
    struct config *second = small_config();
    struct config *third = small_config();
    struct snapshot *snapshot = NULL;
    assert_int_equal(snapshot_create(first, &snapshot, NULL), 0);
    show(snapshot, 1);
    assert_int_equal(snapshot_replace(snapshot, second, NULL), 0);
    const struct picture *old = snapshot_take(snapshot); /* still the picture before the reload */
    assert_ptr_equal(old->config, first);
    show(snapshot, 2);
    const struct picture *held = snapshot_take(snapshot);
    assert_ptr_equal(held->config, second);
    assert_int_equal(snapshot_replace(snapshot, third, NULL), 0);
    show(snapshot, 3);
    show(snapshot, 4);
    assert_int_equal(held->config->space_count, 1);
    assert_string_equal(held->config->spaces[0].name, "p");
    snapshot_release(snapshot, old);
    snapshot_release(snapshot, held);
    show(snapshot, 5);
    snapshot_destroy(snapshot);
    config_free(first);
    config_free(third);
}

static void two_reloads_within_a_tick(void **state)
{
    (void)state;
    struct config *first = small_config();
    struct config *third = small_config();
    struct snapshot *snapshot = NULL;
    assert_int_equal(snapshot_create(first, &snapshot, NULL), 0);
    show(snapshot, 1);
    assert_int_equal(snapshot_replace(snapshot, small_config(), NULL), 0);
    assert_int_equal(snapshot_replace(snapshot, third, NULL), 0);
    const struct picture *picture = snapshot_take(snapshot); /* the second never came to one */
    assert_non_null(picture);
    assert_ptr_equal(picture->config, first);
    snapshot_release(snapshot, picture);
    show(snapshot, 2);
    picture = snapshot_take(snapshot);
    assert_ptr_equal(picture->config, third);
    snapshot_release(snapshot, picture);
    snapshot_destroy(snapshot);
    config_free(first);
    config_free(third);
}

struct reader {
    struct snapshot *snapshot;
    atomic_bool stop;
    atomic_int looks;
    bool saw_torn;
};

static void *look(void *context)
{
    struct reader *reader = context;
    while (!atomic_load(&reader->stop)) {
        const struct picture *picture = snapshot_take(reader->snapshot);
        if (picture) {
            reader->saw_torn = reader->saw_torn || picture->ticks != picture->overruns ||
                               picture->boot_ns != (int64_t)picture->ticks;
            snapshot_release(reader->snapshot, picture);
            atomic_fetch_add(&reader->looks, 1);
        }
    }
    return NULL;
}

static void readers_of_other_threads(void **state)
{
    (void)state;
    struct config *config = small_config();
    struct reader reader = {.saw_torn = false};
    pthread_t thread;
    assert_int_equal(snapshot_create(config, &reader.snapshot, NULL), 0);
    assert_int_equal(pthread_create(&thread, NULL, look, &reader), 0);
    int64_t until_ns = clock_boot_ns() + 20 * CLOCK_NS_PER_S;
    uint64_t ticks = 0;
    while (atomic_load(&reader.looks) < 20000 && clock_boot_ns() < until_ns) {
        struct picture *picture = snapshot_begin(reader.snapshot);
        if (picture) {
            picture->ticks = ++ticks;
            picture->boot_ns = (int64_t)ticks;
            picture->overruns = ticks;
            snapshot_show(reader.snapshot, picture);
        }
    }
    atomic_store(&reader.stop, true);
    assert_int_equal(pthread_join(thread, NULL), 0);
    assert_false(reader.saw_torn);
    snapshot_destroy(reader.snapshot);
    config_free(config);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_held_picture_stands_still),
        cmocka_unit_test(a_reload_frees_what_nobody_holds),
        cmocka_unit_test(two_reloads_within_a_tick),
        cmocka_unit_test(readers_of_other_threads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
