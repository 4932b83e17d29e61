#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# One output moved by hand: the operator's words against what a pymodbus slave was told, by day and by night.
. "$(dirname "$0")/common.sh"
need_slave

# try CODE WORDS...: the verb's exit code; its words in $work/try.txt
try() {
    code=$1
    shift
    status=0
    timeout 60 "$build/bin/lampwarden" try --socket "$work/control" "$@" >"$work/try.txt" 2>&1 || status=$?
    test "$status" = "$code" || fail "exit code $status instead of $code: try $*: $(cat "$work/try.txt")"
}
says() { grep -q -- "$1" "$work/try.txt" || fail "'$1' is not in: $(cat "$work/try.txt")"; }
was_told() { grep -q " $1 0 $2\$" "$work/dump"; }
field() { /usr/bin/python3 -c 'import json, sys
value = json.load(open(sys.argv[1]))
for key in sys.argv[2].split("."): value = value[key]
print(value)' "$work/try.txt" "$1"; }
is_lit() { test "$(status level)" != 0.0 && test "$(coil)" = 1; }
config() {
    write_config tcp
    sed -i -e '/^buses/s/ );$/, { name = "other"; driver = "bench"; every_s = 1.0; } );/' \
        -e 's/^  { name = "contact"/  { name = "spare"; bus = "other"; kind = "dim"; },\n&/' "$work/lamp.conf"
}

start_slave tcp
config
start_daemon
wait_for 30 "light" is_lit
sleep 2 # the level settles: what is compared is before and during
planned=$(register)

try 0 dimmer 30% --for 6s --json
was_told register 3000 || fail "the slave never saw 3000: $(tail -n 5 "$work/dump")"
near "$(field during.asked)" 0.3 1e-6 || fail "asked $(field during.asked)"
near "$(field during.written)" 0.3 1e-6 || fail "written $(field during.written)"
near "$(field during.read_back)" 0.3 0.001 || fail "read back $(field during.read_back)"
test "$(field during.limiter)" = by-hand || fail "limiter $(field during.limiter)"
# the fixture's own curve: 201 W at full drive, 11 W at 0.145, a straight line between them
near "$(field during.watts)" 45.4 0.5 || fail "watts $(field during.watts)"
back() { near "$(register)" "$planned" 300; }
wait_for 10 "the plan's level" back
test "$(coil)" = 1 || fail "the contact moved"

try 0 dimmer 0.5 --for 3s
says 'dimmer: drive 0.50 for 3 s, then the plan goes on'
says 'dimmer: 0.50 asked, 0.50 written, 0.50 read back; light .* → .* µmol'
try 0 contact open --for 6s
says 'contact: open asked, open written, open read back'
was_told coil 0 || fail "the contact never opened"
wait_for 20 "light again" is_lit

# By day the plan may close what is open now.
"$build/bin/lampwarden" try --socket "$work/control" contact open --for 8s >"$work/open.txt" 2>&1 &
trying=$!
pids="$pids $trying"
wait_for 8 "an open contact" coil_is 0
try 0 dimmer 30% --for 2s
says 'its switch is open now; the plan may close it within this time'
wait "$trying" || fail "exit code $? of the open contact"
wait_for 20 "light again" is_lit

# Somebody presses Ctrl-C: it ends now.
"$build/bin/lampwarden" try --socket "$work/control" dimmer 20% --for 5min >"$work/try.txt" 2>&1 &
trying=$!
pids="$pids $trying"
wait_for 10 "2000 at the slave" register_is 2000
kill -INT "$trying"
wait "$trying" || fail "exit code $? after Ctrl-C"
says 'ended before its time'
wait_for 10 "the plan's level" back

# resume ends it as well
"$build/bin/lampwarden" try --socket "$work/control" dimmer 20% --for 5min >"$work/try.txt" 2>&1 &
trying=$!
pids="$pids $trying"
wait_for 10 "2000 at the slave" register_is 2000
shows() {
    "$build/bin/lampwarden" status --outputs --socket "$work/control" >"$work/status.txt"
    grep -q "$1" "$work/status.txt"
}
wait_for 5 "the try in status" shows 'try  *dimmer  *moved by hand for another'
wait_for 5 "the outputs in status" shows 'output  *dimmer  *asked 0.20, written 0.20, read back 0.20'
"$build/bin/lampwarden" resume --socket "$work/control" lettuce >/dev/null || fail "resume"
wait "$trying" || fail "exit code $? after resume"
says 'ended before its time'

try 1 spare 0.5
says 'no fixture of a space uses it'
try 1 nothing 0.5
says "no output 'nothing'"
try 1 dimmer closed
says 'dimmer is a dimming output'
try 1 contact 50%
says 'contact is a switch: value must be open or closed'
try 2 dimmer 140%
says '140% is out of range (0% … 100%)'
try 2 dimmer 30
says '30 is out of range (0 … 1); did you mean 30%?'
# What the lamps say of the sensor: two steps at most were seen so far, and that is too little.
gain() {
    code=$1
    shift
    status=0
    "$build/bin/lampwarden" gain --socket "$work/control" "$@" >"$work/try.txt" 2>&1 || status=$?
    test "$status" = "$code" || fail "exit code $status instead of $code: gain $*: $(cat "$work/try.txt")"
}
gain 0 lettuce
says 'lettuce: [0-8] of the 9 steps of the lamps that it takes to tell were seen'
says 'sensor and lamps count as configured'
gain 0 lettuce --clear
gain 0 lettuce --json
test "$(field gain.sensor_factor)" = 1.0 || fail "$(cat "$work/try.txt")"
gain 1 lettuce --accept sensor
says 'only [0-8] of the 9 steps that it takes were seen'
gain 1 mint
says "there is no space 'mint'"
gain 2 lettuce --accept both
says "'sensor' or 'lamp', not 'both'"
gain 2 lettuce --accept lamp --clear
gain 2

try 2 dimmer 40% --for 11min
try 2 dimmer
"$build/bin/lampwarden" events --journal "$work/journal.db" >"$work/events.txt" 2>&1 || true
stop_daemon TERM || fail "the stop ended with code $?"

# By night: the line behind the open contact moves, light needs the words.
sed -i "s/lights_on = \"[0-9:]*\"/lights_on = \"$(time_of_day '3 hours')\"/; s/day_length_h = 12.0/day_length_h = 8.0/" \
    "$work/lamp.conf"
: >"$work/dump"
start_daemon
is_dark() { test "$(status level)" = 0.0; }
wait_for 10 "the first decision" is_dark
try 0 dimmer 70% --for 26s
says 'its switch is open, so no light comes of it'
was_told register 7000 || fail "the line did not move in the night"
test "$(closings)" = 0 || fail "light in the night"
try 1 contact closed
says '--break-night'
test "$(closings)" = 0 || fail "light in the night without the words"
try 0 contact closed --for 8s --break-night
says 'contact: closed asked, closed written'
test "$(closings)" = 1 || fail "$(closings) closings"
wait_for 10 "darkness" coil_is 0

# The device falls silent while the lamp is lit: open was asked, nobody knows. Then it answers again.
sleep 3 # min_off_s
"$build/bin/lampwarden" try --socket "$work/control" contact closed --for 5min --break-night >"$work/try.txt" 2>&1 &
trying=$!
pids="$pids $trying"
wait_for 15 "light" coil_is 1
kill -STOP "$slave"
wait_for 40 "doubt in status" shows 'fixture bar: open asked, not confirmed since [0-2][0-9]:.*; it may still be lit'
shows '; bar may still be lit$' || fail "$(cat "$work/status.txt")"
shows 'output  *contact  *asked open' || fail "$(cat "$work/status.txt")"
test "$(coil)" = 1 || fail "the slave is not as it was left"
kill "$trying" 2>/dev/null
kill -CONT "$slave"
wait_for 40 "darkness" coil_is 0
sure() { ! shows 'may still be lit'; }
wait_for 20 "certainty in status" sure
stop_daemon TERM || fail "the stop ended with code $?"

# The meter hangs on another bench, whose lamp stays dark: the curve between its two points says 112 W at 0.6.
config
sed -i -e 's/^  { name = "heatsink"/  { name = "meter"; bus = "other"; kind = "power"; },\n&/' \
    -e 's/name = "bar";/& power_sensor = "meter";/' "$work/lamp.conf"
start_daemon
wait_for 30 "light" is_lit
try 0 dimmer 60% --for 16s
says 'by its curve about 112 W: the lamp does not follow; right output, scale and unit?'
stop_daemon TERM || fail "the stop ended with code $?"
echo "$name: passed"
