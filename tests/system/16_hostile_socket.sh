#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Hostile callers at the control socket: the light stays, others are still answered.
. "$(dirname "$0")/common.sh"
need_slave

is_lit() { coil_is 1 && test "$(register)" -gt 2000; }

start_slave tcp
write_config tcp
start_daemon
wait_for 30 "light" is_lit
memory_before=$(awk '/^VmRSS/ { print $2 }' "/proc/$daemon/status")
/usr/bin/python3 "$source/tests/support/hostile_caller.py" "$work/control" >"$work/hostile.log" 2>&1 ||
    fail "a hostile caller was not met as it should be"
gone "$daemon" && fail "the daemon died of a caller"
is_lit || fail "the light went out over a caller"
test "$(closings)" = 1 || fail "the contact moved over a caller"
near "$(status target_mol)" 8 0.001 || fail "the status is wrong after hostile callers"
memory_after=$(awk '/^VmRSS/ { print $2 }' "/proc/$daemon/status")
test $((memory_after - memory_before)) -lt 20000 || fail "memory rose by $((memory_after - memory_before)) KiB"
stop_daemon TERM || fail "the stop ended with code $?"
echo "$name: passed"
