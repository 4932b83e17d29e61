#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The dimming curve of a simulated lamp by the running daemon: its first steps, Ctrl-C, the night, a file that
# exists, a fixture that does not; readings from files, and bad files with one clear line each.
. "$(dirname "$0")/common.sh"
need /usr/bin/python3

# sweep CODE WORDS...: the verb's exit code; its words in $work/sweep.txt
sweep() {
    code=$1
    shift
    status=0
    timeout 100 "$build/bin/lampwarden" sweep "$@" >"$work/sweep.txt" 2>&1 </dev/null || status=$?
    test "$status" = "$code" || fail "exit code $status instead of $code: sweep $*: $(cat "$work/sweep.txt")"
}
says() { grep -q -- "$1" "$work/sweep.txt" || fail "'$1' is not in: $(cat "$work/sweep.txt")"; }

start_bench --layout 2 --seed 3
points() { printf '{ name = "%s"; bus = "line"; kind = "%s"; unit = %s; function = 4; register = %s; scale = 0.1; }' "$@"; }
outputs() { printf '{ name = "dim_%s"; bus = "line"; kind = "dim"; unit = %s; register = 0; full = 10000; },
  { name = "contact_%s"; bus = "line"; kind = "switch"; unit = %s; coil = 0; }' "$1" "$2" "$1" "$2"; }
# A straight curve is what one begins with.
guess='curve = ( { drive = 0.0; level = 0.01; watts = 5.0; }, { drive = 1.0; level = 1.0; watts = 300.0; } ); ppfd_full = 400.0;'
fixture() { printf '{ name = "%s"; dim = "dim_%s"; switch = "contact_%s"; heat_sensors = [ "heat_%s" ]; power_sensor = "meter_%s";
  switching = { min_on_s = 1.0; min_off_s = 1.0; settle_s = 1.0; };\n  %s\n}' "$1" "$1" "$1" "$1" "$1" "$2"; }
config() {
    cat >"$work/lamp.conf" <<CONFIG
site = { name = "Propagation room (invented)"; utc_offset = "+00:00"; };
buses = ( { name = "line"; driver = "modbus-tcp"; host = "127.0.0.1"; port = $port; every_s = 0.2; } );
sensors = ( $(points par ppfd 1 0), $(points heat_a temperature 1 1), $(points meter_a power 1 2),
  $(points heat_b temperature 2 1), $(points meter_b power 2 2) );
outputs = ( $(outputs a 1), $(outputs b 2) );
fixtures = ( $(fixture a "$1"), $(fixture b "$guess") );
stages = ( { name = "leaf"; days = 0; lights_on = "$(time_of_day "$2")"; day_length_h = 8.0; target_mol = 12.0;
  dawn_min = 0.0; dusk_min = 0.0; } );
spaces = ( { name = "lettuce"; fixtures = [ "a", "b" ]; ppfd_sensors = [ "par" ]; stages = [ "leaf" ];
  light_day_start = "$(time_of_day '5 hours ago')"; start = "$(date -u -d '3 days ago' +%F)"; } );
journal = { path = "$work/journal.db"; };
control = { socket = "$work/control"; };
CONFIG
}

config "$guess" '2 hours ago'
start_daemon
is_lit() { case $(status level) in "" | 0.0) return 1 ;; esac; }
wait_for 30 "light" is_lit

