#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The grower's log from a journal on disk: lampwarden day, events and check, their exit codes and one-line troubles; and
# the journal read by programs that this project did not write (Python's sqlite3, csv and json modules).
# Usage: 15_grower_log.sh BUILD_DIR SOURCE_DIR
set -eu
lampwarden=$1/bin/lampwarden
config=$2/etc/demo.conf
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT INT TERM
journal=$work/journal.db

fail() { echo "$*"; exit 1; }

# want CODE COMMAND…: exit status, stdout in $work/out, stderr in $work/err
want() {
    code=$1
    shift
    status=0
    "$@" >"$work/out" 2>"$work/err" </dev/null || status=$?
    test $status -eq "$code" || fail "$*: exit status $status, expected $code: $(cat "$work/err")"
    case $code in
    0) ;;
    *) test -s "$work/err" || fail "$*: no sentence on stderr" ;;
    esac
}
has() { grep -qF -- "$1" "$work/$2" || fail "'$1' is not in: $(cat "$work/$2")"; }

want 0 "$lampwarden" rehearse --config "$config" --from 2026-11-02 --days 2 --seed 1 \
    --journal "$journal" --json

# --- lamps whose watts nobody says
sed -E 's/ watts = [0-9.]+;//g; s/full_watts = [0-9.]+;//' "$config" >"$work/no_watts.conf"
grep -q '[^#]*watts = ' "$work/no_watts.conf" && fail "watts are left in: $(grep -n 'watts =' "$work/no_watts.conf")"
want 0 "$lampwarden" rehearse --config "$work/no_watts.conf" --from 2026-11-02 --days 1

# --- daylight that nobody wrote down: dark, and told once
glass=$2/tests/data/good/glass.conf
want 0 "$lampwarden" rehearse --config "$glass" --days 2 --step 60
test "$(grep -c 'dark outside' "$work/err")" = 1 || fail "no daylight is not told once: $(cat "$work/err")"
has 'warning: without --daylight it is dark outside all day, also for space house' err
printf 'time,ppfd_umol\n2026-11-01T23:00Z,0\n2026-11-02T11:00Z,300\n2026-11-02T11:30Z,300\n' >"$work/sky.csv"
want 0 "$lampwarden" rehearse --config "$glass" --days 2 --step 60 --daylight "$work/sky.csv" --json
has "sky.csv ends at 2026-11-02T12:30:00+01:00: it is dark outside from 2026-11-02T" err
has ' on, first in light day 2026-11-02' err
tail -n 1 "$work/out" | grep -q '"light_day":"2026-11-03".*"daylight_mol":0.0[0-9]*,' ||
    fail "the last value is held: $(tail -n 1 "$work/out")"

# --- for people
LC_ALL=C.UTF-8 want 0 "$lampwarden" day 2026-11-02 --journal "$journal"
has 'lettuce, light day 2026-11-02 (Monday)' out
has 'basil, light day 2026-11-02 (Monday)' out
has 'chrysanthemum, light day 2026-11-02 (Monday)' out
has 'Lights on 06:00, off 22:00.' out
has '█' out
LC_ALL=C want 0 "$lampwarden" day 2026-11-02 --journal "$journal" --space basil
LC_ALL=C grep -q '[^ -~]' "$work/out" && fail "not only ASCII under LC_ALL=C"
grep -q lettuce "$work/out" && fail "--space basil shows lettuce"
want 0 "$lampwarden" day yesterday --journal "$journal"
has '2026-11-03' out
want 0 "$lampwarden" events --journal "$journal" --space lettuce --from 2026-11-02 --to 2026-11-02
test "$(grep -c 'lights on' "$work/out")" -eq 1 || fail "one dawn expected: $(cat "$work/out")"
want 0 "$lampwarden" events --journal "$journal" --from 2026-11-03T05:59+01:00 --to 2026-11-03T06:01+01:00
test "$(grep -c 'lights on' "$work/out")" -eq 3 || fail "three dawns expected: $(cat "$work/out")"

