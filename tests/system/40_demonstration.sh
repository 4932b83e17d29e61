#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The real daemon many times as fast against the bench device: a short day from before lights-on to behind lights-off, to
# the second, marked wherever it shows. Refused where anything is not the bench's, or lives at another pace.
. "$(dirname "$0")/common.sh"
pace=1800

# write_room BUS FILE: the bench's own registers, half an hour of light from 06:00 on
write_room() {
    cat >"$2" <<CONFIG
site = { name = "Propagation room (invented)"; utc_offset = "+01:00"; };
buses = ( { name = "bench"; $1 every_s = 1.0; } );
sensors = (
  { name = "canopy"; bus = "bench"; kind = "ppfd"; unit = 1; function = 4; register = 0; scale = 0.1; high = 600.0; },
  { name = "heatsink"; bus = "bench"; kind = "temperature"; unit = 1; function = 4; register = 1; type = "s16";
    scale = 0.1; } );
outputs = (
  { name = "dimmer"; bus = "bench"; kind = "dim"; unit = 1; register = 0; full = 10000; },
  { name = "contact"; bus = "bench"; kind = "switch"; unit = 1; coil = 0; } );
fixtures = ( { name = "bar"; dim = "dimmer"; switch = "contact"; ppfd_full = 420.0; heat_sensors = [ "heatsink" ];
  curve = ( { drive = 0.08; level = 0.10; watts = 31.0; }, { drive = 0.95; level = 1.0; watts = 300.0; } ); } );
stages = ( { name = "leaf"; days = 0; lights_on = "06:00"; day_length_h = 0.5; target_mol = 0.3; dawn_min = 0.0;
  dusk_min = 0.0; } );
spaces = ( { name = "lettuce"; fixtures = [ "bar" ]; ppfd_sensors = [ "canopy" ]; stages = [ "leaf" ];
  start = "2026-01-01"; } );
journal = { path = "$work/real.db"; };
control = { socket = "$work/real-control"; };
CONFIG
}

# refused WORDS OPTION...
refused() {
    words=$1
    shift
    status=0
    timeout 20 "$build/bin/lampwardend" --runtime "$work/run" --state "$work/state" "$@" 2>"$work/refused.log" || status=$?
    test "$status" -ge 1 || fail "not refused: $*"
    grep -q -- "$words" "$work/refused.log" || fail "'$words' is not said: $(cat "$work/refused.log")"
}

start_bench --pace $pace
write_room "driver = \"modbus-tcp\"; host = \"127.0.0.1\"; port = $port;" "$work/lamp.conf"

# --- what is no bench of this pace
refused 'lives 1800 times as fast, not 720' --config "$work/lamp.conf" --pace 720
refused 'keeps a journal of its own' --config "$work/lamp.conf" --pace $pace --journal "$work/real.db"
mkdir "$work/run" "$work/kept"
: >"$work/kept/journal.db"
ln -s "$work/kept" "$work/run/demonstration"
refused 'no folder of your own' --config "$work/lamp.conf" --pace $pace
test -e "$work/kept/journal.db" || fail "a link led to a journal, and it is gone"
rm -r "$work/run"
refused '--pace:' --config "$work/lamp.conf" --pace 0.5
sed 's/host = "127.0.0.1"/host = "192.0.2.7"/' "$work/lamp.conf" >"$work/far.conf"
refused 'leaves this computer' --config "$work/far.conf" --pace $pace
sed -e 's/driver = "modbus-tcp".*every_s/driver = "modbus-rtu"; device = "\/dev\/ttyS0"; every_s/' "$work/lamp.conf" >"$work/line.conf"
refused 'is no bench (driver modbus-rtu)' --config "$work/line.conf" --pace $pace
start=$port
if /usr/bin/python3 -c 'import pymodbus.server' 2>/dev/null; then
    port=
    start_slave tcp # a device that is none of ours, on a loopback address
    write_room "driver = \"modbus-tcp\"; host = \"127.0.0.1\"; port = $port;" "$work/stranger.conf"
    refused 'is no bench' --config "$work/stranger.conf" --pace $pace
fi
port=$start
test ! -e "$work/real.db" || fail "the configured journal was touched"

# --- what an earlier demonstration left does not count
mkdir -p "$work/run/demonstration"
echo junk >"$work/run/demonstration/resume"
"$build/bin/lampwardend" --config "$work/lamp.conf" --runtime "$work/run" --state "$work/state" --pace $pace \
    2>"$work/daemon.log" &
daemon=$!
pids="$pids $daemon"
folder=$work/run/demonstration
live() { "$build/bin/lampwarden" "$@" --socket "$folder/control"; }
wait_for 20 "an answer" live status >"$work/status" 2>"$work/cli.log"
live status --json >"$work/status.json"
grep -q '"demonstration":"bench, 1800 times as fast"' "$work/status.json" || fail "status --json does not say it"
live status | grep -q '^! a demonstration (bench, 1800 times as fast)' || fail "status does not say it"
live metrics | grep -qx 'lampwarden_demonstration 1' || fail "the metrics do not say it"
grep -q 'demonstration (bench, 1800 times as fast)' "$work/daemon.log" || fail "the log does not say it"

stored() { "$build/bin/lampwarden" "$@" --journal "$folder/journal.db" 2>>"$work/cli.log"; }
is_over() { stored events | grep -q 'lights off'; }
wait_for 40 "the end of the day" is_over
stop_daemon TERM || fail "the stop ended with code $?"
stored events --json >"$work/events.json"
stored day --json >"$work/day.json"
test ! -e "$work/real.db" || fail "the configured journal was written"
test ! -e "$work/state" || fail "the state folder was touched"

# Lights-on and -off by the second, no second left out, and the light that was asked for: the same day as in earnest.
/usr/bin/python3 - "$work" <<'CHECK'
import json, sqlite3, sys
work = sys.argv[1]
events = [json.loads(line) for line in open(work + "/events.json")]
at = {event["kind"]: event["time"][11:19] for event in events}
assert "06:00:00" <= at["lights-on"] <= "06:00:02", at
assert at["lights-off"] == "06:30:00", at
assert not [event for event in events if event["class"] == "alarm"], events
day = json.loads(open(work + "/day.json").readline())
assert abs(day["delivered_mol"] - day["target_mol"]) < 0.01, day
minutes = sqlite3.connect("file:%s/run/demonstration/journal.db?mode=ro" % work, uri=True).execute(
    "SELECT count(*), min(wall_s), max(wall_s) FROM minute").fetchone()
assert minutes[0] == (minutes[2] - minutes[1]) // 60 + 1, minutes
print("%d minutes, %.3f of %.3f mol" % (minutes[0], day["delivered_mol"], day["target_mol"]))
CHECK
test $? = 0 || fail "the day is not what it should be"
echo "$name: passed"
