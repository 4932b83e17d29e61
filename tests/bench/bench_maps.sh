#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# A light map of a million points, on a grid and at random places, in CPU time: read_s from text to numbers, analysis_s from
# numbers to all that `lampwarden survey` says (wanted: below 1 s), ratio the second over the first, which a
# faster machine does not change.
# figures: map.read_s.grid map.analysis_s.grid map.ratio.grid map.read_s.anywhere map.analysis_s.anywhere map.ratio.anywhere
set -eu
cmake --build "$1" --target bench_maps >&2
"$1/tests/bench_maps"
