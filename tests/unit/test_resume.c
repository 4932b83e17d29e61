/* SPDX-License-Identifier: Apache-2.0 */
#include "resume.h"

#include "err.h"
#include "near.h"
#include "prng.h"
#include "scene.h"
#include "sim_config.h"
#include "units.h"

#include <errno.h>
#include <math.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

static const int64_t second = 1000000000;

static void make(struct resume_record *record, const char *space, int fixtures)
{
    memset(record, 0, sizeof *record);
    (void)snprintf(record->space, sizeof record->space, "%s", space);
    (void)snprintf(record->boot_id, sizeof record->boot_id, "boot-one");
    record->boot_ns = 5000 * second;
    record->wall_s = 1795000000;
    record->clock_trusted = true;
    record->fixture_count = fixtures;
    record->state.is_begun = true;
    record->state.has_ticked = true;
    record->state.boot_ns = 5000 * second;
    record->state.wall_s = 1795000000;
    record->state.integral.lamp_mol = 7.25;
    correction_reset(&record->state.correction);
    record->state.correction.sensor = 1.05;
    for (int i = 0; i < fixtures; i++) {
        (void)snprintf(record->fixtures[i], CONFIG_NAME_MAX, "fixture %d", i);
        record->state.fixtures[i].switching.operations_total = 100U + (unsigned)i;
    }
}

static void packs_and_unpacks(void **state)
{
    (void)state;
    struct resume_record record;
    struct resume_record back;
    unsigned char buffer[RESUME_PACKED_MAX];
    uint64_t sequence = 0;
    static const int counts[] = {0, 1, 2, SPACE_FIXTURES_MAX};
    for (size_t i = 0; i < sizeof counts / sizeof counts[0]; i++) {
        make(&record, "basil", counts[i]);
        size_t size = resume_pack(&record, 42, buffer);
        assert_in_range(size, 100, sizeof buffer);
        assert_int_equal(resume_unpack(buffer, size, &back, &sequence, NULL), 0);
        assert_int_equal(sequence, 42);
        assert_memory_equal(&back, &record, sizeof record);
    }
    make(&record, "basil", 1);
    size_t one = resume_pack(&record, 1, buffer);
    make(&record, "basil", 2);
    assert_int_equal(resume_pack(&record, 1, buffer) - one,
                     CONFIG_NAME_MAX + sizeof(struct fixture_state));
}

/* What is noted of a state packs to the same bytes as the whole of it. */
static void notes_what_is_packed(void **state)
{
    (void)state;
    struct resume_record record;
    struct resume_record noted;
    unsigned char whole[RESUME_PACKED_MAX];
    unsigned char buffer[RESUME_PACKED_MAX];
    make(&record, "basil", 2);
    make(&noted, "basil", 2);
    record.state.cost = 3.5;
    record.state.clearness.is_broken = true;
    record.state.learned.day_count = 3; /* kept elsewhere */
    record.state.fixtures[1].unsure_s = 7;
    const size_t size = resume_pack(&record, 5, whole);
    resume_note(&noted, &record.state);
    assert_int_equal(resume_pack(&noted, 5, buffer), size);
    assert_memory_equal(buffer, whole, size);
    assert_int_equal(noted.state.learned.day_count, 0);
}

/* Pages of the journal's database have 4096 bytes, of which a row may take 4061 (SQLite's file
 * format, "B-tree Pages"): the states of three spaces with four fixtures share one. */
static void small_states_share_a_page(void **state)
{
    (void)state;
    struct resume_record record;
    unsigned char buffer[RESUME_PACKED_MAX];
    size_t size = 0;
    for (int i = 0; i < 3; i++) {
        make(&record, "basil", i == 0 ? 2 : 1);
        size += resume_pack(&record, 1, buffer);
    }
    print_message("%zu bytes\n", size);
    assert_true(size < 4000);
}

/* What lamps were expected to give in the last seconds means nothing to a later run (space_resume).
 */
