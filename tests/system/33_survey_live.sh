#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# A survey by hand against the simulated lamp: a rig by pipe, a person at a pseudo terminal, kill -9 and going on,
# back, repeat, skip; a full disk, a lamp at another level, a mute sensor, no daemon; words that make no survey.
. "$(dirname "$0")/common.sh"
need /usr/bin/python3

start_bench --layout 1,1 --seed 3
fixture() { printf '{ name = "%s"; dim = "dim_%s"; switch = "contact_%s"; heat_sensors = [ "heat_%s" ]; ppfd_full = 420.0;
  power_sensor = "meter_%s"; switching = { min_on_s = 1.0; min_off_s = 1.0; settle_s = 1.0; };
  curve = ( { drive = 0.0; level = 0.01; watts = 5.0; }, { drive = 1.0; level = 1.0; watts = 300.0; } ); }' "$@"; }
points() { printf '{ name = "%s"; bus = "line"; kind = "%s"; unit = %s; function = 4; register = %s; scale = 0.1;
  stale_s = 1.5; lost_s = 3.0; }' "$@"; }
outputs() { printf '{ name = "dim_%s"; bus = "line"; kind = "dim"; unit = %s; register = 0; full = 10000; },
  { name = "contact_%s"; bus = "line"; kind = "switch"; unit = %s; coil = 0; }' "$1" "$2" "$1" "$2"; }
space() { printf '{ name = "%s"; fixtures = [ "%s" ]; %s stages = [ "leaf" ]; clock_policy = "carry-on";
  rise_percent_per_min = 6000.0; fall_percent_per_min = 6000.0; light_day_start = "%s"; start = "%s"; }' \
    "$1" "$2" "$3" "$(time_of_day '5 hours ago')" "$(date -u -d '3 days ago' +%F)"; }
cat >"$work/lamp.conf" <<CONFIG
site = { name = "Propagation room (invented)"; utc_offset = "+00:00"; };
buses = ( { name = "line"; driver = "modbus-tcp"; host = "127.0.0.1"; port = $port; every_s = 0.2; } );
sensors = ( $(points par ppfd 1 0), $(points mute ppfd 1 500),
  $(points heat_a temperature 1 1), $(points meter_a power 1 2),
  $(points heat_b temperature 2 1), $(points meter_b power 2 2) );
outputs = ( $(outputs a 1), $(outputs b 2) );
fixtures = ( $(fixture a a a a a), $(fixture b b b b b) );
stages = ( { name = "leaf"; days = 0; lights_on = "$(time_of_day '2 hours ago')"; day_length_h = 8.0; target_mol = 6.0;
  dawn_min = 0.0; dusk_min = 0.0; } );
spaces = ( $(space lettuce a 'ppfd_sensors = [ "par" ]; canopy_factor = 1.5;'), $(space mint b '') );
journal = { path = "$work/journal.db"; };
control = { socket = "$work/control"; };
CONFIG
start_daemon

lampwarden=$build/bin/lampwarden
hold() { "$lampwarden" hold lettuce "$1" --for 1h --socket "$work/control" >"$work/hold.txt" 2>&1 || fail "$(cat "$work/hold.txt")"; }
level_is() { near "$(status fixtures | sed -n "s/.*'level': \([0-9.]*\),.*/\1/p")" "$1" 0.002; }
# survey CODE WORDS...: the verb's exit code; its words in $work/survey.txt
survey() {
    code=$1
    shift
    status=0
    timeout 60 "$lampwarden" survey --live "$@" --socket "$work/control" --samples 3 --settle 1s \
        >"$work/survey.txt" 2>&1 </dev/null || status=$?
    test "$status" = "$code" || fail "exit code $status instead of $code: survey $*: $(cat "$work/survey.txt")"
}
says() { tr '\n' ' ' <"$work/survey.txt" | grep -q -- "$1" || fail "'$1' is not in: $(cat "$work/survey.txt")"; }
hold 60%
wait_for 20 "the held level" level_is 0.6

# Several people at once, each with a file of his own, while words that make no survey are refused.
LAMPWARDEN=$lampwarden /usr/bin/python3 "$source/tests/system/survey_walker.py" "$work" >"$work/walker.log" 2>&1 &
walker=$!
pids="$pids $walker"
grid='--grid 3x2 --spacing 15cm --height 60cm'
# shellcheck disable=SC2086  # words
{
    survey 2 lettuce --grid 3x2 --spacing 0cm --height 60cm
    says 'spacing: 0cm is out of range'
    survey 2 lettuce --grid 3x2 --spacing 15 --height 60cm
    says 'not a length with its unit'
    survey 2 lettuce --grid 1x1 --spacing 15cm --height 60cm
    says 'grid of 1 x 1 points is out of range (2 x 2 … 1000 x 1000'
    survey 2 lettuce --grid 1000x1000 --spacing 15cm --height 60cm
    says 'has 1000000 points; 10000 at most'
    survey 2 lettuce --grid 9 --spacing 15cm --height 60cm
    says "'9' is not like 9x5"
    survey 2 lettuce $grid --target much
    says 'target: "much" is not a number'
    survey 2 lettuce --grid 3x2 --spacing 15cm
    says 'needs --height'
    survey 2 lettuce --spacing 15cm --height 60cm
    says 'needs --grid'
    survey 1 thyme $grid
    says "there is no space 'thyme'; there are: lettuce, mint"
    survey 1 mint $grid
    says 'mint has no light sensor'
    survey 1 lettuce $grid --sensor meter_a
    says "sensor 'meter_a' measures power, not ppfd"
    survey 1 lettuce $grid --sensor nobody
    says "there is no sensor 'nobody'"
    survey 1 lettuce $grid --output "$work/none/a.csv"
    says 'a.csv cannot be written there: No such file'
    survey 1 lettuce $grid --output /dev/null
    says '/dev/null is not a regular file'
    cp "$source/tests/data/maps/at60.csv" "$work/at60.csv"
    survey 1 lettuce $grid --output "$work/at60.csv"
    says 'at60.csv is no survey that --live began'
    says '--force writes over it'
    cmp -s "$source/tests/data/maps/at60.csv" "$work/at60.csv" || fail "a file that was refused has changed"
}
status=0
timeout 20 "$lampwarden" survey "$work/at60.csv" --grid 9x5 >"$work/survey.txt" 2>&1 || status=$?
test "$status" = 2 || fail "--grid without --live: $status"
says 'belong to --live SPACE'

status=0
wait "$walker" || status=$?
test "$status" = 0 || fail "the walker says: $(cat "$work/walker.log")"

stop_daemon KILL
# shellcheck disable=SC2086
survey 1 lettuce $grid
says 'no daemon answers'
echo "$name: passed"
