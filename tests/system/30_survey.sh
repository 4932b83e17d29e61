#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Light maps from files, as a builder keeps them: the figures of three heights against numbers that Python's
# own statistics module finds, the choice of a height, and bad files with one clear line each.
. "$(dirname "$0")/common.sh"
need /usr/bin/python3
lampwarden=$build/bin/lampwarden
maps=$source/tests/data/maps

fits() { # a terminal
    /usr/bin/python3 -c 'import sys; sys.exit(max(len(line.rstrip("\n")) for line in sys.stdin) > 80)' <"$work/out.log" ||
        fail "wider than 80 columns: $(cat "$work/out.log")"
}

want 0 "$lampwarden" survey "$maps/at60.csv" "$maps/at40.csv" "$maps/at80.csv" --target 13 --hours 16 \
    --ceiling 345 --json
/usr/bin/python3 - "$work/out.log" "$maps" <<'CHECK' || fail "figures differ from Python's"
import json, statistics, sys

survey = json.load(open(sys.argv[1]))
assert [h["height_cm"] for h in survey["heights"]] == [80, 60, 40]
for height in survey["heights"]:
    rows = [r.split(",") for r in open(f"{sys.argv[2]}/at{height['height_cm']:.0f}.csv") if r[0].isdigit()]
    light = [float(r[2]) for r in rows]
    mean = statistics.fmean(light)
    def same(key, value):
        assert abs(height[key] - value) <= 1e-8 * abs(value), (key, height[key], value)
    same("count", len(light))
    same("mean_umol", mean)
    same("mean_se_umol", statistics.stdev(light) / len(light) ** 0.5)
    same("cv_sample", statistics.stdev(light) / mean)
    same("cv_population", statistics.pstdev(light) / mean)
    same("min_over_max", min(light) / max(light))
    same("min_over_mean", min(light) / mean)
    # by the trapezoid rule: points at a wall count half, in a corner a quarter
    weights = [(0.5 if r[0] in ("0", "120") else 1) * (0.5 if r[1] in ("0", "60") else 1) for r in rows]
    area = sum(w * e for w, e in zip(weights, light)) / sum(weights)
    same("area_mean_umol", area)
    same("photons_umol_s", area * 1.2 * 0.6)
    same("utilisation", area * 1.2 * 0.6 / 780)
chosen = survey["chosen"]
assert chosen["height"] == 50 and chosen["interpolated"] and "too bright" in chosen["why"], chosen
offer = next(o for o in survey["offers"] if o["height_cm"] == 50)
assert offer["brightest_umol"] <= 345 and abs(chosen["level"] - offer["level"]) < 1e-12
assert len(survey["sensor_spots"]) == 3 and all(0.8 < s["factor"] < 1.25 for s in survey["sensor_spots"])
CHECK

want 0 "$lampwarden" survey "$maps/at40.csv" "$maps/at60.csv" "$maps/at80.csv" --target 40
says '^Choice: no height gives 40 mol in 16 h within the limits: 9 too weak\.$'
want 0 "$lampwarden" survey "$maps"/at?0.csv --target 13 --highest 40%
says '^ *40    43 % .*  too weak$'
# A terminal of 80 columns, and what nobody asked for: a dark corner may be the price of the least power.
want 0 "$lampwarden" survey "$maps"/at?0.csv --target 13
fits
says '^How even it has to be was not said (--evenness)'
want 0 "$lampwarden" survey "$maps"/at?0.csv --target 13 --evenness 30%
grep -q 'was not said (--evenness)' "$work/out.log" && fail "it was said"
awk -F, '/^[0-9]/ { print $1 "," $2 "," $3 * (1 + $1 / 900); next } { print }' "$maps/at60.csv" >"$work/askew.csv"
want 0 "$lampwarden" survey "$work/askew.csv"
says 'At 60 cm: does the fixture hang askew?'
want 2 "$lampwarden" survey
says 'it takes one file for each hanging height'
want 1 "$lampwarden" survey "$maps/at60.csv" "$maps/at60.csv"
says 'were taken at one height, 60 cm'
sed 's/^0,15,.*/0,15,nan/' "$maps/at60.csv" >"$work/nan.csv"
want 1 "$lampwarden" survey "$work/nan.csv"
says 'nan.csv:15: ppfd_umol: "nan" is not a number'
test "$(wc -l <"$work/out.log")" = 1 || fail "more than one line: $(cat "$work/out.log")"
sed 's/height_cm: 60/height: 60/' "$maps/at60.csv" >"$work/bare.csv"
want 1 "$lampwarden" survey "$work/bare.csv"
says 'a line "# height_cm: 45" is missing'