# --- troubles are one line each
want 1 "$lampwarden" day 2026-10-01 --journal "$journal"
has 'days stored: 2026-11-02 to 2026-11-04' err
test "$(wc -l <"$work/err")" -eq 1 || fail "more than one line: $(cat "$work/err")"
want 1 "$lampwarden" day --space nobody --journal "$journal"
want 1 "$lampwarden" events --space nobody --journal "$journal"
want 1 "$lampwarden" day --journal "$work/none.db"
want 1 "$lampwarden" day --journal "$config"
want 1 "$lampwarden" day --journal "$work"
want 3 "$lampwarden" day --config "$work/none.conf"
for words in 'day 2026-02-30' 'day monday' 'day 2026-11-02 2026-11-03' 'day --json --csv' 'day --space' \
    'day --nonsense' 'events word' 'events --from yesterday' 'check a b' 'check --print --document' nonsense; do
    # shellcheck disable=SC2086 # words on purpose
    want 2 "$lampwarden" $words
done
want 2 "$lampwarden"
status=0
"$lampwarden" day --journal "$journal" 2>"$work/err" >/dev/full || status=$?
test $status -eq 1 || fail "a full output is not an error: $status"
for verb in day events check; do
    want 0 "$lampwarden" $verb --help
    has "usage: lampwarden $verb" out
done

# --- check
want 0 "$lampwarden" check "$config"
has 'sound' out
want 0 "$lampwarden" check --config "$config" --print
cp "$work/out" "$work/printed.conf"
want 0 "$lampwarden" check "$work/printed.conf"
want 0 "$lampwarden" check --document
cp "$work/out" "$work/documented.conf"
want 0 "$lampwarden" check "$work/documented.conf"
printf 'site = { name = "x"; latitude = 91.0; };\n' >"$work/bad.conf"
want 3 "$lampwarden" check "$work/bad.conf"
has 'bad.conf:1: site.latitude' err
want 3 "$lampwarden" check "$work/none.conf"

# --- for programs, read by others
want 0 "$lampwarden" day 2026-11-02 --journal "$journal" --json
cp "$work/out" "$work/day.json"
want 0 "$lampwarden" day 2026-11-02 --journal "$journal" --csv
cp "$work/out" "$work/day.csv"
want 0 "$lampwarden" events --journal "$journal" --json
cp "$work/out" "$work/events.json"
python3 - "$journal" "$work" <<'CHECK'
import csv, json, sqlite3, sys
journal, work = sys.argv[1:]
db = sqlite3.connect("file:%s?mode=ro" % journal, uri=True)
ask = lambda sql: db.execute(sql).fetchone()[0]
assert ask("PRAGMA integrity_check") == "ok"
assert ask("SELECT count(*) FROM minute WHERE wall_s % 60 <> 0") == 0
assert ask("SELECT count(*) FROM (SELECT space_id, light_day FROM minute GROUP BY 1, 2 HAVING count(*) = 1440)") == 6

# target + surplus = delivered + to come + everything that is missing, in the tables and in the JSON
for row in db.execute("""SELECT target_mol + surplus_mol, delivered_mol + to_come_mol +
        coalesce((SELECT sum(mol) FROM day_missing m WHERE m.light_day = day.light_day AND m.space_id = day.space_id), 0)
        FROM day"""):
    assert abs(row[0] - row[1]) < 1e-9, row
days = [json.loads(line) for line in open(work + "/day.json")]
assert [day["space"] for day in days] == ["lettuce", "basil", "chrysanthemum"]
rows = list(csv.DictReader(open(work + "/day.csv")))
assert len(rows) == 3 * 1440
for day in days:
    assert abs(day["target_mol"] + day["surplus_mol"] - day["delivered_mol"] - day["to_come_mol"]
               - sum(day["short_mol"].values())) < 1e-6
    assert abs(sum(hour["mol"] for hour in day["hours"]) - day["delivered_mol"]) < 1e-3
    mine = [row for row in rows if row["space"] == day["space"]]
    # light integral from the minutes alone: DLI = sum of PPFD x seconds / 10^6 (identity, Purdue HO-238-W); the
    # canopy's light may differ from a minute's median in the ramps
    mol = sum(float(row["ppfd_umol"]) * 60e-6 for row in mine)
    assert abs(mol - day["delivered_mol"]) < 0.02 * day["delivered_mol"], (mol, day["delivered_mol"])
    kwh = sum(float(row["watts"]) / 60000 for row in mine)
    assert abs(kwh - day["energy_kwh"]) < 0.01 * day["energy_kwh"], (kwh, day["energy_kwh"])
events = [json.loads(line) for line in open(work + "/events.json")]
assert events == sorted(events, key=lambda event: event["time"])
assert {"time", "space", "fixture", "class", "kind", "a", "b", "text"} == set(events[0])
print("%d minutes, %d events read by others" % (len(rows), len(events)))
CHECK