static void history_is_forgotten(void **state)
{
    (void)state;
    struct resume_record record;
    struct resume_record back;
    unsigned char buffer[RESUME_PACKED_MAX];
    make(&record, "basil", 2);
    record.state.history[3].lamp_umol = 200;
    record.state.history_next = 4;
    size_t size = resume_pack(&record, 1, buffer);
    assert_int_equal(resume_unpack(buffer, size, &back, NULL, NULL), 0);
    make(&record, "basil", 2);
    assert_memory_equal(&back, &record, sizeof record);
}

/* Every single flipped bit and every cut is found, and *ret stays as it was. */
static void damage_is_found(void **state)
{
    (void)state;
    struct resume_record record;
    struct resume_record back;
    unsigned char buffer[RESUME_PACKED_MAX];
    make(&record, "basil", 2);
    size_t size = resume_pack(&record, 7, buffer);
    memset(&back, 0x5a, sizeof back);
    const struct resume_record untouched = back;
    for (size_t bit = 0; bit < size * 8; bit += 3) {
        buffer[bit / 8] ^= (unsigned char)(1U << bit % 8);
        int code = resume_unpack(buffer, size, &back, NULL, NULL);
        assert_true(code == -EILSEQ || code == -EPROTO);
        buffer[bit / 8] ^= (unsigned char)(1U << bit % 8);
    }
    for (size_t cut = 0; cut < size; cut += 5) {
        assert_int_equal(resume_unpack(buffer, cut, &back, NULL, NULL), -EILSEQ);
    }
    assert_memory_equal(&back, &untouched, sizeof back);
}

static void garbage_is_refused(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    struct resume_record back;
    unsigned char buffer[RESUME_PACKED_MAX];
    for (int round = 0; round < 200; round++) {
        for (size_t i = 0; i < sizeof buffer; i++) {
            buffer[i] = (unsigned char)prng_next(&prng);
        }
        struct err err = {""};
        assert_true(resume_unpack(buffer, sizeof buffer, &back, NULL, &err) < 0);
        assert_true(err.text[0] != '\0');
    }
}

/* Random bytes under a right checksum: refused with a sentence, or harmless to every rule. */
static void nonsense_is_refused_or_harmless(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    int refused = 0;
    for (int round = 0; round < 4000; round++) {
        static struct scene scene;
        static struct resume_record record;
        static struct resume_record back;
        unsigned char buffer[RESUME_PACKED_MAX];
        struct err err = {""};
        scene_begin(&scene, 2, 43200);
        make(&record, "basil", 2);
        record.state = scene.state;
        for (int64_t i = prng_int(&prng, 1, 3); i > 0; i--) {
            const int64_t size = sizeof record - offsetof(struct resume_record, boot_ns);
            unsigned char *at = (unsigned char *)&record.boot_ns + prng_int(&prng, 0, size - 8);
            for (int64_t k = prng_int(&prng, 1, 8); k > 0; k--) {
                at[k - 1] = (unsigned char)prng_next(&prng);
            }
        }
        record.fixture_count = 2;
        const size_t size = resume_pack(&record, 1, buffer);
        if (resume_unpack(buffer, size, &back, NULL, &err) < 0) {
            assert_true(err.text[0] != '\0');
            refused++;
            continue;
        }
        const struct resume_moment moment = {"boot-two", scene.now.boot_ns, scene.now.wall_s, true};
        if (resume_rebase(&back, &moment, NULL) == 0) {
            scene.state = back.state;
            space_resume(&scene.state, &scene.sim.space.rules);
            scene_run(&scene, 5);
            assert_true(scene.verdict.level >= 0 && scene.verdict.level <= 1);
        }
    }
    assert_in_range(refused, 200, 3999);
}

