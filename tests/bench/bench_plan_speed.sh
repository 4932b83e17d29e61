#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# A rehearsed year of one space under an invented sun and a tariff of three prices, in CPU time of one thread:
# year_s on ticks of 60 and of 1 s; year_ratio beside the bare tick, the same lamp indoors at one price, where nothing is
# planned; cpu_per_day_s what plan and sky add to a real day on the daemon's own tick of a second.
# figures: plan.year_s.step_60 plan.year_s.step_1 plan.year_ratio.step_60 plan.year_ratio.step_1 plan.cpu_per_day_s
set -eu
cmake --build "$1" --target lampwarden bench_plan >&2
lampwarden=$1/bin/lampwarden
days=364
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
LAMPWARDEN_DATA=$work "$1/tests/bench_plan" "$2" "$work" >/dev/null 2>&1
sed 's/sees_daylight = false/sees_daylight = true/; s/utc_offset/latitude = 52.0; longitude = 0.0; utc_offset/' \
    "$work/indoor.tou.06.conf" >"$work/sun.conf"

# Half an hour a row: half a sine from 8 h in winter to 16 h in summer, and another share of it every hour.
awk -v days=$((days + 1)) 'BEGIN {
    print "time,ppfd_umol"
    for (row = 0; row < 48 * days; row++) {
        day = int(row / 48)
        season = -cos(6.2832 * (day + 10) / 365)
        if (row % 2 == 0) { noise = (noise * 16807 + 11) % 2147483647; cloud = 0.25 + 0.75 * noise / 2147483647 }
        up = (row % 48 / 2 - 12) / (6 + 2 * season)
        umol = up > -1 && up < 1 ? (450 + 300 * season) * cos(1.5707 * up) * cloud : 0
        print strftime("%Y-%m-%dT%H:%M:%SZ", 1704067200 + 1800 * row, 1) "," umol
    }
}' >"$work/sun.csv"

# rehearse STEP CONFIG [ARGUMENT…]: cpu_s is the CPU time of the year.
rehearse() {
    step=$1 config=$2
    shift 2
    before=$(awk '{ print $16 + $17 }' /proc/$$/stat)
    "$lampwarden" rehearse --config "$work/$config.conf" --from 2024-01-01 --days $days --step "$step" --json "$@" \
        >"$work/json"
    after=$(awk '{ print $16 + $17 }' /proc/$$/stat)
    test "$(wc -l <"$work/json")" -eq $days
    cpu_s=$(awk -v ticks=$((after - before)) -v hz="$(getconf CLK_TCK)" 'BEGIN { print ticks / hz }')
}

for step in 60 1; do
    rehearse "$step" sun --daylight "$work/sun.csv"
    year=$cpu_s
    rehearse "$step" indoor.flat.06
    awk -v step="$step" -v year="$year" -v bare="$cpu_s" -v days=$days 'BEGIN {
        printf "plan.year_s.step_%d %.2f s\n", step, year
        printf "plan.year_ratio.step_%d %.2f -\n", step, year / bare
        if (step == 1) printf "plan.cpu_per_day_s %.4f s\n", (year - bare) / days
    }'
done
