#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Sourced with $kind = tcp or rtu: a slave of pymodbus whose answers are now and then wrong, late or
# missing, by pymodbus' own hook. The daemon lives, shows and stores nothing that was never measured, and is
# well again by itself.
. "$(dirname "$0")/common.sh"
need_slave
need sqlite3

is_lit() { coil_is 1 && test "$(register)" -gt 2000; }
is_well() {
    test "$(status ppfd_quality)" = good && test "$(status faults)" = "[]" && is_lit &&
        near "$(status ppfd_umol)" "$(awk -v mv="$(register)" 'BEGIN { print 400 * (mv - 1000) / 9000 }')" 4
}

# fault WORDS: the next answer suffers it.
fault() {
    echo "$*" >"$work/fault.new"
    mv "$work/fault.new" "$work/fault"
    wait_for 10 "an answer with '$*'" test ! -e "$work/fault"
    wait_for 30 "a well lamp after '$*'" is_well
}

start_slave "$kind" --faults "$work/fault"
write_config "$kind"
sed -i 's/every_s = 0.5;/every_s = 0.3; timeout_ms = 300; worst_reply_ms = 600;/' "$work/lamp.conf"
start_daemon
wait_for 30 "a lit, measured lamp" is_well
touch "$work/watching"
while test -e "$work/watching"; do
    "$build/bin/lampwarden" status --socket "$work/control" --json
    sleep 0.3
done >"$work/shown" 2>>"$work/cli.log" &
watcher=$!
pids="$pids $watcher"

for words in "error 1" "error 2" "error 4" "error 6" "error 11" "delayed 0.24" "delayed 0.36" "delayed 0.9" \
    empty "stray 3" "stray 9" "stray 60"; do
    fault "$words"
    gone "$daemon" && fail "the daemon ended by '$words'"
done
rm "$work/watching"
wait "$watcher"
/usr/bin/python3 - "$work/shown" <<'PYTHON' || fail "values that were never measured"
import json, sys
spaces = [json.loads(line)["spaces"][0] for line in open(sys.argv[1])]
lights = [space["ppfd_umol"] for space in spaces if space["ppfd_umol"] is not None]
heats = [space["fixtures"][0]["heat_c"] for space in spaces if space["fixtures"][0]["heat_c"] is not None]
wrong = [light for light in lights if not 0 <= light <= 402] + [heat for heat in heats if not 23.5 <= heat <= 44.5]
print(len(lights), "lights,", len(heats), "temperatures shown, wrong:", wrong)
sys.exit(bool(wrong) or not lights or not heats)
PYTHON

stop_daemon TERM || fail "a stop ended with code $?"
coil_is 0 || fail "the contact is closed after a stop"
register_is 0 || fail "the dimming line is at $(register) mV after a stop"
stored=$(sqlite3 -readonly "$work/journal.db" 'SELECT count(*) FROM minute WHERE ppfd_umol > 402 OR ppfd_umol < 0
    OR heatsink_c > 44.5 OR heatsink_c < 23.5')
test "$stored" = 0 || fail "$stored minutes in the journal were never measured"
echo "$name: passed"
