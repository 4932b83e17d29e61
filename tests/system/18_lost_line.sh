#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The Modbus device goes away in full light and comes back: the loss is a fault at once, nothing stale is
# written afterwards, and light returns by itself, contact first opened, dimmed before it closes.
. "$(dirname "$0")/common.sh"
need_slave

is_lit() { coil_is 1 && test "$(register)" -gt 2000; }
limiter_is() { test "$(status limiter)" = "$1"; }
faults_say() { status faults | grep -q "$1"; }
event() { grep -q "$1" "$work/daemon.log"; }

start_slave tcp
write_config tcp
start_daemon
wait_for 30 "light" is_lit
kill -KILL "$slave"
wait "$slave" 2>/dev/null
wait_for 10 "the limiter output-fault" limiter_is output-fault
faults_say 'does not obey' || fail "no word about the output: $(status faults)"
event 'bus bench is lost' || fail "the lost bus was not told"
gone "$daemon" && fail "the daemon ended with its device"

# Someone else starts a lamp in its place, at full light: what the daemon wanted before is history.
mv "$work/dump" "$work/dump.before"
start_slave tcp
wait_for 90 "light after the device came back" is_lit
event 'bus bench is back' || fail "the bus that came back was not told"
test "$(sed -n 's/^[0-9.]* coil 0 //p' "$work/dump" | head -n 1)" = 0 ||
    fail "the first word to the contact was not: open"
test "$(closings)" = 1 || fail "$(closings) closings instead of 1"
awk '$2 == "register" { mv = $4 }
     $2 == "coil" && $4 == 1 && !closed { closed = 1; exit !(mv <= 1500) }' "$work/dump" ||
    fail "the contact closed over a line that was not dimmed"
wait_for 20 "no fault any more" test -z "$(status faults | tr -d '[]')"

stop_daemon TERM || fail "the stop ended with code $?"
coil_is 0 || fail "the contact is not open after the stop"
echo "$name: passed"
