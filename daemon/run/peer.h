/* SPDX-License-Identifier: Apache-2.0 */
/* Who may use the control socket: root, the daemon's own user, members of one group. The kernel
 * tells who connected; a peer cannot choose what it says. */
#ifndef LAMPWARDEN_PEER_H
#define LAMPWARDEN_PEER_H

#include <stdbool.h>
#include <sys/types.h>

struct err;

struct peer_rules {
    bool has_group;
    gid_t group;
};

/* group "": none. -ENOENT: there is no such group. Reads the group database: at start only. */
int peer_rules_init(struct peer_rules *rules, const char *group, struct err *err);

bool peer_may(const struct peer_rules *rules, int socket_fd);

/* The rule alone. groups[count]: the peer's supplementary groups. */
bool peer_is_allowed(const struct peer_rules *rules, uid_t uid, gid_t gid, const gid_t *groups,
                     int count);

#endif
