#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# One tick of the daemon with 1 and with 100 spaces, of one fixture each: us is the median of the wall time
# of 4000 ticks back to back, cpu_us their mean in CPU time of the ticking thread, per_space the median
# with 100 spaces divided by 100. Caches are warm, unlike in a daemon that ticks once a second.
# The journal is on, its file and the saved state in memory (/dev/shm) where there is one.
# figures: tick.us_1_space tick.us_100_spaces tick.us_per_space tick.cpu_us_1_space tick.cpu_us_100_spaces
set -eu
cmake --build "$1" --target bench_tick >&2
work=$(mktemp -d -p /dev/shm 2>/dev/null || mktemp -d)
trap 'rm -rf "$work"' EXIT
"$1/tests/bench_tick" "$work"