static void nonsense_is_named(void **state)
{
    (void)state;
    struct resume_record record;
    struct resume_record back;
    struct err err = {""};
    unsigned char buffer[RESUME_PACKED_MAX];
    make(&record, "basil", 1);
    record.state.light_gain = (double)NAN;
    assert_int_equal(resume_unpack(buffer, resume_pack(&record, 1, buffer), &back, NULL, &err),
                     -EILSEQ);
    assert_non_null(strstr(err.text, "cannot be: state.light_gain is "));
    make(&record, "basil", 1);
    record.state.clearness.clear_mol = -1;
    assert_int_equal(resume_unpack(buffer, resume_pack(&record, 1, buffer), &back, NULL, &err),
                     -EILSEQ);
    assert_string_equal(err.text, "a saved state that cannot be: the sums of its sky");
    make(&record, "basil", 1);
    record.state.cost = -2.5; /* a day of negative prices */
    assert_int_equal(resume_unpack(buffer, resume_pack(&record, 1, buffer), &back, NULL, &err), 0);
    assert_true(back.state.cost == -2.5);
    make(&record, "basil", 1);
    record.state.fixtures[0].ceiling.drive_cap = 1.5;
    assert_int_equal(resume_unpack(buffer, resume_pack(&record, 1, buffer), &back, NULL, &err),
                     -EILSEQ);
    assert_string_equal(err.text, "a saved state that cannot be: ceiling.drive_cap is 1.5 (0 … 1)");
}

static void same_boot_keeps_its_times(void **state)
{
    (void)state;
    struct resume_record record;
    const struct resume_moment later = {"boot-one", 5007 * second, 1795000007, false};
    const struct resume_moment earlier = {"boot-one", 4000 * second, 1795000007, true};
    make(&record, "basil", 1);
    assert_int_equal(resume_rebase(&record, &later, NULL), 0);
    assert_true(record.state.boot_ns == 5000 * second);
    assert_int_equal(resume_rebase(&record, &earlier, NULL), -ESTALE);
}

/* Power was cut for 600 s; the machine has been up for 30 s. */
static void a_reboot_moves_boot_times(void **state)
{
    (void)state;
    struct resume_record record;
    make(&record, "basil", 1);
    record.has_sync = true;
    record.state.daylight_ns = 4990 * second;
    record.hand = (struct hand){true, 0.4, 5900 * second, false};
    struct resume_moment moment = {"boot-two", 30 * second, 1795000600, true};
    assert_int_equal(resume_rebase(&record, &moment, NULL), 0);
    assert_true(record.state.boot_ns == (30 - 600) * second);
    assert_true(record.state.daylight_ns == (30 - 610) * second);
    assert_true(record.hand.until_ns == (30 + 300) * second); /* 300 s of it are left */
    assert_false(record.has_sync);
    /* A second look finds it at home. */
    assert_int_equal(resume_rebase(&record, &moment, NULL), 0);
    assert_true(record.state.boot_ns == (30 - 600) * second);
}

/* Where /proc hides the boot's id, two boots look alike: neither may pass for the other. */
static void unknown_boots_are_never_the_same(void **state)
{
    (void)state;
    struct resume_record record;
    struct resume_moment moment = {"unknown", 30 * second, 1795000600, true};
    make(&record, "basil", 1);
    (void)snprintf(record.boot_id, sizeof record.boot_id, "unknown");
    assert_int_equal(resume_rebase(&record, &moment, NULL), 0); /* not from the future */
    assert_true(record.state.boot_ns == (30 - 600) * second);
    make(&record, "basil", 1);
    (void)snprintf(record.boot_id, sizeof record.boot_id, "unknown");
    moment.boot_ns = 5100 * second; /* up for longer than the boot before was */
    assert_int_equal(resume_rebase(&record, &moment, NULL), 0);
    assert_true(record.state.boot_ns == (5100 - 600) * second);
}

