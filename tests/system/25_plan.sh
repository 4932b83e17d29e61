#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# lampwarden plan of the running daemon: the rest of today hour by hour, the finished day from the journal, the same in
# JSON, and what it says when there is nothing to show.
# Usage: 25_plan.sh BUILD_DIR SOURCE_DIR
. "$(dirname "$0")/common.sh"
plan() { "$build/bin/lampwarden" plan --socket "$work/control" "$@" >"$work/plan" 2>>"$work/cli.log"; }
has() { grep -q -- "$1" "$work/plan" || fail "'$1' is not in: $(cat "$work/plan")"; }

plan && fail "a plan without a daemon: $(cat "$work/plan")"
grep -q "plan: " "$work/cli.log" || fail "no sentence without a daemon"

start_bench --layout 2,1,1 --seed 1

# The demonstration, its lights on since an hour whatever the time is, the second hour from now a dear one, and a stage that has
# yet to begin; its first days rehearsed into the journal.
tariff="rules = ( { from = \"$(date -u -d '2 hours' +%H:00)\"; to = \"$(date -u -d '3 hours' +%H:00)\"; price_per_kwh = 0.90; } );"
write_demo -e "s/currency = \"EUR\";/& tariff = { $tariff };/" \
    -e "/stages = \[ \"short_days\"/,/start =/s/start = \"[0-9-]*\"/start = \"$(date -u -d '3 days' +%F)\"/"
"$build/bin/lampwarden" rehearse --config "$work/lamp.conf" --from "$(date -u -d '3 days ago' +%F)" --days 2 --step 10 \
    --journal "$work/journal.db" --json >"$work/rehearsed" || fail "the rehearsal"
start_daemon
has_hours() { plan --space lettuce && grep -q '^  hour' "$work/plan"; }
wait_for 20 "a plan of the lettuce" has_hours

has '^lettuce: '
has '^  stage      rooting, day 5 of 14; light day '
has 'mol so far, .* to come: .* mol expected$'
has '^  hour         level  lamp mol  EUR/kWh     EUR  why$'
has " 0\.900 .*lowest level: cheaper hours$"
has ' 0\.300 .*usual price$\| 0\.300 .*cheap hour$'
has '^  together  '
has 'at one level would cost .* EUR, this plan '
tr -s '\n ' ' ' <"$work/plan" | grep -q ' of 10.00 mol; lamp light cost [^;]* EUR, the cheapest possible in hindsight [^;]* x), one level' ||
    fail "no word on the day before"
awk 'length($0) > 80 { exit 1 }' "$work/plan" || fail "more than 80 columns"
grep -q basil "$work/plan" && fail "--space lettuce shows basil"
LC_ALL=C grep -q '[^ -~]' "$work/plan" && fail "not only ASCII"
plan
has '^basil: '
has '^chrysanthemum: dark: the first stage begins in 3 days$'
plan --space nobody && fail "a space that there is not"
grep -q "there is no space 'nobody'" "$work/cli.log" || fail "no sentence about a space that there is not"

plan --json
/usr/bin/python3 - "$work/plan" <<'CHECK' || fail "the JSON"
import datetime, json, sys
plan = json.load(open(sys.argv[1]))
lettuce, basil, chrysanthemum = plan["spaces"]
assert chrysanthemum["hours"] == [] and chrysanthemum["stage"] is None
for space in (lettuce, basil):
    hours = space["hours"]
    at = [(datetime.datetime.fromisoformat(h["from"]), datetime.datetime.fromisoformat(h["to"])) for h in hours]
    assert all(a[1] == b[0] for a, b in zip(at, at[1:])), at
    assert all((to - begin).total_seconds() == h["length_s"] for (begin, to), h in zip(at, hours))
    for key in ("lamp_mol", "daylight_mol", "energy_kwh", "cost"):
        assert abs(sum(h[key] for h in hours) - space[key]) < 1e-6, key
    assert abs(space["delivered_mol"] + space["to_come_mol"] - space["expected_mol"]) < 1e-6
    # energy and money by hand: kWh times the mean price, which stands still within nearly every hour
    assert abs(sum(h["energy_kwh"] * h["price_per_kwh"] for h in hours) - space["cost"]) < 0.05 * space["cost"]
assert lettuce["even_cost"] > lettuce["cost"]
last = lettuce["last_day"]
assert last["target_mol"] == 10 and last["missing_mol"] < 0.05
assert 0.995 * last["bound_cost"] <= last["lamp_cost"] <= last["even_cost"], last
CHECK
echo "$name: $(grep -c . "$work/plan") line of JSON, the plan of three spaces"
