#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# A reload is whole or not at all: bad files change nothing and are reported with file and line.
. "$(dirname "$0")/common.sh"
need_slave

is_lit() { coil_is 1 && test "$(register)" -gt 2000; }
target_is() { near "$(status target_mol)" "$1" 0.001; }
said() { tail -n "+$lines" "$work/daemon.log" | grep -q "$1"; }

has_warning() {
    "$build/bin/lampwarden" events --journal "$work/journal.db" 2>>"$work/cli.log" |
        grep -q ' \* .*lamp.conf:[0-9]*: warning: .* 70.0 mol asked, '
}

# reload WORDS: signals and waits until the log says it.
reload() {
    lines=$(($(wc -l <"$work/daemon.log") + 1))
    kill -HUP "$daemon"
    wait_for 15 "'$1' in the log after a reload" said "$1"
}

start_slave tcp
write_config tcp
cp "$work/lamp.conf" "$work/good.conf"
start_daemon
wait_for 30 "light" is_lit

# A wrong value, an unknown key, no syntax, an include, nothing, noise.
sed 's/target_mol = 8.0/target_mol = -3.0/' "$work/good.conf" >"$work/lamp.conf"
reload 'lamp.conf:[0-9]*: .*target_mol'
sed 's/dawn_min/dawm_min/' "$work/good.conf" >"$work/lamp.conf"
reload 'lamp.conf:[0-9]*: .*dawm_min'
sed 's/stages = (/stages = ((/' "$work/good.conf" >"$work/lamp.conf"
reload 'lamp.conf:[0-9]*'
: >"$work/lamp.conf"
reload 'lamp.conf'
head -c 3000 /dev/urandom >"$work/lamp.conf"
reload 'lamp.conf'
rm "$work/lamp.conf"
reload 'lamp.conf'
is_lit || fail "a bad reload put the light out"
target_is 8 || fail "a bad reload changed the target to $(status target_mol)"
test "$(closings)" = 1 || fail "a bad reload moved the contact"

# A good one takes over without touching the contact.
sed 's/target_mol = 8.0/target_mol = 6.0/' "$work/good.conf" >"$work/lamp.conf"
kill -HUP "$daemon"
wait_for 15 "the new target" target_is 6
wait_for 15 "light after a good reload" is_lit
test "$(closings)" = 1 || fail "a good reload moved the contact"

# An impossible target is taken, and its warning told: in the answer and in the journal.
sed 's/target_mol = 8.0/target_mol = 70.0/' "$work/good.conf" >"$work/lamp.conf"
"$build/bin/lampwarden" reload --socket "$work/control" >"$work/answer" || fail "the reload failed"
grep -q '^! .*lamp.conf:[0-9]*: warning: .* 70.0 mol asked, ' "$work/answer" ||
    fail "no warning in the answer: $(cat "$work/answer")"
# A hand command right behind it waits for its turn.
"$build/bin/lampwarden" hold lettuce 30% --for 1min --socket "$work/control" >"$work/answer" 2>&1 ||
    fail "no hold behind a reload: $(cat "$work/answer")"
grep -q 'power limit of all spaces' "$work/answer" && fail "a hold tells of a limit that is none"
"$build/bin/lampwarden" resume lettuce --socket "$work/control" >"$work/answer"
wait_for 15 "the warning as an event" has_warning
sed 's/target_mol = 8.0/target_mol = 6.0/' "$work/good.conf" >"$work/lamp.conf"
reload 'reloaded'

# Under a power limit a hand is told of it.
sed -i 's/site = {/site = { power = { limit_w = 5000.0; };/' "$work/lamp.conf"
reload 'reloaded'
"$build/bin/lampwarden" hold lettuce 30% --for 1min --socket "$work/control" >"$work/answer"
grep -q 'the power limit of all spaces and light ceilings still rule' "$work/answer" ||
    fail "no power limit in the answer: $(cat "$work/answer")"
"$build/bin/lampwarden" resume lettuce --socket "$work/control" >"$work/answer"

# Another start of the light day goes on with the same one.
before=$(status delivered_mol)
sed -i "s/light_day_start = \"[0-9:]*\"/light_day_start = \"$(time_of_day '4 hours ago')\"/" "$work/lamp.conf"
reload 'reloaded; lettuce: its light days start at [0-9:]* from the next one on, not at '
after=$(status delivered_mol)
near "$after" "$before" 0.2 || fail "another start of the light day made $before mol to $after"
test "$(closings)" = 1 || fail "another start of the light day moved the contact"
stop_daemon TERM || fail "the stop ended with code $?"
echo "$name: passed"
