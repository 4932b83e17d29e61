#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Watts and money of the demonstration's spaces: figures that Python works out anew, the price of a mol by the
# plan, and claims that physics does not allow.
. "$(dirname "$0")/common.sh"
need /usr/bin/python3
lampwarden=$build/bin/lampwarden
demo=$source/etc/demo.conf


want 0 "$lampwarden" power "$demo" basil --area 1.2mx60cm --ppf 360 --volts 230 --power-factor 0.98 --thd 20% \
    --demand-per-kw 6.58 --fixed-per-month 150 --json
/usr/bin/python3 - "$work/out.log" <<'CHECK' || fail "figures differ from Python's"
import json, math, sys

found = json.load(open(sys.argv[1]))
near = lambda a, b: math.isclose(a, b, rel_tol=1e-6)
factor = 0.98 / math.hypot(1, 0.2)
assert near(found["power_factor"], factor) and near(found["canopy_umol_s"], 420 * 0.72)
# the measured points of the demonstration's curve
curve = {0.1: 31.3, 0.16: 47.0, 0.255: 72.4, 0.355: 100.1, 0.46: 130.1, 0.57: 162.5, 0.745: 216.5, 0.91: 269.8, 1: 300}
levels = {round(row["level"], 4): row for row in found["levels"]}
assert {level for level, row in levels.items() if row["measured"]} == set(curve)
for level, watts in curve.items():
    row = levels[level]
    assert near(row["watts"], watts) and near(row["umol_per_j"], 360 * level / watts), row
    assert near(row["mol_per_kwh"], 3600 * 1000 * row["umol_per_j"] * 1e-6)
    assert near(row["canopy_umol_per_j"], 420 * 0.72 * level / watts)
    assert near(row["current_a"], watts / 230 / factor) and near(row["heat_btu_per_h"], watts * 3.412141633)
assert found["best_level"] == max(curve, key=lambda level: level / curve[level])
(herbs,) = found["stages"]
even = herbs["one_level"]
assert herbs["met"] and near(even["cost_day"], even["kwh_day"] * 0.30) and near(even["cost_365_days"], 365 * even["cost_day"])
# 365 equal days: a mol costs a day's money over a day's mol; what lands on 0.72 m², what leaves the fixtures
a_mol = even["cost_day"] / herbs["need_mol"]
assert near(herbs["cost_per_mol_m2"], a_mol) and near(herbs["cost_per_mol_canopy"], a_mol / 0.72)
assert near(herbs["cost_per_mol_lamps"], a_mol * 420 / 360)
assert near(even["bill_30_days"], 150 + even["cost_30_days"] + 6.58 * even["peak_w"] / 1000)
# 16 h less half of two linear ramps of 20 minutes; the light by the curve's straight lines within a half per cent
level = herbs["need_mol"] * 1e6 / (420 * (16 * 3600 - 1200))
assert near(herbs["level"], level)
watts = 130.1 + (162.5 - 130.1) * (level - 0.46) / (0.57 - 0.46)
assert math.isclose(even["peak_w"], watts, rel_tol=5e-3), (even, watts)
CHECK

# Cheap nights and dear evenings: the plan is cheaper than one level, and draws more at its peak.
night='{ from = "22:00"; to = "06:00"; price_per_kwh = 0.22; }'
evening='{ from = "17:00"; to = "20:00"; price_per_kwh = 0.41; }'
sed "s|price_per_kwh = 0.30;|& tariff = { rules = ( $night, $evening ); };|" "$demo" >"$work/tou.conf"
want 0 "$lampwarden" power "$work/tou.conf" basil --json
/usr/bin/python3 - "$work/out.log" <<'CHECK' || fail "the plan is not cheaper"
import json, math, sys

