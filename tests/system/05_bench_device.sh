#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# lampwarden-bench against an outside Modbus client (Debian's python3-pymodbus) and against hostile frames, over TCP
# and over RTU on a pseudo terminal pair.
# Usage: 05_bench_device.sh BUILD_DIR SOURCE_DIR
set -eu
bench=$1/bin/lampwarden-bench
client=$2/tests/system/bench_client.py
/usr/bin/python3 -c 'import pymodbus, serial' 2>/dev/null ||
    { echo "skipped: no python3-pymodbus or python3-serial"; exit 77; }
command -v socat >/dev/null || { echo "skipped: no socat"; exit 77; }
work=$(mktemp -d)
pids=
trap 'kill $pids 2>/dev/null || true; wait; rm -rf "$work"' EXIT INT TERM

fail() { echo "$*"; exit 1; }

# await SECONDS COMMAND…: until the command succeeds
await() {
    left=$(($1 * 20))
    shift
    until "$@"; do
        left=$((left - 1))
        test $left -gt 0 || fail "gave up waiting for: $*"
        sleep 0.05
    done
}

# at 600 times real time an hour is 6 s
printf '%s\n' '10min 40min ppfd-nan 0' '1h10min 40min ppfd-silent 0' >"$work/script"

# --- arguments
for bad in '--tcp 0.0.0.0:0' '--tcp 127.0.0.1' '--pace 0' '--pace nan' '--layout 1,,2' '--seed 1x' '--nonsense 1' \
    '--full-umol 1,5' '--parity maybe' 'word' "--script $work/none"; do
    # shellcheck disable=SC2086 # words on purpose
    "$bench" $bad >"$work/out" 2>"$work/err" </dev/null && fail "accepted: $bad"
    test $? -eq 2 || fail "$bad: exit status is not 2"
    test -s "$work/err" || fail "$bad: no sentence"
done
"$bench" --help | grep -qs 'holding register 0' || fail "--help is not helpful"

# --- TCP
"$bench" --tcp 127.0.0.1:0 --layout 2,1 --pace 600 >"$work/tcp" 2>&1 &
tcp=$!
pids="$pids $tcp"
await 10 grep -qs '^ready on 127.0.0.1:' "$work/tcp"
port=$(sed -n 's/^ready on 127.0.0.1://p' "$work/tcp")
"$bench" --tcp "127.0.0.1:$port" 2>"$work/err" && fail "two on one port"
test $? -eq 1 || fail "port in use: exit status is not 1"
/usr/bin/python3 "$client" tcp "$port"
kill -0 $tcp || fail "the device died"
kill -TERM $tcp
wait $tcp || fail "stop by SIGTERM: exit status $?"

# --- faults by script
"$bench" --tcp 127.0.0.1:0 --pace 600 --script "$work/script" >"$work/faults" 2>&1 &
faults=$!
pids="$pids $faults"
await 10 grep -qs '^ready on 127.0.0.1:' "$work/faults"
/usr/bin/python3 "$client" faults "$(sed -n 's/^ready on 127.0.0.1://p' "$work/faults")"
kill -TERM $faults
wait $faults || fail "stop by SIGTERM: exit status $?"

# --- RTU
socat "PTY,link=$work/master,raw,echo=0" "PTY,link=$work/slave,raw,echo=0" &
pids="$pids $!"
await 10 test -e "$work/slave" -a -e "$work/master"
"$bench" --rtu "$work/slave" --baud 19200 --parity none --stop 2 >"$work/rtu" 2>&1 &
rtu=$!
pids="$pids $rtu"
await 10 grep -qs "^ready on $work/slave" "$work/rtu"
/usr/bin/python3 "$client" rtu "$work/master"
kill -INT $rtu 2>/dev/null || fail "the device died"
wait $rtu || fail "stop by SIGINT: exit status $?"
