#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The stop step: opens what a killed daemon left closed, shares none of the libraries that may have killed it,
# ends in time when a device hangs, and tells by its exit code whether all is safe.
. "$(dirname "$0")/common.sh"
need_slave
need ldd
make_safe=$build/bin/lampwarden-make-safe

is_lit() { coil_is 1 && test "$(register)" -gt 2000; }

# want CODE COMMAND...: the exit code; output in $work/out.log
want() {
    code=$1
    shift
    status=0
    "$@" >"$work/out.log" 2>&1 || status=$?
    test "$status" = "$code" || fail "exit code $status instead of $code: $*: $(cat "$work/out.log")"
}

ldd "$make_safe" >"$work/ldd.log"
grep -Eq 'libconfig|libsqlite|libjansson|libsystemd' "$work/ldd.log" &&
    fail "the stop step needs the daemon's libraries"

want 3 "$make_safe" "$work/none"
grep -q "$work/none" "$work/out.log" || fail "the missing list is not named"
echo "lampwarden-safe-list 1" >"$work/cut"
want 3 "$make_safe" "$work/cut"
want 2 "$make_safe" --nonsense
want 2 "$make_safe" a b
want 0 "$make_safe" --help
want 0 "$make_safe" --version

start_slave tcp
write_config tcp
start_daemon
wait_for 30 "light" is_lit
kill -KILL "$daemon"
wait_for 5 "the death of the daemon" gone "$daemon"
is_lit || fail "the lamp went out by itself: this test proves nothing"
want 0 "$make_safe" "$work/run/safe-list"
coil_is 0 || fail "the contact is still closed"
register_is 0 || fail "the dimming line stands at $(register) mV"
want 0 "$make_safe" "$work/state/safe-list" # once more, from the list that outlives a reboot

# A device that takes the connection and says nothing.
kill -STOP "$slave"
begun=$(date +%s)
want 1 "$make_safe" "$work/run/safe-list"
test $(($(date +%s) - begun)) -le 5 || fail "took longer than 5 s with a hanging device"
grep -q 'bus bench' "$work/out.log" || fail "the bus is not named: $(cat "$work/out.log")"
kill -CONT "$slave"
echo "$name: passed"
