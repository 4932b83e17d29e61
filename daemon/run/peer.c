/* SPDX-License-Identifier: Apache-2.0 */
#include "peer.h"

#include "err.h"

#include <errno.h>
#include <grp.h>
#include <sys/socket.h>
#include <unistd.h>

enum { GROUPS_MAX = 256 };

int peer_rules_init(struct peer_rules *rules, const char *group, struct err *err)
{
    char buffer[16384];
    struct group entry;
    struct group *found = NULL;
    if (!group[0]) {
        *rules = (struct peer_rules){0};
        return 0;
    }
    int code = getgrnam_r(group, &entry, buffer, sizeof buffer, &found);
    if (code != 0) {
        return err_fail(err, code, "group %s cannot be looked up: %s", group, err_name(code));
    }
    if (!found) {
        return err_fail(err, ENOENT, "there is no group %s", group);
    }
    *rules = (struct peer_rules){.has_group = true, .group = entry.gr_gid};
    return 0;
}

bool peer_is_allowed(const struct peer_rules *rules, uid_t uid, gid_t gid, const gid_t *groups,
                     int count)
{
    if (uid == 0 || uid == geteuid()) {
        return true;
    }
    if (!rules->has_group) {
        return false;
    }
    for (int i = 0; i < count; i++) {
        if (groups[i] == rules->group) {
            return true;
        }
    }
    return gid == rules->group;
}

bool peer_may(const struct peer_rules *rules, int socket_fd)
{
    struct ucred who;
    socklen_t size = sizeof who;
    gid_t groups[GROUPS_MAX];
    socklen_t groups_size = sizeof groups;
    if (getsockopt(socket_fd, SOL_SOCKET, SO_PEERCRED, &who, &size) != 0) {
        return false;
    }
    if (getsockopt(socket_fd, SOL_SOCKET, SO_PEERGROUPS, groups, &groups_size) != 0) {
        groups_size = 0; /* more groups than fit: its primary group decides */
    }
    return peer_is_allowed(rules, who.uid, who.gid, groups, (int)(groups_size / sizeof groups[0]));
}
