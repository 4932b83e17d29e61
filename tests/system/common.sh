#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Sourced by every system test: . "$(dirname "$0")/common.sh"
# The real programs in a temporary folder against a lamp behind Modbus. Everything is waited for
# with a deadline; only processes started here are ever signalled.
set -u

build=${1:?usage: $0 BUILD SOURCE}
source=${2:?usage: $0 BUILD SOURCE}
name=$(basename "$0" .sh)
work=$(mktemp -d "${TMPDIR:-/tmp}/lampwarden.XXXXXX")
pids=
daemon=

skip() {
    echo "$name: skipped: $*"
    exit 77
}

say_logs() {
    for log in "$work"/*.log; do
        test -s "$log" || continue
        echo "--- last of $(basename "$log")"
        tail -n 25 "$log"
    done
}

fail() {
    echo "$name: FAILED: $*"
    say_logs
    exit 1
}

clean() {
    code=$?
    trap - EXIT INT TERM
    for pid in $pids; do kill -TERM "$pid" 2>/dev/null; done
    for pid in $pids; do
        wait_quietly 5 gone "$pid" || kill -KILL "$pid" 2>/dev/null
        wait "$pid" 2>/dev/null
    done
    for folder in "$work"/*; do
        mountpoint -q "$folder" 2>/dev/null && umount "$folder"
    done
    rm -rf "$work"
    exit $code
}
trap clean EXIT
trap 'exit 130' INT TERM

gone() { ! kill -0 "$1" 2>/dev/null; }

# wait_quietly SECONDS COMMAND...: true as soon as the command is, false at the deadline.
wait_quietly() {
    deadline=$(($(date +%s) + $1))
    shift
    until "$@"; do
        test "$(date +%s)" -lt "$deadline" || return 1
        sleep 0.1
    done
}

# wait_for SECONDS WORDS COMMAND...: the same, but the deadline fails the test.
wait_for() {
    seconds=$1 words=$2
    shift 2
    wait_quietly "$seconds" "$@" || fail "not within $seconds s: $words"
}

# want CODE COMMAND...: its exit code, after $patience_s at most; what it said is in $work/out.log.
want() {
    code=$1
    shift
    status=0
    timeout "${patience_s:-60}" "$@" >"$work/out.log" 2>&1 || status=$?
    test "$status" = "$code" || fail "exit code $status instead of $code: $*: $(cat "$work/out.log")"
}
says() { grep -q -- "$1" "$work/out.log" || fail "'$1' is not in: $(cat "$work/out.log")"; }

need() {
    for program in "$@"; do
        command -v "$program" >/dev/null || skip "there is no program '$program' here"
    done
}

need_slave() {
    need socat /usr/bin/python3
    /usr/bin/python3 -c 'import pymodbus.server' 2>/dev/null ||
        skip "pymodbus is missing (Debian: python3-pymodbus python3-serial-asyncio)"
}

# start_slave tcp|rtu [OPTION...]: sets $slave and, for tcp, $port; the line is $work/line.
start_slave() {
    kind=$1
    shift
    if [ "$kind" = rtu ]; then
        socat "pty,raw,echo=0,link=$work/slave" "pty,raw,echo=0,link=$work/line" 2>"$work/socat.log" &
        pids="$pids $!"
        wait_for 10 "the serial pair" test -e "$work/slave" -a -e "$work/line"
        set -- --rtu "$work/slave" "$@"
    else
        set -- --tcp "${port:-0}" "$@"
    fi
    : >"$work/slave.log"
    /usr/bin/python3 "$source/tests/support/pymodbus_slave.py" --dump "$work/dump" "$@" \
        >>"$work/slave.log" 2>&1 &
    slave=$!
    pids="$pids $slave"
    wait_for 20 "the slave" grep -q READY "$work/slave.log"
    port=$(sed -n 's/^READY //p' "$work/slave.log")
}

# The present outputs as the slave was last told; nothing when it never was.
coil() { sed -n 's/^[0-9.]* coil 0 //p' "$work/dump" | tail -n 1; }
register() { sed -n 's/^[0-9.]* register 0 //p' "$work/dump" | tail -n 1; }
coil_is() { test "$(coil)" = "$1"; }
register_is() { test "$(register)" = "$1"; }
closings() { awk '$2 == "coil" { n += $4 == 1 && $4 != last; last = $4 } END { print n + 0 }' "$work/dump"; }

# A port of this computer that was free a moment ago.
free_port() {
    /usr/bin/python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])'
}

# start_bench [OPTION...]: the simulated fixtures as a Modbus device; sets $bench and $port.
start_bench() {
    "$build/bin/lampwarden-bench" --tcp 127.0.0.1:0 "$@" >"$work/bench.out" 2>"$work/bench.log" &
    bench=$!
    pids="$pids $bench"
    wait_for 20 "the bench" grep -q 'ready on' "$work/bench.out"
    port=$(sed -n 's/.*ready on 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/bench.out")
}

time_of_day() { date -u -d "$1" +%H:%M; }

# write_config tcp|rtu [FILE]: a bench of invented lettuce in the middle of its day. $min_off, $journal,
# $extra (lines of the space) may be set before.
write_config() {
    if [ "$1" = rtu ]; then
        bus="driver = \"modbus-rtu\"; device = \"$work/line\"; parity = \"none\"; unit = 1;"
    else
        bus="driver = \"modbus-tcp\"; host = \"127.0.0.1\"; port = $port;"
    fi
    cat >"${2:-$work/lamp.conf}" <<CONFIG
site = { name = "Propagation room (invented)"; utc_offset = "+00:00"; };
buses = ( { name = "bench"; $bus every_s = 0.5; } );
sensors = (
  { name = "canopy"; bus = "bench"; kind = "ppfd"; function = 4; register = 2; type = "f32";
    order = "cdab"; high = 600.0; },
  { name = "heatsink"; bus = "bench"; kind = "temperature"; function = 4; register = 1;
    type = "s16"; scale = 0.1; } );
outputs = (
  { name = "dimmer"; bus = "bench"; kind = "dim"; register = 0; full = 10000; },
  { name = "contact"; bus = "bench"; kind = "switch"; coil = 0; } );
fixtures = ( { name = "bar"; dim = "dimmer"; switch = "contact"; ppfd_full = 400.0;
  curve = ( { drive = 0.145; level = 0.05; watts = 11.0; }, { drive = 1.0; level = 1.0; watts = 201.0; } );
  heat_sensors = [ "heatsink" ];
  switching = { min_on_s = 2.0; min_off_s = ${min_off:-3.0}; settle_s = 1.0; }; } );
stages = ( { name = "leaf"; days = 0; lights_on = "$(time_of_day '2 hours ago')"; day_length_h = 12.0;
  target_mol = 8.0; dawn_min = 0.0; dusk_min = 0.0; } );
spaces = ( { name = "lettuce"; fixtures = [ "bar" ]; ppfd_sensors = [ "canopy" ]; stages = [ "leaf" ];
  light_day_start = "$(time_of_day '3 hours ago')"; start = "$(date -u -d '3 days ago' +%Y-%m-%d)";
  rise_percent_per_min = 6000.0; fall_percent_per_min = 6000.0; clock_policy = "carry-on"; ${extra:-} } );
journal = { path = "${journal:-$work/journal.db}"; commit_s = 5.0; };
control = { socket = "$work/control"; };
CONFIG
}

# write_demo [SED_OPTION...]: the demonstration on the bench at $port, its lights on since an hour whatever the time is, its
# stages since four days; the words for sed come last.
write_demo() {
    sed -e "s/port = 1502/port = $port/" -e 's/utc_offset = "[^"]*"/utc_offset = "+00:00"/' \
        -e 's/^limits = {/limits = { switching = { min_off_s = 2.0; };/' \
        -e "s/start = \"[0-9-]*\"/start = \"$(date -u -d '4 days ago' +%F)\"/" \
        -e "s/lights_on = \"[0-9:]*\"/lights_on = \"$(time_of_day '1 hour ago')\"/" \
        -e "s/start = \"20/light_day_start = \"$(time_of_day '2 hours ago')\"; &/" \
        -e "s|/var/lib/lampwarden/journal.db|$work/journal.db|; s|/run/lampwarden/control|$work/control|" \
        -e 's/group = "lampwarden"/group = ""/' "$@" "$source/etc/demo.conf" >"$work/lamp.conf"
}

# Returns when it said READY to the service manager. $log is its log.
start_daemon() {
    : >"$work/notify"
    rm -f "$work/notify.sock"
    socat -u "UNIX-RECV:$work/notify.sock" "OPEN:$work/notify,append" 2>>"$work/socat.log" &
    pids="$pids $!"
    wait_for 10 "the notify socket" test -S "$work/notify.sock"
    NOTIFY_SOCKET=$work/notify.sock "$build/bin/lampwardend" --config "$work/lamp.conf" \
        --runtime "$work/run" --state "$work/state" >>"$work/daemon.log" 2>&1 &
    daemon=$!
    pids="$pids $daemon"
    wait_for 60 "READY=1 of the daemon" ready_or_dead
    gone "$daemon" && fail "the daemon ended before it was ready"
}
ready_or_dead() { grep -q 'READY=1' "$work/notify" || gone "$daemon"; }

# stop_daemon SIGNAL: returns its exit code.
stop_daemon() {
    kill "-$1" "$daemon"
    wait_for 15 "the daemon's end after $1" gone "$daemon"
    wait "$daemon"
}

# status FIELD: one value of the first space, or of the daemon, by the operator's command.
status() {
    "$build/bin/lampwarden" status --socket "$work/control" --json 2>>"$work/cli.log" |
        /usr/bin/python3 -c '
import json, sys
status = json.load(sys.stdin)
print({**status, **(status["spaces"] or [{}])[0]}.get(sys.argv[1], ""))' "$1" 2>>"$work/cli.log"
}
journal_is() { status journal | grep -q "'state': '$1'"; }

# near VALUE EXPECTED TOLERANCE
near() {
    awk -v a="$1" -v b="$2" -v t="$3" 'BEGIN { exit !(a != "" && a - b <= t && b - a <= t) }'
}