(herbs,) = json.load(open(sys.argv[1]))["stages"]
even, planned = herbs["one_level"], herbs["cheapest_hours"]
# lit from 06:00 to 22:00 with ramps of 20 minutes: 3 of 15 2/3 h of full light are dear
assert math.isclose(even["cost_day"] / even["kwh_day"], 0.30 + 0.11 * 3 / (16 - 1 / 3), rel_tol=1e-3)
assert planned["cost_365_days"] < 0.99 * even["cost_365_days"] and planned["peak_w"] > even["peak_w"]
CHECK
want 0 "$lampwarden" power "$work/tou.conf" lettuce --stage growing
says '^    cheapest hours '
test "$(grep -c '^  stage ' "$work/out.log")" = 1 || fail "more than the stage that was asked for"

want 0 "$lampwarden" power "$demo" basil --map "$source/tests/data/maps/at60.csv" --ppf 240
says 'Look: More photons land on the canopy'
want 0 "$lampwarden" power "$demo" lettuce --area 1.2mx60cm --ppf 1440 --volts 230 --power-factor 0.98 --demand-per-kw 6.58
says '^  100.0 %\*   600.0 100.0 %   2.400    8.64   1.008    3.63   2.66    612   2047$' # every column
/usr/bin/python3 -c 'import sys; sys.exit(max(len(line.rstrip("\n")) for line in sys.stdin) > 80)' <"$work/out.log" ||
    fail "wider than 80 columns: $(cat "$work/out.log")"
want 1 "$lampwarden" power "$demo" basil --ppf 2000
says 'an error of data entry: even a source of 660 nm without any loss gives 5.52'
want 1 "$lampwarden" power "$demo" basil --area 12x6m
says 'look at area and ppfd_full'
want 1 "$lampwarden" power "$demo" nowhere
says 'no space "nowhere" in .* (lettuce, basil, chrysanthemum)'
want 1 "$lampwarden" power "$demo" basil --stage nowhere
want 2 "$lampwarden" power "$demo" basil --area 1.2
says 'is not two sides, as 1.2x0.6m'
want 2 "$lampwarden" power "$demo" basil --thd 20%
want 2 "$lampwarden" power
want 3 "$lampwarden" power "$source/tests/data/bad/ceiling.conf" basil
grep -v 'full_watts' "$demo" | sed 's/; watts = [0-9.]*;/;/' >"$work/bare.conf"
want 1 "$lampwarden" power "$work/bare.conf" basil
says 'fixture basil: its curve has no watts'

# A picture, where gnuplot is: units on every axis, stages and lines told apart by marks and dashes.
if command -v gnuplot >/dev/null; then
    want 0 "$lampwarden" power "$demo" lettuce --ppf 1400 --area 1.2x0.6m --plot "$work/power.svg"
    for word in 'Power and efficacy of lettuce, 2 fixtures' 'level, % of full light' 'power at the wall, W' \
        'efficacy, µmol/J' 'leaving the fixtures' 'landing on the canopy' 'measured' 'stage rooting, 21 %' \
        'best at 36 %'; do
        grep -qF -- "$word" "$work/power.svg" || fail "'$word' is not in the picture"
    done
    sed '0,/drive_ceiling = 0.95/s//drive_ceiling = 0.8/' "$demo" >"$work/low.conf"
    want 0 "$lampwarden" power "$work/low.conf" lettuce --plot "$work/power.svg"
    grep -q 'drive ceiling: 93 %' "$work/power.svg" || fail "no drive ceiling in the picture"
    grep -q 'light for its watts,' "$work/power.svg" || fail "no axis where photons are not known"
    want 0 "$lampwarden" power "$demo" basil --plot -
    says 'stage herbs, 55 %'
else
    echo "gnuplot not found: pictures not tested (Debian: gnuplot-nox)"
fi
mkdir "$work/bare"
status=0
PATH=$work/bare "$lampwarden" power "$demo" basil --plot "$work/never.svg" >"$work/out.log" 2>&1 || status=$?
test "$status" = 1 || fail "exit code $status without gnuplot"
says 'gnuplot is not installed (Debian: gnuplot-nox)'
