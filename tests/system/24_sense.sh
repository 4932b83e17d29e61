#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# What an installer asks of sensors and buses, of the running daemon and without one, against the simulated
# device: readings as they stand in its registers, a scan that finds its units, lamps that do not notice.
# The device's units and registers: drivers/bench_device.h.
. "$(dirname "$0")/common.sh"
need /usr/bin/python3
lampwarden=$build/bin/lampwarden

sense() { "$lampwarden" sense --socket "$work/control" "$@"; }
# of SENSOR FIELD: from the daemon
of() { sense --json "$1" 2>>"$work/cli.log" | field "$2"; }
field() {
    /usr/bin/python3 -c 'import json, sys; print(json.load(sys.stdin)["sensors"][0][sys.argv[1]])' "$1"
}
ask() { printf '{"jsonrpc":"2.0","id":1,"method":"%s","params":%s}\n' "$1" "$2" | socat -t 5 - "UNIX:$work/control"; }

start_bench --layout 2,1,1

# Without a daemon and with half a file. Nobody answers at address 9; 4C57 is the device's constant word.
echo "buses = ( { name = \"bench\"; driver = \"modbus-tcp\"; host = \"127.0.0.1\"; port = $port; } );" >"$work/begun.conf"
want 0 "$lampwarden" sense --config "$work/begun.conf" --scan bench --to 9
test "$(grep -c '^  *[0-9]*  register 0 holds' "$work/out.log")" = 4 || fail "not four units: $(cat "$work/out.log")"
says '4 of 9 addresses answered'
want 1 "$lampwarden" sense --config "$work/begun.conf"
says 'names no sensors yet'
want 1 "$lampwarden" sense --config "$work/begun.conf" --scan shelf
says "has no bus 'shelf'; there are: bench"
want 3 "$lampwarden" sense --config "$work/none.conf" --scan bench
want 2 "$lampwarden" sense --scan bench --from 248
want 2 "$lampwarden" sense --scan bench --from 9 --to 8
want 2 "$lampwarden" sense --from 9
want 2 "$lampwarden" sense --scan bench par
cat >>"$work/begun.conf" <<'CONFIG'
sensors = (
  { name = "word"; bus = "bench"; kind = "power"; unit = 4; function = 4; register = 9; high = 65535.0; },
  { name = "word_as_humidity"; bus = "bench"; kind = "humidity"; unit = 4; function = 4; register = 9; },
  { name = "nobody"; bus = "bench"; kind = "power"; unit = 9; function = 4; register = 9; } );
outputs = ( { name = "half of one"; } );
CONFIG
want 0 "$lampwarden" sense --config "$work/begun.conf"
says '^  word  *power  *0x4C57  *19543.0 W  .* good  *0..65535$'
says '^  word_as_humidity  *humidity  *0x4C57  *(19543.0 %)  *-  lost  *0..100$'
says '! 19543 is outside the allowed range'
says '! no answer: '
sed 's/unit = 4/unit = 7/g' "$work/begun.conf" >"$work/wrong.conf" # nobody where the file says
want 0 "$lampwarden" sense --config "$work/wrong.conf" --scan bench --to 5
says '4 of 5 addresses answered'
want 0 "$lampwarden" sense --config "$work/begun.conf"
test "$(awk '{ if (length($0) > m) m = length($0) } END { print m }' "$work/out.log")" -le 100 || fail "too wide"

# A line that another program has locked is refused with words (flock: flock(2)).
socat "pty,raw,echo=0,link=$work/slave" "pty,raw,echo=0,link=$work/line" 2>"$work/socat.log" &
pids="$pids $!"
wait_for 10 "the serial pair" test -e "$work/slave" -a -e "$work/line"
echo "buses = ( { name = \"line\"; driver = \"modbus-rtu\"; device = \"$work/line\"; } );" >"$work/line.conf"
flock --no-fork "$work/line" sleep 300 &
holder=$!
pids="$pids $holder"
is_locked() { ! flock --nonblock "$work/line" true; }
wait_for 10 "the lock" is_locked
want 1 "$lampwarden" sense --config "$work/line.conf" --scan line --to 1
says 'another process uses this line (a running daemon can be asked'
grep -q 'addresses answered' "$work/out.log" && fail "a scan that never began: $(cat "$work/out.log")"
kill "$holder"

# Through the daemon.
write_config tcp
sed -i 's/port = [0-9]*;/& unit = 1;/; s/register = 2;/register = 10;/; s/order = "cdab"; //' "$work/lamp.conf"
start_daemon
lit() { near "$(status lamp_umol)" 277 150; }
wait_for 30 "light" lit
test "$(of heatsink quality)" = good || fail "the heatsink is not good: $(of heatsink reason)"
test "$(of heatsink unit)" = "°C" || fail "the heatsink has no unit"
case $(of heatsink raw) in 0x0???) ;; *) fail "no raw register: $(of heatsink raw)" ;; esac
# shellcheck disable=SC2154 # set by the line above
near "$(of heatsink value)" "$(($(of heatsink raw)))e-1" 3 || fail "the register does not give the value"
want 1 "$lampwarden" sense --socket "$work/control" warp
says "there is no sensor 'warp'"
want 0 "$lampwarden" sense --socket "$work/control"
says '^bus bench (modbus-tcp)$'
says '^  canopy  *ppfd  *0x.... 0x....  .* µmol m⁻² s⁻¹  '
canopy_is_lit() { near "$(of canopy value)" 200 190; }
wait_for 30 "a canopy that is lit" canopy_is_lit

