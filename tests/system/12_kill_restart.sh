#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# kill -9 at random moments: the light integral goes on where it was, the contact keeps its minimum
# off time over every restart, and no lamp flashes.
. "$(dirname "$0")/common.sh"
need_slave

seed=${LAMPWARDEN_SEED:-$(date +%s)}
echo "$name: LAMPWARDEN_SEED=$seed"
min_off=3.0
start_slave tcp
write_config tcp

# draw HIGHEST: the next number of the sequence, 0 … HIGHEST, in $drawn. In a $(…) it would never move on.
draw() {
    seed=$(((seed * 1103515245 + 12345) % 2147483648))
    drawn=$((seed / 65536 % ($1 + 1)))
}
has_mol() { test -n "$(status delivered_mol)"; }

mol=0
for round in 1 2 3 4 5; do
    rm -f "$work/run/starts" # many kills in ten minutes are another story: light waits then
    start_daemon
    wait_for 20 "a status" has_mol
    now=$(status delivered_mol)
    # The state is written every second and a second of full light is 0.0004 mol.
    awk -v before="$mol" -v now="$now" 'BEGIN { exit !(now >= before - 0.001) }' ||
        fail "restart $round fell back from $mol to $now mol"
    draw 99
    sleep "$((6 + drawn / 10)).$((drawn % 10))" # light comes after about 5 s
    mol=$(status delivered_mol)
    test -n "$mol" || fail "no status before the kill"
    kill -KILL "$daemon"
    wait_for 5 "the death of the daemon" gone "$daemon"
done
awk -v mol="$mol" 'BEGIN { exit !(mol > 0.0005) }' || fail "no light was counted: $mol mol"

# Openings and closings as the slave saw them; repeated writes of the same state are no movement.
awk -v least="$min_off" '
    $2 == "coil" && $4 != state {
        if ($4 == 1 && NR > 1 && $1 - opened < least - 0.3) {
            printf "closed %.2f s after it opened at %.2f s\n", $1 - opened, opened
            bad = 1
        }
        if ($4 == 1 && mv > 1500) { printf "closed at %d mV at %.2f s\n", mv, $1; bad = 1 }
        if ($4 == 0) opened = $1
        state = $4
    }
    $2 == "register" { mv = $4 }
    END { exit bad }' "$work/dump" >"$work/contact.log" || fail "the contact's times were not kept"
test "$(closings)" -ge 2 || fail "the lamp was hardly ever lit: $(closings) closings"
echo "$name: passed, $mol mol over 5 kills, $(closings) closings"
