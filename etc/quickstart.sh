#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# From a clean Debian 12 to a light day: installs what is missing, builds, rehearses three light days of the
# demonstration, then runs the real daemon for a short while against the bench served as a Modbus
# device on loopback. Nothing is installed outside the build folder but Debian packages; no hardware is touched.
set -eu
here=$(cd "$(dirname "$0")/.." && pwd)
cd "$here"
. etc/packages.sh

say() {
    printf '\n== %s\n' "$*"
}

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
  - cp etc/lampwarden.conf my.conf   every key is explained in it: edit site, buses, fixtures, spaces
  - build/bin/lampwarden check my.conf               what is wrong with it, line by line
  - build/bin/lampwarden rehearse --config my.conf   what a day will give before a lamp is wired
  - README.md                        wiring, cautions, installation as a service
Mains wiring is a licensed electrician's work; local codes and the makers' instructions come first.
TEXT
