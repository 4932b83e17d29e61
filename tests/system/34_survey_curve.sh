#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The choice of a height by the fixture's own dimming curve, of a record and of a configuration, by a case
# reckoned by hand; and the keys of every commissioning verb's answer for programs.
. "$(dirname "$0")/common.sh"
need /usr/bin/python3
lampwarden=$build/bin/lampwarden
maps=$source/tests/data/maps

# want CODE WORDS...: the exit code of lampwarden; output in $work/out.log
want() {
    code=$1
    shift
    status=0
    timeout 60 "$lampwarden" "$@" >"$work/out.log" 2>&1 </dev/null || status=$?
    test "$status" = "$code" || fail "exit code $status instead of $code: $*: $(cat "$work/out.log")"
}
# A line that was wrapped is one again.
says() { sed -e :a -e '$!N; s/\n  \([a-z0-9(]\)/ \1/; ta' -e 'P; D' "$work/out.log" | grep -q -- "$1" || fail "'$1' is not in: $(cat "$work/out.log")"; }

# 11.52 mol in 16 h are 200 µmol m⁻² s⁻¹: half of what 60 cm gives, 5 % of what 20 cm gives. The lamp holds 8 %.
cat >"$work/lamp.record" <<'RECORD'
curve = ( { drive = 0.0; level = 0.0; watts = 2.0; }, { drive = 0.1; level = 0.08; watts = 30.0; }, { drive = 0.5; level = 0.5; watts = 145.0; },
  { drive = 1.0; level = 1.0; watts = 300.0; } );
ppfd_full = 400.0;
drive_ceiling = 0.5;
RECORD
map() { printf '# fixture: lamp\n# height_cm: %s\n# drive: %s\n# fixture_w: %s\nx_cm,y_cm,ppfd_umol\n' "$1" "$2" "$3"
    for place in 0,0 10,0 0,10 10,10; do echo "$place,$4"; done; }
map 60 1.0 300 400 >"$work/m60.csv"
map 20 0.5 145 2000 >"$work/m20.csv" # a half by the curve: 4000 at full light
map 70 1.0 290 390 >"$work/m70.csv"
want 0 survey "$work"/m?0.csv --target 11.52 --hours 16 --step 1m --record "$work/lamp.record"
says '^→     20     8 %     30.0        320     1.000  fits'
says '^      60    50 %    145.0        200     1.000  fits'
says '^      70    51 %    148.7 .*  too weak'
says '^Choice: 20 cm needs 8 % of full light, 30 W by its dimming curve for 11.52 mol (18.4 mol: it holds no less light'
says 'it holds 8.0 % of full light and more; its drive ceiling of 0.50 leaves 50.0 %'
want 0 survey "$work"/m?0.csv --target 11.52 --hours 16 --step 1m --record "$work/lamp.record" --ceiling 300
says '^Choice: 60 cm needs 50 % of full light, 145 W by its dimming curve for 11.52 mol in 16 h.* 20 cm, is too bright'
want 0 survey "$work/m70.csv" --target 11.52 --hours 16 --record "$work/lamp.record"
says 'within the limits: 1 too weak (the fixture may run at 50 %)'
sed 's/fixture_w: 300/fixture_w: 400/' "$work/m60.csv" >"$work/other.csv"
want 0 survey "$work/other.csv" --record "$work/lamp.record"
says 'other.csv says 400 W, the curve 300 W at that level: is it this lamp'
want 0 survey "$work/m60.csv"
says '^Power is taken in proportion to light'

# The same curve in a configuration, found by the maps' own note or by name.
sed 's/ppfd_full = 420.0; heat_sensors/heat_sensors/; /curve = (/,/^    );/d' "$source/tests/data/good/least.conf" |
    sed 's|heat_sensors = \[ "heat" \];|&\n@include "lamp.record"|' >"$work/room.conf"
want 0 survey "$work"/m?0.csv --target 11.52 --hours 16 --step 1m --config "$work/room.conf"
says '^→     20     8 %     30.0 '
says '^By the curve of lamp it holds'
want 1 survey "$work/m60.csv" --config "$work/room.conf" --fixture lump
says 'no space of .*room.conf has a fixture "lump"'
want 2 survey "$maps/at60.csv" --config "$work/room.conf"
says '"# fixture: NAME"'
want 2 survey "$work/m60.csv" --config "$work/room.conf" --record "$work/lamp.record"
want 2 survey "$work/m60.csv" --fixture lamp
sed 's/level = 0.5/level = 1.5/' "$work/lamp.record" >"$work/bad.record"
want 3 survey "$work/m60.csv" --record "$work/bad.record"
says 'bad.record:1: fixtures\[0\].curve\[2\].level: 1.5 is out of range (0 … 1'
want 3 survey "$work/m60.csv" --record "$work/none.record"
says "^cannot open $work/none.record: No such file"
cp "$work/lamp.record" "$work/lamp\"s.record"
want 3 survey "$work/m60.csv" --record "$work/lamp\"s.record"
says 's.record: no @include takes a name with quotes'
want 3 survey "$work/m60.csv" --record "$(printf '%0600d' 0)"
says '^cannot open 0*: File name too long'
map 60 0.05 5 400 >"$work/dark.csv"
want 1 survey "$work/dark.csv" --record "$work/lamp.record"
says 'its drive of 0.05 is dark by the curve'

# has VERB KEY...: the answer's keys, and that numbers are numbers; nothing but one object is printed.
has() { /usr/bin/python3 - "$work/out.log" "$@" <<'CHECK' || fail "$1 --json: $(cat "$work/out.log")"; }
import json, sys

answer = json.load(open(sys.argv[1]))
assert isinstance(answer, dict)
for key in sys.argv[3:]:
    assert key in answer, (key, sorted(answer))
if sys.argv[2] == "survey":
    assert [h["height_cm"] for h in answer["heights"]] == [80, 60, 40]
    for height in answer["heights"]:
        for key in ("height_cm count mean_umol mean_se_umol area_mean_umol min_umol max_umol min_over_max min_over_mean "
                    "cv_population cv_sample within_10pct within_20pct photons_umol_s utilisation").split():
            assert isinstance(height[key], (int, float)), key
        assert isinstance(height["count"], int)
    chosen = answer["chosen"]
    assert isinstance(chosen["height"], float) and isinstance(chosen["level"], float) and "cm" in chosen["why"]
    assert answer["wish"]["curve_of"] is None or answer["wish"]["lowest_level"] == 0.08
    for spot in answer["sensor_spots"]:
        assert all(isinstance(spot[key], float) for key in ("x_cm", "y_cm", "factor", "factor_spread"))
CHECK
want 0 survey "$maps"/at?0.csv --target 8 --record "$work/lamp.record" --json
has survey heights chosen sensor_spots fall wish offers
want 0 survey "$maps"/at?0.csv --target 60 --json
/usr/bin/python3 -c '
import json, sys
chosen = json.load(open(sys.argv[1]))["chosen"]
assert chosen["height"] is None and chosen["level"] is None and "too weak" in chosen["why"]' "$work/out.log" ||
    fail "no height fits: $(cat "$work/out.log")"
want 0 sweep --from "$source/tests/data/sweep/lettuce.csv" --json
has sweep curve readings found fixture record
want 0 power "$source/etc/demo.conf" basil --json
has power levels stages best_level currency
want 0 breaker --current 1.3 --inrush 60 --json
has breaker running_a inrush_a breakers
want 0 lead --current 2.1 --length 30m --json
has lead current_a length_m leads
