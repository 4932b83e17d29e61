#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# lampwarden why: of a rehearsed day with a hot fixture and a lost sensor, minute by minute beside the journal's own columns; of
# minutes that are not there; of the running daemon, and of the newest minute when it is gone.
# Usage: 39_why.sh BUILD_DIR SOURCE_DIR
. "$(dirname "$0")/common.sh"
need /usr/bin/python3
why() { "$build/bin/lampwarden" why "$@" >"$work/why" 2>"$work/cli.log"; }
has() { tr -s '\n ' ' ' <"$work/why" | grep -qF -- "$1" || fail "'$1' is not in: $(cat "$work/why")"; }
says() { grep -qF -- "$1" "$work/cli.log" || fail "'$1' is not in: $(cat "$work/cli.log")"; }

# A bench in the middle of its day, whatever the time is: the rehearsed yesterday has the same hours.
printf '8h 2h heat-step 0 45\n11h 30min ppfd-silent 0\n' >"$work/faults"
"$build/bin/lampwarden" rehearse --config "$source/etc/demo.conf" --from 2026-11-09 --days 1 --step 5 \
    --faults "$work/faults" --journal "$work/journal.db" >/dev/null || fail "the rehearsal"
day() { why "$@" --journal "$work/journal.db" || fail "why $*: $(cat "$work/cli.log")"; }

day 09:45 --space lettuce
has 'At 09:45 lettuce burned at'
has 'lettuce_a at'
has ': heat foldback allowed no more; the plan asked for'
has 'foldback begins at 58 °C'
has 'So it stood at 09:45:55;'
awk 'length($0) > 90 { exit 1 }' "$work/why" || fail "lines too long for a terminal"
day "2026-11-09T03:00" --space basil
has 'At 03:00 basil was dark: it was night until 06:00.'
day 2026-11-09 11:15 --space lettuce
has 'PPFD: no reading'
day 2026-11-09T12:15+02:00 --space lettuce
has 'lettuce, 2026-11-09 11:15 +01:00'
day today 09:45
test "$(grep -c '^At 09:45' "$work/why")" -eq 3 || fail "not every space: $(cat "$work/why")"

why yesterday 10:00 --journal "$work/journal.db" && fail "a minute that was never stored"
says 'is not stored; stored are 2026-11-09T00:00'
why noon --journal "$work/journal.db"
test $? -eq 2 || fail "a wrong time is no wrong usage"
says '"noon" is no time: write 14:05'
why 10:00 --space nobody --journal "$work/journal.db" && fail "a space that there is not"

# Every fortieth minute: the smallest level that a rule allowed is the level, and the journal's own columns agree.
for minute in $(seq 5 40 1439); do
    time=$(printf '%02d:%02d' $((minute / 60)) $((minute % 60)))
    "$build/bin/lampwarden" why "$time" --space lettuce --journal "$work/journal.db" --json
done >"$work/all.json" 2>"$work/cli.log" || fail "$(cat "$work/cli.log")"
/usr/bin/python3 - "$work/all.json" "$work/journal.db" <<'CHECK' || fail "the minutes"
import json, sqlite3, sys
answers = [json.loads(line) for line in open(sys.argv[1])]
assert len(answers) == 36, len(answers)
rows = dict(sqlite3.connect(sys.argv[2]).execute(
    "SELECT strftime('%H:%M', wall_s + 3600, 'unixepoch'), level FROM minute JOIN space ON space.id = space_id WHERE name = 'lettuce'"))
seen = set()
for answer in answers:
    allowed = [rule["allowed"] for rule in answer["rules"] if rule["allowed"] is not None]
    assert abs(min(allowed) - answer["asked_level"]) < 1e-9, answer
    assert sum(rule["rules"] for rule in answer["rules"]) == 1
    for fixture in answer["fixtures"]:
        seen.add(fixture["limiter"])
        own = [rule["allowed"] for rule in fixture["rules"] if rule["allowed"] is not None]
        if fixture["pace"] == "there":
            assert abs(min(own + [fixture["asked_level"]]) - fixture["level"]) < 2e-4, fixture
    assert abs(answer["level_mean"] - rows[answer["time"][11:16]]) < 1e-6
    assert abs(answer["level"] - answer["level_mean"]) < 0.15, answer
assert {"heat", "plan"} <= seen, seen
CHECK

# The daemon itself, and when it is gone the newest minute of its journal.
start_bench --layout 2,1,1 --seed 1
write_demo -e "s|$work/journal.db|$work/live.db|"
start_daemon
is_explained() { why --socket "$work/control" --space basil && grep -q '^Now basil' "$work/why"; }
wait_for 20 "an explanation of now" is_explained
has 'Now basil '
has 'what it saw'
why --socket "$work/control" --space nobody && fail "the daemon knows a space that there is not"
says "there is no space 'nobody'"
nobody=$(printf 'basi\377') # no UTF-8, so no JSON: it must not become "all spaces"
why --socket "$work/control" --space "$nobody" && fail "why of a name that is no text"
says "there is no space 'basi?'"
"$build/bin/lampwarden" status --socket "$work/control" --space "$nobody" >"$work/said" 2>&1 && fail "status of a name that is no text"
"$build/bin/lampwarden" plan --socket "$work/control" --space "$nobody" >"$work/said" 2>&1 && fail "plan of a name that is no text"
has_ticked() { "$build/bin/lampwarden" status --json --socket "$work/control" | grep -qE '"ticks":([6-9]|[0-9][0-9])'; }
wait_for 20 "some seconds of a minute" has_ticked
kill -TERM "$daemon"
wait_for 20 "the daemon's end" gone "$daemon"
why --socket "$work/control" --config "$work/lamp.conf" || fail "no newest minute: $(cat "$work/cli.log")"
says 'the newest minute of the journal'
has 'At '
echo "36 minutes, the daemon and its last minute are explained"
