#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The real daemon on the demonstration in the middle of its day, against the bench as a Modbus device on
# loopback, journal on; nobody asks for its status. Sizes as /proc gives them 30 s after the start: rss_mb is
# VmRSS, anon_mb RssAnon (private memory), both of 10^6 bytes. wakeups_per_s counts the context switches of
# all its threads, voluntary or not, over 20 s: every time one of them had waited and ran again; cpu_percent
# is their time on a processor over the same 20 s.
# figures: daemon.rss_mb daemon.anon_mb daemon.wakeups_per_s daemon.cpu_percent
set -eu
cmake --build "$1" --target lampwardend lampwarden-bench >&2
bin=$1/bin
work=$(mktemp -d)
bench='' daemon=''
stop() {
    for process in $daemon $bench; do
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

"$bin/lampwarden-bench" --tcp 127.0.0.1:0 --layout 2,1,1 --seed 1 >"$work/bench" 2>&1 &
bench=$!
wait_for "$work/bench" "ready on" "$bench"
port=$(sed -n 's/.*ready on 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/bench")
# The day began two hours ago, whatever the hour is.
sed -e "s/port = 1502/port = $port/" \
    -e "s/start = \"[0-9-]*\"/start = \"$(date -u -d '-9 days' +%F)\"/" \
    -e 's/utc_offset = "[^"]*"/utc_offset = "+00:00"/' \
    -e "s/lights_on = \"[0-9:]*\"/lights_on = \"$(date -u -d '-2 hours' +%H:00)\"/" \
    "$2/etc/demo.conf" >"$work/demo.conf"
"$bin/lampwardend" --config "$work/demo.conf" --journal "$work/journal.db" --socket "$work/control" \
    --runtime "$work" --state "$work/state" >"$work/log" 2>&1 &
daemon=$!
wait_for "$work/log" "started; every output was verified" "$daemon"

# "context-switches ns-on-a-processor" of all threads, so far
count() {
    cat /proc/$daemon/task/*/status /proc/$daemon/task/*/schedstat | awk '
        /ctxt_switches:/ { switches += $2 }
        /^[0-9]/ { time += $1 }
        END { printf "%d %.0f\n", switches, time }'
}
sleep 10
before=$(count)
sleep 20
after=$(count)
awk -v before="$before" -v after="$after" '
    $1 == "VmRSS:" { printf "daemon.rss_mb %.2f MB\n", $2 * 1024 / 1e6 }
    $1 == "RssAnon:" { printf "daemon.anon_mb %.2f MB\n", $2 * 1024 / 1e6 }
    END {
        split(before, from)
        split(after, to)
        printf "daemon.wakeups_per_s %.1f 1/s\n", (to[1] - from[1]) / 20
        printf "daemon.cpu_percent %.3f %%\n", (to[2] - from[2]) / 20e9 * 100
    }' "/proc/$daemon/status"
