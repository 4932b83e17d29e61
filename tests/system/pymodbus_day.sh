#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Sourced with $kind = tcp or rtu: one lamp's day against a slave that pymodbus serves. Lit inside the
# window, measured, dark after a stop, and dark after kill -9 and the stop step.
. "$(dirname "$0")/common.sh"
need_slave

# The lamp of the slave: 400 umol at 10 V, nothing below 1 V.
light_agrees() {
    expected=$(awk -v mv="$(register)" 'BEGIN { print 400 * (mv - 1000) / 9000 }')
    near "$(status ppfd_umol)" "$expected" 4
}
is_lit() { coil_is 1 && test "$(register)" -gt 2000; }

start_slave "$kind"
write_config "$kind"

start_daemon
{ coil_is 0 && register_is 0; } ||
    fail "outputs were not safe when it said READY: coil $(coil), $(register) mV"
wait_for 30 "a lit lamp inside the window" is_lit
wait_for 20 "the measured light in the status" light_agrees
# 8 mol in 10 of 12 h at 400 umol: between half and two thirds of full light
near "$(status level)" 0.58 0.1 || fail "level $(status level), expected about 0.58"
near "$(status target_mol)" 8 0.001 || fail "target $(status target_mol) mol, expected 8"

stop_daemon TERM || fail "a stop ended with code $?"
coil_is 0 || fail "the contact is closed after a stop"
register_is 0 || fail "the dimming line is at $(register) mV after a stop"

start_daemon
wait_for 30 "light after the second start" is_lit
kill -KILL "$daemon"
wait_for 5 "the death of the daemon" gone "$daemon"
is_lit || fail "the slave should hold its outputs when the daemon is gone"
"$build/bin/lampwarden-make-safe" "$work/run/safe-list" >>"$work/make-safe.log" 2>&1 ||
    fail "the stop step ended with code $?"
coil_is 0 || fail "the contact is closed after the stop step"
register_is 0 || fail "the dimming line is at $(register) mV after the stop step"
echo "$name: passed"
