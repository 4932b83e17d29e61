#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# From a clean Debian 12 to a light day: installs what is missing, builds, rehearses three light days of the
# demonstration, then runs the real daemon for a short while against the bench served as a Modbus
# device on loopback. Nothing is installed outside the build folder but Debian packages; no hardware is touched.
# Usage: sh etc/quickstart.sh              all of that; it ends by itself
#        sh etc/quickstart.sh day [PACE]   the real daemon plays a day in two minutes (PACE 720), until it is stopped
#        sh etc/quickstart.sh stop         ends that
set -eu
here=$(cd "$(dirname "$0")/.." && pwd)
cd "$here"
. etc/packages.sh

say() {
    printf '\n== %s\n' "$*"
}

# --- a day in two minutes: everything of it lies in this folder
stage=$here/build/demonstration

# is_ours PIDFILE NAME: the process that we started still runs
is_ours() {
    [ -s "$1" ] && [ "$(cat "/proc/$(cat "$1")/comm" 2>/dev/null)" = "$2" ]
}

stop_day() {
    # The daemon first: it makes its lamps safe while they still answer.
    for name in lampwardend lampwarden-bench; do
        file=$stage/$name.pid
        ! is_ours "$file" "$(echo "$name" | cut -c1-15)" || kill "$(cat "$file")"
        tries=0
        while is_ours "$file" "$(echo "$name" | cut -c1-15)" && [ "$tries" -lt 100 ]; do
            tries=$((tries + 1))
            sleep 0.1
        done
        rm -f "$file"
    done
}

# await SECONDS COMMAND...: until it succeeds
await() {
    tries=$(($1 * 10))
    shift
    until "$@" >/dev/null 2>&1; do
        tries=$((tries - 1))
        [ "$tries" -gt 0 ] || return 1
        sleep 0.1
    done
}

play_day() {
    pace=$1
    PATH=$here/build/bin:$PATH
    mkdir -p "$stage"
    ! is_ours "$stage/lampwardend.pid" lampwardend || {
        echo "it plays already; to end it: sh etc/quickstart.sh stop"
        return 0
    }
    stop_day # what may be left of an earlier one
    nohup lampwarden-bench --tcp 127.0.0.1:0 --layout 2,1,1 --pace "$pace" >"$stage/bench.out" 2>"$stage/bench.log" </dev/null &
    echo $! >"$stage/lampwarden-bench.pid"
    await 10 grep -q "ready on" "$stage/bench.out" || { cat "$stage/bench.log"; stop_day; return 1; }
    port=$(sed -n 's/.*ready on 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$stage/bench.out")
    # Its stages began some days ago, whatever the date is.
    sed -e "s/port = 1502/port = $port/" -e "s/start = \"[0-9-]*\"/start = \"$(date -u -d '-9 days' +%F)\"/" \
        -e 's/group = "lampwarden"/group = ""/' etc/demo.conf >"$stage/demo.conf"
    nohup lampwardend --config "$stage/demo.conf" --runtime "$here/build" --pace "$pace" >/dev/null 2>"$stage/daemon.log" </dev/null &
    echo $! >"$stage/lampwardend.pid"
    await 30 lampwarden status --socket "$stage/control" || { cat "$stage/daemon.log"; stop_day; return 1; }
    lampwarden status --socket "$stage/control" | head -n 2
    address=$(sed -n '/^page = {/,/^}/s/.*port = \([0-9]*\);.*/http:\/\/127.0.0.1:\1\//p' "$stage/demo.conf")
    if command -v curl >/dev/null && [ -n "$address" ] && ! curl -fsS -o /dev/null "$address" 2>/dev/null; then
        echo "(nothing answers at $address: $(grep -m 1 page "$stage/daemon.log" || echo "look into $stage/daemon.log"))"
        address=
    fi
    cat <<TEXT

A day passes in $(awk "BEGIN { printf \"%.0f\", 86400 / $pace }") seconds. These lamps are simulated; the daemon, its line and its page are real.
  look:     ${address:-no page; the verbs below show as much}
            build/bin/lampwarden status --socket build/demonstration/control
            build/bin/lampwarden day --journal build/demonstration/journal.db
  end it:   sh etc/quickstart.sh stop
TEXT
}

case ${1:-} in
day)
    pace=${2:-720}
    if [ -x build/bin/lampwardend ]; then
        play_day "$pace"
        exit
    fi
    set --
    ;;
stop)
    stop_day
    echo "stopped"
    exit
    ;;
"") pace= ;;
*)
    sed -n 's/^# \(Usage: .*\)/\1/p; s/^# \( *sh etc\/quick.*\)/\1/p' "$0" >&2
    exit 2
    ;;
