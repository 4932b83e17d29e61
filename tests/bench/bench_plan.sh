#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The light plan through the daemon's own rehearsal, on every year of daylight in the data folder
# (LAMPWARDEN_DATA, or ../shared/data beside the sources; without it indoors alone), at steps of BENCH_STEP seconds
# (10): cost over the cheapest possible in hindsight, missed days (below 98 % though feasible), lamp-made surplus, starts
# a day, and light short of the target, mol in all the year: for such a day the bound is that of the light it got. The
# bound is found apart from the daemon. A place is SITE.TARIFF.BEGIN; BENCH_PLACES, a pattern of the shell, chooses some. The
# first day and days with a long gap do not count. plan.hindsight.* is what the daemon itself calls the cheapest possible
# (bound_cost), over that bound.
# figures: plan.ratio.* plan.missed.* plan.surplus.* plan.starts.* plan.short.* plan.hindsight.*
set -eu
cmake --build "$1" --target lampwarden bench_plan >&2
lampwarden=$1/bin/lampwarden
step=${BENCH_STEP:-10} places=${BENCH_PLACES:-*}
status=0
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
"$1/tests/bench_plan" "$2" "$work" >"$work/places"

# One line a day: cost lamp surplus delivered target operations bound
fields() {
    sed -E 's/[{}"]//g' | awk -F, '{
        split("", of)
        for (i = 1; i <= NF; i++) { at = index($i, ":"); of[substr($i, 1, at - 1)] = substr($i, at + 1) }
        print of["cost"], of["lamp_mol"], of["surplus_mol"], of["delivered_mol"], of["target_mol"],
            of["switch_operations"], of["bound_cost"]
    }'
}

while read -r name from days daylight; do
    # shellcheck disable=SC2254  # a pattern
    case $name in
    $places) ;;
    *) continue ;;
    esac
    set -- rehearse --config "$work/$name.conf" --from "$from" --days "$days" --step "$step" --json
    test "$daylight" = - || set -- "$@" --daylight "$work/$daylight"
    if ! "$lampwarden" "$@" </dev/null >"$work/json"; then
        status=1
        continue
    fi
    fields <"$work/json" >"$work/days"
    paste -d ' ' "$work/$name.bounds" "$work/days" >"$work/both"
    awk -v place="$name" -v days="$days" 'NF != 12 { print place ": day " NR " is missing" >"/dev/stderr"; exit 1 }
    $1 {
        cost += $6; surplus += $8 < $7 ? $8 : $7; starts += $11 / 2; counted++
        bound += $4
        if ($12 != "null") { own += $12; apart += $4 }
        if ($2 && $3 && $9 < $10) { missed += $9 < 0.98 * $10; short += $10 - $9; bound -= ($10 - $9) * $5 }
    }
    END {
        if (NR != days || counted == 0 || bound <= 0) { print place ": not the whole year" >"/dev/stderr"; exit 1 }
        printf "plan.ratio.%s %.4f -\n", place, cost / bound
        printf "plan.missed.%s %d days\n", place, missed
        printf "plan.surplus.%s %.1f mol\n", place, surplus
        printf "plan.starts.%s %.2f /day\n", place, starts / counted
        printf "plan.short.%s %.2f mol\n", place, short
        if (apart > 0) printf "plan.hindsight.%s %.4f -\n", place, own / apart
    }' "$work/both" || status=1
done <"$work/places"
exit $status
