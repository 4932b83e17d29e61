/* SPDX-License-Identifier: Apache-2.0 */
#include "peer.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/socket.h>
#include <unistd.h>

#include <cmocka.h>

static void who_may(void **state)
{
    (void)state;
    const struct peer_rules none = {0};
    const struct peer_rules growers = {true, 4242};
    const gid_t groups[] = {100, 4242};
    const uid_t stranger = geteuid() + 4711;
    assert_true(peer_is_allowed(&none, 0, 1, NULL, 0));
    assert_true(peer_is_allowed(&none, geteuid(), 1, NULL, 0));
    assert_false(peer_is_allowed(&none, stranger, 0, groups, 2)); /* group 0 is not "no group" */
    assert_true(peer_is_allowed(&growers, stranger, 4242, NULL, 0));
    assert_true(peer_is_allowed(&growers, stranger, 100, groups, 2));
    assert_false(peer_is_allowed(&growers, stranger, 100, groups, 1));
}

static void groups_by_name(void **state)
{
    (void)state;
    struct peer_rules rules = {.group = 77};
    assert_int_equal(peer_rules_init(&rules, "", NULL), 0);
    assert_false(rules.has_group);
    assert_int_equal(peer_rules_init(&rules, "root", NULL), 0);
    assert_true(rules.has_group && rules.group == 0);
    assert_int_equal(peer_rules_init(&rules, "no-such-group-here", NULL), -ENOENT);
}

static void asks_the_kernel(void **state)
{
    (void)state;
    int pair[2];
    const struct peer_rules none = {0};
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, pair), 0);
    assert_true(peer_may(&none, pair[0])); /* ourselves */
    assert_false(peer_may(&none, -1));
    close(pair[0]);
    close(pair[1]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(who_may),
        cmocka_unit_test(groups_by_name),
        cmocka_unit_test(asks_the_kernel),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
