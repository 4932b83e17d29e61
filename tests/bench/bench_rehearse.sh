#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# How many light days a rehearsal gives in a second, at the daemon's own tick of one second: of the
# whole demonstration (three spaces, four fixtures), and counted by space. CPU time of one thread.
# figures: rehearse.days_per_s rehearse.space_days_per_s
set -eu
cmake --build "$1" --target lampwarden >&2
days=20
before=$(awk '{print $16 + $17}' /proc/$$/stat)
"$1/bin/lampwarden" rehearse --config "$2/etc/demo.conf" --from 2026-11-09 --days $days --json >/dev/null
after=$(awk '{print $16 + $17}' /proc/$$/stat)
awk -v days=$days -v ticks=$((after - before)) -v hz="$(getconf CLK_TCK)" 'BEGIN {
    seconds = ticks / hz
    printf "rehearse.days_per_s %.1f 1/s\n", days / seconds
    printf "rehearse.space_days_per_s %.1f 1/s\n", 3 * days / seconds
}'
