#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The stop step: opens what a killed daemon left closed, shares none of the libraries that may have killed it,
# ends in time when a device hangs, and tells by its exit code whether all is safe.
. "$(dirname "$0")/common.sh"
need_slave
need readelf
make_safe=$build/bin/lampwarden-make-safe

is_lit() { coil_is 1 && test "$(register)" -gt 2000; }

# want CODE COMMAND...: the exit code; output in $work/out.log
want() {
    code=$1
    shift
    status=0
    "$@" >"$work/out.log" 2>&1 || status=$?
    test "$status" = "$code" || fail "exit code $status instead of $code: $*: $(cat "$work/out.log")"
}

says() { grep -q -- "$1" "$work/out.log" || fail "'$1' is not in: $(cat "$work/out.log")"; }

# Nothing but the drivers' own libraries, and a sanitizer's in this build.
readelf -d "$make_safe" >"$work/needed.log" || fail "readelf"
sed -n 's/.*(NEEDED).*\[\(.*\)\]/\1/p' "$work/needed.log" |
    grep -Ev '^(libc|libm|libpthread|libgpiod|libmodbus|libasan|libubsan|libtsan|ld-linux[^.]*)\.so' >"$work/foreign" &&
    fail "the stop step needs $(cat "$work/foreign")"
grep -q 'libc\.so' "$work/needed.log" || fail "no libraries were seen: $(cat "$work/needed.log")"

want 3 "$make_safe" "$work/none"
grep -q "$work/none" "$work/out.log" || fail "the missing list is not named"
echo "lampwarden-safe-list 1" >"$work/cut"
want 3 "$make_safe" "$work/cut"
want 2 "$make_safe" --nonsense
want 2 "$make_safe" a b
want 0 "$make_safe" --help
want 0 "$make_safe" --version

# Listens, and its program never takes a connection, let alone answers.
/usr/bin/python3 -c 'import signal, socket
s = socket.create_server(("127.0.0.1", 0))
print(s.getsockname()[1], flush=True)
signal.pause()' >"$work/deaf" &
pids="$pids $!"
wait_for 10 "the deaf device" test -s "$work/deaf"
deaf_port=$(cat "$work/deaf")

start_slave tcp
write_config tcp
start_daemon
wait_for 30 "light" is_lit
want 1 "$make_safe" "$work/run/safe-list" # beside a daemon that runs
says "lampwardend runs (process $daemon)"
says 'systemctl stop lampwardend'
coil_was_opened() { awk '$2 == "coil" && $4 == 1 { on = 1 } $2 == "coil" && $4 == 0 && on { off = 1 } END { exit !off }' "$work/dump"; }
coil_was_opened || fail "beside a daemon it did nothing"
kill -KILL "$daemon"
wait_for 5 "the death of the daemon" gone "$daemon"
start_daemon # killed again while the lamp is surely lit
wait_for 30 "light" is_lit
kill -KILL "$daemon"
wait_for 5 "the death of the daemon" gone "$daemon"
is_lit || fail "the lamp went out by itself: this test proves nothing"
want 0 "$make_safe" "$work/run/safe-list"
coil_is 0 || fail "the contact is still closed"
register_is 0 || fail "the dimming line stands at $(register) mV"
want 0 "$make_safe" "$work/state/safe-list" # once more, from the list that outlives a reboot

# A damaged list: what can be read is made safe, the rest is named, and it is not called confirmed.
# Function 5, write single coil: Modbus application protocol V1.1b3, 6.5.
light_by_hand() {
    printf '\0\1\0\0\0\6\377\5\0\0\377\0' | socat -t 2 - "TCP:127.0.0.1:$port" >/dev/null
    wait_for 5 "a lamp lit by hand" coil_is 1
}
{
    echo 'lampwarden-safe-list 1'
    echo 'bus warp lost'
    echo 'output switch unknown'
    sed -n '2,$p' "$work/run/safe-list"
    echo 'and more'
} >"$work/damaged"
light_by_hand
want 1 "$make_safe" "$work/damaged"
coil_is 0 || fail "a damaged list leaves the lamp lit"
says 'damaged:2: no such driver: warp'
says 'not a line of a list of outputs: and'

# A device that takes the connection and says nothing keeps neither the others lit nor the program running.
{
    sed '$d' "$work/run/safe-list"
    echo 'bus modbus-tcp deaf'
    echo 'set host 127.0.0.1'
    echo "set port $deaf_port"
    echo 'output switch other'
    echo 'set coil 0'
    echo 'end 3'
} >"$work/two"
light_by_hand
begun=$(date +%s)
want 1 "$make_safe" "$work/two"
test $(($(date +%s) - begun)) -le 7 || fail "took longer than 7 s beside a hanging device"
coil_is 0 || fail "a hanging device keeps the other lamp lit"
says 'bus deaf'

# A device that takes the connection and says nothing.
kill -STOP "$slave"
begun=$(date +%s)
want 1 "$make_safe" "$work/run/safe-list"
test $(($(date +%s) - begun)) -le 5 || fail "took longer than 5 s with a hanging device"
grep -q 'bus bench' "$work/out.log" || fail "the bus is not named: $(cat "$work/out.log")"
kill -CONT "$slave"

# No room for the list in the runtime folder: the daemon runs and says so, the other list serves, and no stale
# one is left to mislead.
mkdir -p "$work/small"
if mount -t tmpfs -o size=16k none "$work/small" 2>/dev/null; then
    cp "$work/damaged" "$work/small/safe-list"
    dd if=/dev/zero of="$work/small/fill" bs=4k 2>/dev/null
    rm -rf "$work/run" "$work/state/safe-list"
    ln -s "$work/small" "$work/run"
    start_daemon
    wait_for 30 "light with a full runtime folder" is_lit
    grep -q 'the stop step has to use the list in' "$work/daemon.log" || fail "the full folder is not told"
    test ! -e "$work/small/safe-list" || fail "a stale list is left"
    kill -KILL "$daemon"
    wait_for 5 "the death of the daemon" gone "$daemon"
    want 0 "$make_safe" "$work/state/safe-list"
    coil_is 0 || fail "the second list does not serve"
else
    echo "$name: no small folder can be mounted here: that part is left out"
fi
echo "$name: passed"
