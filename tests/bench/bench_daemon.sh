#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The real daemon on the demonstration in the middle of its day, against the bench as a Modbus device on
# loopback, journal on; nobody asks for its status. Sizes as /proc gives them 30 s after the start: rss_mb is
# VmRSS, anon_mb RssAnon (private memory), both of 10^6 bytes. wakeups_per_s counts the context switches of
# all its threads, voluntary or not, over 20 s: every time one of them had waited and ran again; cpu_percent
# is their time on a processor over the same 20 s.
# figures: daemon.rss_mb daemon.anon_mb daemon.wakeups_per_s daemon.cpu_percent
set -eu
# shellcheck source=tests/bench/demonstration.sh
. "$(dirname "$0")/demonstration.sh"
# shellcheck disable=SC2119 # as it is
start_demonstration

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