want 0 "$lampwarden" lead --current 2.1 --length 30m --mm2 1.5 --temperature 20
says '1.676     3.52'
fits
want 2 "$lampwarden" lead --current 2.1 --length 30
says 'not a length with its unit'

# 14 AWG at 75 °C has 3.14 Ω a thousand feet stranded, 3.07 solid (NEC chapter 9 table 8): 400 ft at 1.4 A, of 48 V
feet="--current 1.4 --length 200ft --awg 14 --temperature 75 --output 48"
# shellcheck disable=SC2086 # words
want 0 "$lampwarden" lead $feet
says '14 AWG stranded .* 1.758 .* 3.66 %  too much$'
# shellcheck disable=SC2086
want 0 "$lampwarden" lead $feet --solid --within 4%
says '14 AWG solid .* 1.719 .* 3.58 %$'

want 0 "$lampwarden" breaker --watts 300 --volts 230 --power-factor 0.95 --inrush 60 --breaker C16 --margin 4
says '1.373 A running, 60 A inrush'
says 'C16 .* 80  *5  *11  *5$'
says 'licensed electrician win'
want 0 "$lampwarden" breaker --current 1.3
says 'C16 .* ? *12  ≤   12$'
fits
says 'Inrush is not reckoned with'
want 0 "$lampwarden" breaker --current 1.3 --use 50%
says 'C16 .* ? *6  ≤    6$'
want 2 "$lampwarden" breaker --inrush 60
says 'needs --current, or --watts'
want 1 "$lampwarden" breaker --current 1.3 --inrush 1
says 'inrush peak of 1 is out of range'

# Two fixtures: the one that draws a tenth more for the same light costs more, and no less than the sensor errs.
for height in 40 60 80; do
    sed 's/^# height/# fixture: bars\n# height/' "$maps/at$height.csv" >"$work/a$height.csv"
    sed 's/^# height/# fixture: panel\n# height/; s/fixture_w: 300/fixture_w: 330/' "$maps/at$height.csv" >"$work/b$height.csv"
done
want 0 "$lampwarden" survey "$work"/a?0.csv "$work"/b?0.csv --target 13 --hours 16 --price 0.25
says 'bars .*least power'
says 'panel .* 18.98$'
want 0 "$lampwarden" survey "$work"/a?0.csv "$work"/b?0.csv --sensor-error 12%
says 'panel .*within error$'

# A picture, where gnuplot is: labels with units on every axis, one panel a height, no file after a failure.
if command -v gnuplot >/dev/null; then
    want 0 "$lampwarden" survey "$maps"/at?0.csv --plot "$work/maps.svg"
    for word in 'PPFD, µmol m' 'x, cm' 'y, cm' 'height above the canopy, cm' 'minimum over mean' '40 cm: ' '60 cm: ' '80 cm: '; do
        grep -q "$word" "$work/maps.svg" || fail "'$word' is not in the picture"
    done
    want 0 "$lampwarden" survey "$work"/a40.csv --plot "$work/maps.svg"
    grep -q 'height above the canopy, cm' "$work/maps.svg" && fail "a curve over one height"
    sed 's/^# fixture: bars/# fixture: bars_1 {^x}/' "$work/a40.csv" >"$work/odd.csv"
    echo 'exit status 3' >"$work/.gnuplot" # of a person's own
    want 0 env HOME="$work" "$lampwarden" survey "$work/odd.csv" --plot "$work/maps.svg"
    grep -q 'bars_1 {^x} (a line every' "$work/maps.svg" || fail "a name is not as it was given"
    want 0 "$lampwarden" survey "$maps/at60.csv" --plot "$work/maps.png"
    # a PNG by its signature and first chunk (ISO/IEC 15948, 5.2 and 11.2.2)
    test "$(head -c 16 "$work/maps.png" | od -An -c | tr -d ' \n')" = '211PNG\r\n032\n\0\0\0\rIHDR' || fail "no PNG: $(head -c 16 "$work/maps.png" | od -c)"
    want 0 "$lampwarden" survey "$maps"/at?0.csv --plot -
    says 'canopy mean'
    want 0 "$lampwarden" survey "$work"/a?0.csv "$work"/b?0.csv --plot "$work/two.svg"
    says "^panel: $work/two-2.svg$"
    test -s "$work/two-1.svg" || fail "no picture of the first"
    want 1 "$lampwarden" survey "$maps/at60.csv" --plot "$work/none/maps.png"
    says 'gnuplot says'
else
    echo "gnuplot not found: pictures not tested (Debian: gnuplot-nox)"
fi
want 1 "$lampwarden" survey "$maps/at60.csv" --plot "$work/maps.gif"
says 'a plot is a .png, a .svg, or - for the terminal'
