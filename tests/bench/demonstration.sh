#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Sourced by the groups that measure the real daemon on the demonstration, with their own two arguments: builds the
# programs, and whatever is in $processes or $work when the group ends goes with it.
cmake --build "$1" --target lampwardend lampwarden-bench >&2
bin=$1/bin
source=$2
work=$(mktemp -d)
processes=
stop() {
    for process in $processes; do
        kill "$process" 2>/dev/null || true
        wait "$process" 2>/dev/null || true
    done
    rm -rf "$work"
}
trap stop EXIT
trap 'exit 130' INT TERM

# wait_for FILE WORDS PROCESS: until the words are in the file, for at most 20 s
wait_for() {
    tries=0
    until grep -q "$2" "$1"; do
        tries=$((tries + 1))
        if [ $tries -ge 200 ] || ! kill -0 "$3" 2>/dev/null; then
            echo "no \"$2\" in 20 s:" >&2
            cat "$1" >&2
            exit 1
        fi
        sleep 0.1
    done
}

# start_demonstration [-e SCRIPT…]: the process $daemon against the bench as a Modbus device on loopback, started;
# the day began two hours ago, whatever the hour is. The scripts are sed's, for the demonstration's configuration.
start_demonstration() {
    "$bin/lampwarden-bench" --tcp 127.0.0.1:0 --layout 2,1,1 --seed 1 >"$work/bench" 2>&1 &
    bench=$!
    processes="$processes $bench"
    wait_for "$work/bench" "ready on" "$bench"
    port=$(sed -n 's/.*ready on 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/bench")
    sed -e "s/port = 1502/port = $port/" \
        -e "s/start = \"[0-9-]*\"/start = \"$(date -u -d '-9 days' +%F)\"/" \
        -e 's/utc_offset = "[^"]*"/utc_offset = "+00:00"/' \
        -e "s/lights_on = \"[0-9:]*\"/lights_on = \"$(date -u -d '-2 hours' +%H:00)\"/" \
        "$@" "$source/etc/demo.conf" >"$work/demo.conf"
    "$bin/lampwardend" --config "$work/demo.conf" --journal "$work/journal.db" --socket "$work/control" \
        --runtime "$work" --state "$work/state" >"$work/log" 2>&1 &
    daemon=$!
    processes="$daemon $processes"
    wait_for "$work/log" "started; every output was verified" "$daemon"
}