esac

say "1. What the build needs"
# shellcheck disable=SC2086,SC2154  # a list of words, from packages.sh
install_packages $build_packages
# shellcheck disable=SC2086,SC2154  # a list of words, from packages.sh
install_packages $driver_packages || echo "going on without some drivers" >&2
# shellcheck disable=SC2086,SC2154
install_packages $page_packages || echo "going on without the page for a browser" >&2
echo "present"

say "2. Build"
[ -f build/CMakeCache.txt ] || set -- -G Ninja # a build folder keeps the tool it began with
cmake -S . -B build "$@" -DCMAKE_BUILD_TYPE=Release -DLAMPWARDEN_TESTS=OFF >build.log 2>&1 ||
    { cat build.log; rm -f build.log; exit 1; }
grep -E "built without" build.log || true
rm -f build.log
cmake --build build --parallel "$(nproc)" | tail -n 1
PATH=$here/build/bin:$PATH
[ -z "$pace" ] || { play_day "$pace"; exit; }

say "3. Three light days of the demonstration, rehearsed (nothing attached)"
lampwarden rehearse --config etc/demo.conf --from 2026-11-09 --days 3

say "4. The daemon itself, against the bench as a Modbus device on loopback"
work=$(mktemp -d)
bench=
daemon=
stop() {
    [ -z "$daemon" ] || kill "$daemon" 2>/dev/null || true
    [ -z "$daemon" ] || wait "$daemon" 2>/dev/null || true
    [ -z "$bench" ] || kill "$bench" 2>/dev/null || true
    [ -z "$bench" ] || wait "$bench" 2>/dev/null || true
    daemon='' bench=''
}
trap 'stop; rm -rf "$work"' EXIT
trap 'exit 130' INT TERM

lampwarden-bench --tcp 127.0.0.1:0 --layout 2,1,1 --seed 1 >"$work/bench.out" 2>"$work/bench.log" &
bench=$!
tries=0
until grep -q "ready on" "$work/bench.out"; do
    tries=$((tries + 1))
    [ "$tries" -lt 100 ] || { echo "the bench did not start:"; cat "$work/bench.log"; exit 1; }
    sleep 0.1
done
port=$(sed -n 's/.*ready on 127\.0\.0\.1:\([0-9]*\).*/\1/p' "$work/bench.out")
echo "the bench answers on 127.0.0.1:$port"

# The demonstration's stages begin at a fixed date and hour; here they begin now, so that there is
# light to see whatever the hour is. And real contacts rest for a minute, simulated ones need not.
hour=$(date -u -d '-2 hours' +%H:00)
sed -e "s/port = 1502/port = $port/" \
    -e "s/start = \"[0-9-]*\"/start = \"$(date -u -d '-9 days' +%F)\"/" \
    -e 's/utc_offset = "[^"]*"/utc_offset = "+00:00"/' \
    -e 's/^limits = {/limits = { switching = { min_off_s = 5.0; };/' \
    -e "s/lights_on = \"[0-9:]*\"/lights_on = \"$hour\"/" etc/demo.conf >"$work/demo.conf"
lampwardend --config "$work/demo.conf" --journal "$work/journal.db" --socket "$work/control" \
    --runtime "$work/run" --state "$work/state" 2>"$work/daemon.log" &
daemon=$!
tries=0
until lampwarden status --socket "$work/control" >"$work/status" 2>/dev/null &&
    grep -q "on at" "$work/status"; do
    tries=$((tries + 1))
    if [ "$tries" -ge 120 ] || ! kill -0 "$daemon" 2>/dev/null; then
        echo "the daemon gave no light; its log:"
        cat "$work/daemon.log"
        exit 1
    fi
    sleep 1
done
sleep 20 # let dawn's first light climb
lampwarden status --socket "$work/control"
echo
lampwarden plan --socket "$work/control" --space basil

say "5. A clean stop: contacts open, dimming lines at their safe value"
kill "$daemon"
wait "$daemon" && echo "the daemon stopped with exit code 0"
daemon=
lampwarden events --journal "$work/journal.db" | tail -n 8

cat <<TEXT

What next:
  - sh etc/quickstart.sh day         watch a day go by in two minutes, in a browser too: http://127.0.0.1:8414/
  - cp etc/lampwarden.conf my.conf   every key is explained in it: edit site, buses, fixtures, spaces
  - build/bin/lampwarden check my.conf               what is wrong with it, line by line
  - build/bin/lampwarden rehearse --config my.conf   what a day will give before a lamp is wired
  - README.md                        wiring, cautions, installation as a service
Mains wiring is a licensed electrician's work; local codes and the makers' instructions come first.
TEXT
