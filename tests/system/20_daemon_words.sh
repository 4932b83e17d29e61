#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The daemon's command line and exit codes, one daemon a folder, and what it does after crashes in a row.
. "$(dirname "$0")/common.sh"
need_slave
lampwardend=$build/bin/lampwardend

patience_s=30

want 0 "$lampwardend" --help
says '--runtime DIR'
want 0 "$lampwardend" --version
want 2 "$lampwardend" --nonsense
want 2 "$lampwardend" word
want 2 "$lampwardend" --log loud
want 2 "$lampwardend" --config
want 3 "$lampwardend" --config "$work/none.conf"
says none.conf
echo 'site = { warp = 9; };' >"$work/bad.conf"
want 3 "$lampwardend" --check "$work/bad.conf"
says 'bad.conf:1: '
want 3 "$lampwardend" --config "$work/bad.conf" --runtime "$work/run"
want 0 "$lampwardend" --document
cp "$work/out.log" "$work/document.conf"

start_slave tcp
write_config tcp
want 0 "$lampwardend" --check "$work/lamp.conf"
says 'lamp.conf: good'
want 0 env --ignore-signal=CHLD "$lampwardend" --check "$work/lamp.conf" # as some parents leave it
want 0 env --ignore-signal=CHLD "$build/bin/lampwarden" check "$work/lamp.conf"
want 0 "$build/bin/lampwarden" check "$work/lamp.conf"
says 'lamp.conf: sound'
says ': light day from [0-2][0-9]:[0-9:]*, as light_day_start says'
want 0 "$lampwardend" --config "$work/lamp.conf" --print-config
says 'Propagation room'
want 1 "$lampwardend" --config "$work/lamp.conf" --runtime "$work/no/such" --state "$work/state"
says 'no/such'

start_daemon
want 1 "$lampwardend" --config "$work/lamp.conf" --runtime "$work/run" --state "$work/state"
says 'another lampwardend'

# Three starts that were killed: from then on contacts stay open for half a minute more, with an alarm.
for round in 1 2 3; do
    kill -KILL "$daemon"
    wait_for 5 "the death of the daemon" gone "$daemon"
    grep -q 'ended abnormally' "$work/daemon.log" && fail "alarm after $((round - 1)) kills"
    start_daemon
done
grep -q 'ended abnormally several times' "$work/daemon.log" || fail "no alarm after three kills"
test "$(status in_crash_loop)" = True || fail "status does not tell of the crashes"
: >"$work/dump"
sleep 12 # longer than a usual start takes to light
test "$(closings)" = 0 || fail "a contact closed within 12 s of the third crash"
stop_daemon INT || fail "the stop ended with code $?"
start_daemon
test "$(status in_crash_loop)" = False || fail "a stop does not end the crash watch"
stop_daemon TERM || fail "the stop ended with code $?"
grep -q 'STOPPING=1' "$work/notify" || fail "the end was not announced"
grep -q 'WATCHDOG=1' "$work/notify" || fail "the watchdog was never petted"
echo "$name: passed"