static void a_reboot_with_doubtful_clocks(void **state)
{
    (void)state;
    struct resume_record record;
    struct resume_moment moment = {"boot-two", 30 * second, 5, false};
    make(&record, "basil", 1);
    assert_int_equal(resume_rebase(&record, &moment, NULL), 0);
    assert_true(record.state.boot_ns == 30 * second); /* no known gap */
    make(&record, "basil", 1);
    moment = (struct resume_moment){"boot-two", 30 * second, 1794999999, true};
    assert_int_equal(resume_rebase(&record, &moment, NULL), -ESTALE);
    /* Written under an untrusted clock that said nonsense: the last trusted time counts. */
    make(&record, "basil", 1);
    record.clock_trusted = false;
    record.wall_s = 4102444800;
    moment = (struct resume_moment){"boot-two", 30 * second, 1795000100, true};
    assert_int_equal(resume_rebase(&record, &moment, NULL), 0);
    assert_true(record.state.boot_ns == (30 - 100) * second);
    /* Never trusted at all. */
    make(&record, "basil", 1);
    record.clock_trusted = false;
    record.state.wall_s = 0;
    assert_int_equal(resume_rebase(&record, &moment, NULL), 0);
    assert_true(record.state.boot_ns == 30 * second);
}

static void the_newer_one_counts(void **state)
{
    (void)state;
    struct resume_record a;
    struct resume_record b;
    make(&a, "basil", 1);
    make(&b, "basil", 1);
    b.boot_ns += second;
    assert_ptr_equal(resume_newer(&a, &b), &b);
    assert_ptr_equal(resume_newer(&b, &a), &b);
    assert_ptr_equal(resume_newer(NULL, &a), &a);
    assert_ptr_equal(resume_newer(&a, NULL), &a);
    assert_null(resume_newer(NULL, NULL));
}

static void fixtures_go_by_name(void **state)
{
    (void)state;
    struct sim_config sim;
    struct resume_record record;
    struct space_state space;
    sim_config_init(&sim, 3);
    space_init(&space, &sim.space.rules);
    make(&record, "lettuce", 2);
    (void)snprintf(record.fixtures[0], CONFIG_NAME_MAX, "fixture 2");
    (void)snprintf(record.fixtures[1], CONFIG_NAME_MAX, "a fixture that is gone");
    resume_adopt(&record, &sim.config, 0, &space);
    assert_near(space.integral.lamp_mol, 7.25, 0);
    assert_int_equal(space.fixtures[2].switching.operations_total, 100);
    assert_int_equal(space.fixtures[0].switching.operations_total, 0);
    assert_near(space.fixtures[0].ceiling.drive_cap, 0.98, 0); /* as initialised */
}

struct folder {
    char path[64], file[96];
};

static void make_folder(struct folder *folder)
{
    (void)snprintf(folder->path, sizeof folder->path, "/tmp/lampwarden-resume-XXXXXX");
    assert_non_null(mkdtemp(folder->path));
    (void)snprintf(folder->file, sizeof folder->file, "%s/resume", folder->path);
}

static void remove_folder(const struct folder *folder)
{
    (void)unlink(folder->file);
    assert_int_equal(rmdir(folder->path), 0);
}

static void the_file_holds_the_newest(void **state)
{
    (void)state;
    struct folder folder;
    struct resume *resume = NULL;
    struct resume_record basil;
    struct resume_record lettuce;
    struct resume_record back;
    make_folder(&folder);
    assert_int_equal(resume_read(folder.file, "basil", &back, NULL), -ENOENT);
    assert_int_equal(resume_create(folder.file, 2, &resume, NULL), 0);
    assert_int_equal(resume_read(folder.file, "basil", &back, NULL), -ENOENT); /* not yet */
    make(&basil, "basil", 2);
    make(&lettuce, "lettuce", 1);
    for (int i = 0; i < 7; i++) {
        basil.state.integral.lamp_mol = i;
        resume_store(resume, 0, &basil);
        resume_store(resume, 1, &lettuce);
    }
    assert_int_equal(resume_commit(resume, NULL), 0);
    assert_int_equal(resume_read(folder.file, "basil", &back, NULL), 0);
    assert_near(back.state.integral.lamp_mol, 6, 0);
    assert_int_equal(resume_read(folder.file, "lettuce", &back, NULL), 0);
    assert_int_equal(resume_read(folder.file, "bas", &back, NULL), -ENOENT);
    resume_close(resume);
    remove_folder(&folder);
}

