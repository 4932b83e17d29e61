#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The figures of light maps beside two programs that others wrote for statistics: GNU datamash (mean, both
# standard deviations, least and most) and numpy (weighted plane, line of logarithms with its error, trapezoid rule).
. "$(dirname "$0")/common.sh"
need /usr/bin/python3 datamash
/usr/bin/python3 -c 'import numpy' 2>/dev/null || skip "numpy is missing (Debian: python3-numpy)"
maps=$source/tests/data/maps

# Three maps of grids to the walls, and one with holes and a point read twice, which are one point then.
sed 's/^15,15,.*/15,15,/; s/^90,45,.*/90,45,/; s/^0,0,.*/0,0,150\n0,0,160/; s/height_cm: 60/height_cm: 61/' \
    "$maps/at60.csv" >"$work/at61.csv"
timeout 60 "$build/bin/lampwarden" survey "$maps/at40.csv" "$maps/at60.csv" "$maps/at80.csv" --json >"$work/out.json" ||
    fail "no figures"
timeout 60 "$build/bin/lampwarden" survey "$work/at61.csv" --json >"$work/holes.json" || fail "no figures with holes"
for height in 40 60 80 61; do
    file=$maps/at$height.csv
    test -f "$file" || file=$work/at$height.csv
    grep '^[0-9].*,.*,[0-9]' "$file" | datamash --format '%.12g' --sort -t, groupby 1,2 mean 3 |
        datamash --format '%.12g' -t, count 3 mean 3 sstdev 3 pstdev 3 min 3 max 3 | sed "s/^/$height,/"
done >"$work/datamash.csv"
test "$(wc -l <"$work/datamash.csv")" = 4 || fail "datamash says $(cat "$work/datamash.csv")"

/usr/bin/python3 - "$work" "$maps" <<'CHECK' || fail "figures differ"
import csv, json, sys
import numpy as np

work, maps = sys.argv[1:]
survey = json.load(open(f"{work}/out.json"))
heights = survey["heights"] + json.load(open(f"{work}/holes.json"))["heights"]
heights = {round(h["height_cm"]): h for h in heights}

def same(what, found, wanted, within=1e-8):
    assert abs(found - wanted) <= within * max(abs(wanted), 1e-3), (what, found, wanted)

for row in csv.reader(open(f"{work}/datamash.csv")):
    height = heights[int(row[0])]
    count, mean, sample, population, least, most = map(float, row[1:])
    same("count", height["count"], count)
    same("mean", height["mean_umol"], mean)
    same("standard error", height["mean_se_umol"], sample / count ** 0.5)
    same("cv_sample", height["cv_sample"], sample / mean)
    same("cv_population", height["cv_population"], population / mean)
    same("least", height["min_umol"], least)
    same("most", height["max_umol"], most)
    same("min over max", height["min_over_max"], least / most)
    same("min over mean", height["min_over_mean"], least / mean)
assert heights[61]["count"] == 43 and heights[61]["holes"] == 2 and heights[61]["repeated"] == 1

for height in (40, 60, 80):
    rows = [list(map(float, r.split(","))) for r in open(f"{maps}/at{height}.csv") if r[0].isdigit()]
    x, y, light = np.array(rows).T
    found = heights[height]
    columns, lines = np.unique(x), np.unique(y)
    grid = light.reshape(len(lines), len(columns))
    area = np.trapz(np.trapz(grid, columns, axis=1), lines) / (x.max() * y.max())
    same("area mean", found["area_mean_umol"], area)
    weights = np.where((x == 0) | (x == x.max()), 0.5, 1) * np.where((y == 0) | (y == y.max()), 0.5, 1)
    same("area mean by weights", area, np.average(light, weights=weights))
    for key, band in (("within_10pct", 0.1), ("within_20pct", 0.2)):
        near = np.abs(light / light.mean() - 1) <= band
        same(key, found[key], np.average(near, weights=weights))
    terms = np.column_stack([np.ones_like(x), x / x.max(), y / y.max()]) * np.sqrt(weights)[:, None]
    plane = np.linalg.lstsq(terms, light * np.sqrt(weights), rcond=None)[0]
    same("across", found["across"], plane[1] / area, 1e-7)
    same("along", found["along"], plane[2] / area, 1e-7)

cm = np.array([h["height_cm"] for h in survey["heights"]])
mean = np.array([h["area_mean_umol"] for h in survey["heights"]])
(slope, at_one), covariance = np.polyfit(np.log(cm / 100), np.log(mean), 1, cov=True)
same("exponent", survey["fall"]["exponent"], -slope)
same("its error", survey["fall"]["exponent_se"], covariance[0, 0] ** 0.5, 1e-6)
same("at one metre", survey["fall"]["at_one_m_umol"], np.exp(at_one))
CHECK