echo old >"$work/a.record"
lamp() { "$build/bin/lampwarden" status --socket "$work/control" --json | /usr/bin/python3 -c '
import json, sys
for output in json.load(sys.stdin)["outputs"]:
    print(output["output"], output["written"], output["try"] is not None)'; }
shows() { lamp | grep -q "^$1\$"; }

sweep 1 --socket "$work/control" lettuce a --output "$work/a.record"
says "a.record exists; --force writes over it"
test "$(cat "$work/a.record")" = old || fail "the old record is gone"
sweep 1 --socket "$work/control" lettuce a --output "$work/no/such.record"
says "cannot write"
sweep 1 --socket "$work/control" lettuce a --output /dev/null --force
says "not a regular file"
sweep 1 --socket "$work/control" mint a
says "there is no space 'mint'; there are: lettuce"
sweep 1 --socket "$work/control" lettuce c
says "lettuce has no fixture 'c'; it has: a, b"
sweep 2 --socket "$work/control" lettuce a --steps 1
sweep 2 --socket "$work/control" lettuce a --fine 0
says '--fine: 0 is out of range (0.001 … 1, or 0.1% … 100%)'
sweep 2 --socket "$work/control" lettuce

# Dark, then closed at drive 0, the other lamp dark. Then somebody presses Ctrl-C.
"$build/bin/lampwarden" sweep --socket "$work/control" lettuce a --samples 3 --settle 1s --output "$work/a.record" --force \
    >"$work/sweep.txt" 2>&1 </dev/null &
sweeping=$!
pids="$pids $sweeping"
wait_for 10 "the dark" shows 'contact_a 0.0 True'
wait_for 10 "the other lamp dark" shows 'contact_b 0.0 True'
wait_for 20 "light at drive 0" shows 'contact_a 1.0 True'
shows 'dim_a 0.0 True' || fail "not at drive 0: $(lamp)"
kill -INT "$sweeping"
code=0
wait "$sweeping" || code=$?
test "$code" = 1 || fail "exit code $code after Ctrl-C"
says 'a of lettuce, by par: 20 steps up and down to drive 1.00; about .* min,'
says 'Other fixtures of the space are dark meanwhile'
says 'interrupted: the plan rules again, nothing was written'
test "$(cat "$work/a.record")" = old || fail "an unfinished sweep wrote its record"
untouched() { ! lamp | grep -q True; }
wait_for 5 "the end of every try" untouched
wait_for 10 "light of the other lamp" shows 'contact_b 1.0 False'

# Killed, the tries end by themselves: what is left of them is short. The other lamp was left to the plan.
"$build/bin/lampwarden" sweep --socket "$work/control" lettuce a --keep-others --samples 3 --settle 1s >"$work/sweep.txt" 2>&1 </dev/null &
sweeping=$!
wait_for 10 "the dark" shows 'contact_a 0.0 True'
wait_for 20 "light at drive 0" shows 'contact_a 1.0 True'
shows 'contact_b 1.0 False' || fail "the other lamp was touched: $(lamp)"
kill -KILL "$sweeping"
"$build/bin/lampwarden" status --socket "$work/control" --json | /usr/bin/python3 -c '
import json, sys
left = [o["try"]["left_s"] for o in json.load(sys.stdin)["outputs"] if o["try"]]
assert left and max(left) <= 121, left' || fail "a try that is too long"

# By night it is refused.
config "$guess" '3 hours'
"$build/bin/lampwarden" reload --socket "$work/control" >"$work/reload.txt" 2>&1 || fail "$(cat "$work/reload.txt")"
is_dark() { test "$(status level)" = 0.0; }
wait_for 10 "the night" is_dark
sweep 1 --socket "$work/control" lettuce a --settle 1s --samples 3
says '--break-night'
shows 'contact_a 1.0 .*' && fail "light in the night"
stop_daemon TERM || fail "the stop ended with code $?"
sweep 1 --socket "$work/control" lettuce a
says 'no daemon answers'

# Readings taken by hand, and their record.
hand=$source/tests/data/sweep/lettuce.csv
sweep 0 --from "$hand" --output "$work/hand.record"
says '^  drive  read  µmol m⁻² s⁻¹  level %'
says 'dark at drive 0.050 and below'
says 'lowest steady light 10.3 % at drive 0.100'
says 'out of the dark it comes on at drive 0.150: the curve begins there, with'
says 'saturated above drive 0.90'
says 'droop: 2.3 % less light'
says 'from drive 0.150 on 12 readings lie within 0.23 % of full light'
says '^  0.900 .* -0.23 '
says '^  0.050 .*  2.0        -$'
/usr/bin/python3 -c 'import sys; sys.exit(max(len(line.rstrip("\n")) for line in sys.stdin) > 80)' <"$work/sweep.txt" ||
    fail "wider than 80 columns: $(cat "$work/sweep.txt")"
printf 'drive,ppfd_umol\n0,0\n0.5,200\n1,400\n' >"$work/once.csv"
sweep 0 --from "$work/once.csv"
says 'every drive was read once: how far readings scatter is not known'
sweep 1 --from "$hand" --output "$work/hand.record"
says 'exists; --force'
config '
  @include "hand.record"
' '2 hours ago'
"$build/bin/lampwarden" check --print "$work/lamp.conf" >"$work/printed.conf" 2>"$work/check.log" ||
    fail "the record is refused: $(cat "$work/check.log")"
for line in 'ppfd_full = 387.4;' 'commissioned = "2026-11-20";' 'commissioned_c = 31.0;' 'sensor = "hand-held \"17\"";' 'date = "2026-11-20";'; do
    grep -qF -- "$line" "$work/printed.conf" || fail "'$line' is not in the configuration"
done
sweep 0 --from "$hand" --json
/usr/bin/python3 - "$work/sweep.txt" <<'CHECK' || fail "the JSON: $(cat "$work/sweep.txt")"
import json, sys
sweep = json.load(open(sys.argv[1]))
assert sweep["fixture"] == "lettuce_a" and sweep["sensor"] == 'hand-held "17"' and len(sweep["readings"]) == 16
assert sweep["curve"][0] == {"drive": 0, "level": 0, "watts": 2} and sweep["curve"][-1]["level"] == 1
assert abs(sweep["droop"] - (1 - 215 / 220)) < 1e-6 and sweep["drive_ceiling"] is None
CHECK
cp "$work/sweep.txt" "$work/first.txt"
sweep 0 --record "$work/hand.record" --json
/usr/bin/python3 - "$work/first.txt" "$work/sweep.txt" <<'CHECK' || fail "the record tells another thing: $(cat "$work/sweep.txt")"
import json, sys
first, again = (json.load(open(path)) for path in sys.argv[1:])
assert again["fixture"] == "hand" and again["date"] == first["date"] and again["sensor"] == first["sensor"]
for key in ("full_umol", "dead_below", "holds_level", "lights_drive", "droop", "heat_high_c", "worst_level"):
    assert abs(again[key] - first[key]) <= 1e-4 * max(1, first[key]), (key, again[key], first[key])
for a, b in zip(again["curve"] + again["readings"], first["curve"] + first["readings"], strict=True):
    for key in set(a) & {"drive", "level", "watts", "residual"}:
        assert a[key] == b[key] or abs(a[key] - b[key]) < 1e-2 * (10 if key == "watts" else 0.01), (key, a, b)
CHECK
# A great many readings: every third is kept, and the record is still one.
awk 'BEGIN { print "drive,ppfd_umol"; for (i = 0; i < 700; i++) printf "%.4f,%.2f\n", i / 699, 400 * i / 699 }' >"$work/many.csv"
sweep 0 --from "$work/many.csv" --output "$work/many.record"
sweep 0 --record "$work/many.record" --json
grep -o '"residual"' "$work/sweep.txt" | wc -l | grep -qx 234 || fail "not 234 of 700 readings: $(cat "$work/sweep.txt")"
sed '/readings = (/,/^  );/d' "$work/hand.record" >"$work/old.record"
sweep 1 --record "$work/old.record"
says 'old.record keeps no readings'
sed 's/^ppfd_full = .*/ppfd_full = 9000;/' "$work/hand.record" >"$work/bright.record"
sweep 1 --record "$work/bright.record"
says '^lampwarden sweep: .*bright.record:[0-9]*: fixtures.0..ppfd_full: 9000 is out of range (1 … 5000, µmol'
sweep 1 --record "$work/none.record"
says 'none.record: No such file'
sweep 2 --record "$work/hand.record" --output "$work/more.record"

# A picture, where gnuplot is: units on every axis, what is read beside what is fitted; else one clear sentence.
if command -v gnuplot >/dev/null; then
    sweep 0 --from "$hand" --plot "$work/curve.svg"
    for word in 'Dimming curve of lettuce_a, 2026-11-20, by hand-held &quot;17&quot;' "drive, % of the output's range" \
        'light, % of full light' 'PPFD at the canopy, µmol m⁻² s⁻¹' 'reading less curve,' 'residual, 0.23 % at most' \
        '± rms, 0.11 %' 'readings' 'its points' 'dark'; do
        sed "s/&#39;/'/g; s/\"17\"/\\&quot;17\\&quot;/g" "$work/curve.svg" | grep -qF -- "$word" ||
            fail "'$word' is not in the picture"
    done
    sed 's/^drive_ceiling.*//; s/^ppfd_full/drive_ceiling = 0.85;\n&/' "$work/hand.record" >"$work/low_a.record"
    sweep 0 --record "$work/low_a.record" --plot "$work/curve.svg"
    grep -q 'ceiling 85 %' "$work/curve.svg" || fail "the drive ceiling is not in the picture"
    grep -q 'Dimming curve of low_a, ' "$work/curve.svg" || fail "the name is not as it was given"
    sweep 0 --record "$work/low_a.record" --plot -
    says 'light, % of full light\|residual, 0.23 % at most'
else
    echo "gnuplot not found: pictures not tested (Debian: gnuplot-nox)"
fi
mkdir "$work/bare"
status=0
PATH=$work/bare "$build/bin/lampwarden" sweep --from "$hand" --plot "$work/never.svg" >"$work/sweep.txt" 2>&1 || status=$?
test "$status" = 1 || fail "exit code $status without gnuplot"
says 'gnuplot is not installed (Debian: gnuplot-nox)'
test ! -e "$work/never.svg" || fail "a picture without gnuplot"
sweep 2 --from "$hand" lettuce a
sweep 2 --from "$hand" --ceiling
bad() { # WORDS LINE...: one clear line
    words=$1
    shift
    printf '%s\n' "$@" >"$work/bad.csv"
    sweep 1 --from "$work/bad.csv"
    says "$words"
    test "$(wc -l <"$work/sweep.txt")" = 1 || fail "more than one line: $(cat "$work/sweep.txt")"
}
sweep 1 --from "$work/none.csv"
bad 'bad.csv:1: the column ppfd_umol is missing' drive,watts 0,1
bad 'bad.csv:1: columns are drive, ppfd_umol and watts, no others' drive,ppfd_umol,level 0,1,2
bad 'bad.csv:2: drive 1.2 is out of range (0 … 1)' drive,ppfd_umol 1.2,1
bad 'bad.csv:3: ppfd_umol -4 is out of range (0 … 5000)' drive,ppfd_umol 0.1,1 0.2,-4
bad 'bad.csv:2: ppfd_umol is missing' drive,ppfd_umol 0.1,
bad 'bad.csv:2' drive,ppfd_umol 0.1,nan
bad 'bad.csv:2: watts -1 is out of range' drive,ppfd_umol,watts 0.1,1,-1
bad 'bad.csv:1: dark_umol' '# dark_umol: much' drive,ppfd_umol 0.1,1
bad 'bad.csv: light at 0 of 2 drives: no curve' drive,ppfd_umol 0,0 1,0
bad 'bad.csv: the readings contradict each other by' drive,ppfd_umol 0.2,300 0.5,200 1,100
echo "$name: passed"
