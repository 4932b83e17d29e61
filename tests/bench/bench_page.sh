#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The real daemon on the demonstration in the middle of its day, with the page. rss_mb: VmRSS in 10^6 bytes with four
# live streams, after every path was asked for each space. status_per_s: how often one browser on this computer gets the
# status over one connection. late_ms and late_attack_ms: how long after its moment, 10 ms behind the full second, the
# tick's timer was read at the worst of 20 ticks, with four live streams, and beside that browser, eight half-open
# connections and another reading the day's minutes without a pause; seen by strace, which adds to both, and no less
# the machine's other work. tick_waits: how often the tick's thread waited for a lock in those 20 s.
# figures: page.rss_mb page.status_per_s page.late_ms page.late_attack_ms page.tick_waits
set -eu
# shellcheck source=tests/bench/demonstration.sh
. "$(dirname "$0")/demonstration.sh"
browser=$source/tests/support/hostile_browser.py
page=$(python3 -c 'import socket; s = socket.socket(); s.bind(("127.0.0.1", 0)); print(s.getsockname()[1])')
start_demonstration -e "s/port = 8414/port = $page/" \
    -e 's/path = "[^"]*journal.db";/path = ""; commit_s = 1.0;/'
sleep 5

for _ in 1 2 3 4; do
    curl -sN -o /dev/null "http://127.0.0.1:$page/live" &
    processes="$processes $!"
done
ask() { curl -s -o /dev/null "http://127.0.0.1:$page$1"; }
for space in lettuce basil chrysanthemum; do
    for path in day minutes days nights plan; do
        ask "/$path.json?space=$space"
    done
done
for path in / /page.js /page.css /dygraph.js /events.json /metrics /status.json; do
    ask "$path"
done

# worst_late FILE: of strace's lines, whose time is that of the call's return
worst_late() {
    awk -F '[ .]' '/= 8$/ { late = ("0." $2) * 1000 - 10; if (late > worst) worst = late } END { printf "%.2f", worst }' "$1"
}
# watch FILE: the main thread's reads of eight bytes, of its timer, for 20 s
watch() {
    : >"$1.all"
    timeout 20 strace -q -ttt -e trace=read,futex -e read=none -p "$daemon" -o "$1.all" 2>"$1.strace" || true
    grep '\\0\\0\\0\\0\\0\\0\\0", 8' "$1.all" >"$1" || true
    if [ "$(grep -c '= 8$' "$1")" -lt 15 ]; then # no tick seen is no tick in time
        echo "strace saw $(wc -l <"$1") ticks in 20 s: $(cat "$1.strace")" >&2
        exit 1
    fi
}
watch "$work/calm"
awk '$1 == "VmRSS:" { printf "page.rss_mb %.2f MB\n", $2 * 1024 / 1e6 }' "/proc/$daemon/status"

python3 "$browser" stall "$page" >/dev/null &
processes="$processes $!"
(while :; do ask "/minutes.json?space=lettuce"; done) &
processes="$processes $!"
python3 "$browser" hammer "$page" >"$work/rate" &
hammer=$!
watch "$work/attack"
wait "$hammer"
printf 'page.status_per_s %s 1/s\n' "$(cat "$work/rate")"
printf 'page.tick_waits %d\n' "$(grep -c FUTEX_WAIT "$work/attack.all")"
printf 'page.late_ms %s ms\npage.late_attack_ms %s ms\n' "$(worst_late "$work/calm")" "$(worst_late "$work/attack")"