# A scan finds all units while lamps and sensors go on.
"$lampwarden" sense --socket "$work/control" --scan bench --to 6 >"$work/scan.log" 2>&1 &
scan=$!
pids="$pids $scan"
oldest=0
while ! gone "$scan"; do
    test "$(of canopy quality)" = good || fail "the scan costs a sensor: $(of canopy reason)"
    test "$(status limiter)" = plan || fail "the scan costs light: $(status limiter_words)"
    oldest=$(awk -v a="$(of canopy age_s)" -v b="$oldest" 'BEGIN { print (a > b ? a : b) }')
done
near "$oldest" 0 4 || fail "a reading became $oldest s old"
wait "$scan" || fail "the scan failed: $(cat "$work/scan.log")"
grep -q '^4 of 6 addresses answered$' "$work/scan.log" || fail "the scan: $(cat "$work/scan.log")"
grep -q 'another process\|! bus' "$work/daemon.log" && fail "the scan disturbed the bus"

# Ctrl-C ends it, in the daemon too; a second one beside it is refused.
"$lampwarden" sense --socket "$work/control" --scan bench >"$work/scan.log" 2>&1 &
scan=$!
pids="$pids $scan"
wait_for 20 "the first address" grep -q '^    1  ' "$work/scan.log"
want 1 "$lampwarden" sense --socket "$work/control" --scan bench --to 1
says 'bus bench is being scanned; one scan at a time'
kill -INT "$scan"
wait_for 5 "the end after Ctrl-C" gone "$scan"
wait "$scan" || fail "Ctrl-C is no failure"
grep -q 'addresses answered; go on with --from' "$work/scan.log" || fail "no end: $(cat "$work/scan.log")"
want 0 "$lampwarden" sense --socket "$work/control" --scan bench --from 4 --to 4 --json
says '"address":4,"garbled":false,"words":"register 0 holds'

# One that nobody asks about ends by itself.
need socat
ask scan_start '{"bus":"bench"}' >"$work/begun"
number=$(sed 's/.*"scan":\([0-9]*\).*/\1/' "$work/begun")
free() { ask scan_start '{"bus":"bench","from":1,"to":1}' | grep -q '"result"'; }
ask scan_start '{"bus":"bench"}' | grep -q 'one scan at a time' || fail "two scans at once"
wait_for 15 "the end of a scan that nobody asks about" free
ask scan "{\"bus\":\"bench\",\"scan\":$number}" | grep -q 'a later one took its place' || fail "the old scan is news"
for bad in '{}' '{"bus":7}' '{"bus":"bench","from":0}' '{"bus":"bench","to":248}' '{"bus":"bench","from":1.5}' \
    '{"bus":"bench","from":9,"to":8}' '{"bus":"bench","warp":1}' '{"bus":"bench","from":"1"}' '{"bus":"bench","from":null}'; do
    ask scan_start "$bad" | grep -q -- '-32602' || fail "scan_start took $bad"
done
for bad in '{"bus":"bench","scan":-1}' '{"bus":"bench","scan":1e99}' '{"bus":"bench","scan":1,"seen":-1}' '{"scan":1}'; do
    ask scan "$bad" | grep -q -- '-32602' || fail "scan took $bad"
done
ask scan '{"bus":"bench"}' | grep -q -- '-32001' || fail "a scan without its number"
lit || fail "the light went out over it"

# The device goes: sensors say so, a scan says why it ends.
kill "$bench"
tells_of_its_bus() { of heatsink reason | grep -q 'bus bench is not connected'; }
wait_for 40 "a bus that is down" tells_of_its_bus
want 0 "$lampwarden" sense --socket "$work/control" # they have good values for a while yet
test "$(grep -c 'bus bench is not connected' "$work/out.log")" = 1 || fail "not once: $(cat "$work/out.log")"
# The scan of address 1 above may still wait for its turn, until nobody has asked about it for long enough.
says_why() {
    sense --scan bench >"$work/out.log" 2>&1 && return 1
    grep -q 'the scan ended early: .*Connection refused' "$work/out.log"
}
wait_for 30 "why a scan ends" says_why
grep -q 'addresses answered' "$work/out.log" && fail "nobody was asked: $(cat "$work/out.log")"
stop_daemon TERM || fail "the stop ended with code $?"
want 1 "$lampwarden" sense --config "$work/begun.conf" # now all of them are lost
test "$(grep -c '! bus bench is not connected' "$work/out.log")" = 1 || fail "not once: $(cat "$work/out.log")"
want 1 "$lampwarden" sense --socket "$work/control"
says 'is lampwardend running? Start it, or give --config FILE'
echo "$name: passed"
