#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# A disk without room: the light runs, the status says so, and records are written once there is room.
. "$(dirname "$0")/common.sh"
need_slave
need mountpoint

mkdir "$work/disk"
mount -t tmpfs -o size=2m none "$work/disk" 2>/dev/null || skip "no small disk can be mounted here"
journal=$work/disk/journal.db
is_lit() { coil_is 1 && test "$(register)" -gt 2000; }
is_waiting() { journal_is waiting; }
is_healthy() { journal_is healthy; }
fill() { dd if=/dev/zero of="$work/disk/ballast" bs=4k 2>/dev/null; }

start_slave tcp
write_config tcp

# Full from the start.
fill
start_daemon
wait_for 30 "light on a full disk" is_lit
wait_for 30 "a journal that waits" is_waiting
rm "$work/disk/ballast"
wait_for 90 "a journal that writes again" is_healthy
# Full while it runs.
fill
wait_for 90 "a journal that waits again" is_waiting
is_lit || fail "the light went out with the disk"
stop_daemon TERM || fail "a stop with a full disk ended with code $?"
coil_is 0 || fail "the contact is closed after the stop"
echo "$name: passed"