static void one_damaged_slot_leaves_the_other(void **state)
{
    (void)state;
    struct folder folder;
    struct resume *resume = NULL;
    struct resume_record record;
    struct resume_record back;
    make_folder(&folder);
    assert_int_equal(resume_create(folder.file, 1, &resume, NULL), 0);
    make(&record, "basil", 2);
    for (int i = 1; i <= 2; i++) {
        record.state.integral.lamp_mol = i;
        resume_store(resume, 0, &record);
    }
    assert_int_equal(resume_commit(resume, NULL), 0);
    resume_close(resume);
    FILE *file = fopen(folder.file, "r+b"); /* sequence 2 lies in the first slot */
    assert_non_null(file);
    assert_int_equal(fseek(file, 400, SEEK_SET), 0);
    assert_int_equal(fputc(0xa5, file), 0xa5);
    assert_int_equal(fclose(file), 0);
    assert_int_equal(resume_read(folder.file, "basil", &back, NULL), 0);
    assert_near(back.state.integral.lamp_mol, 1, 0);
    remove_folder(&folder);
}

/* A process that stores as fast as it can is killed at random: what is left is whole. */
static void survives_kills_while_storing(void **state)
{
    (void)state;
    struct prng prng = prng_start(__func__);
    for (int round = 0; round < 20; round++) {
        struct folder folder;
        struct resume *resume = NULL;
        struct resume_record record;
        struct resume_record back;
        make_folder(&folder);
        assert_int_equal(resume_create(folder.file, 1, &resume, NULL), 0);
        make(&record, "basil", 8);
        record.state.fixtures[7].level = record.state.integral.lamp_mol;
        resume_store(resume, 0, &record);
        assert_int_equal(resume_commit(resume, NULL), 0);
        pid_t child = fork();
        if (child == 0) {
            for (double i = 0;; i++) {
                record.state.integral.lamp_mol = i;
                record.state.fixtures[7].level = i;
                resume_store(resume, 0, &record);
            }
        }
        (void)usleep((useconds_t)prng_int(&prng, 500, 8000));
        assert_int_equal(kill(child, SIGKILL), 0);
        assert_int_equal(waitpid(child, NULL, 0), child);
        assert_int_equal(resume_read(folder.file, "basil", &back, NULL), 0);
        assert_near(back.state.fixtures[7].level, back.state.integral.lamp_mol, 0);
        resume_close(resume);
        remove_folder(&folder);
    }
}

static void a_folder_that_is_not_there(void **state)
{
    (void)state;
    struct resume *resume = NULL;
    struct err err = {""};
    assert_int_equal(resume_create("/nonexistent/resume", 1, &resume, &err), -ENOENT);
    assert_non_null(strstr(err.text, "/nonexistent/resume"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(packs_and_unpacks),
        cmocka_unit_test(notes_what_is_packed),
        cmocka_unit_test(small_states_share_a_page),
        cmocka_unit_test(history_is_forgotten),
        cmocka_unit_test(damage_is_found),
        cmocka_unit_test(garbage_is_refused),
        cmocka_unit_test(nonsense_is_refused_or_harmless),
        cmocka_unit_test(nonsense_is_named),
        cmocka_unit_test(same_boot_keeps_its_times),
        cmocka_unit_test(a_reboot_moves_boot_times),
        cmocka_unit_test(unknown_boots_are_never_the_same),
        cmocka_unit_test(a_reboot_with_doubtful_clocks),
        cmocka_unit_test(the_newer_one_counts),
        cmocka_unit_test(fixtures_go_by_name),
        cmocka_unit_test(the_file_holds_the_newest),
        cmocka_unit_test(one_damaged_slot_leaves_the_other),
        cmocka_unit_test(survives_kills_while_storing),
        cmocka_unit_test(a_folder_that_is_not_there),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
