#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# How much of core the unit tests and the simulated days reach: lines, and branches as the compiler sees
# them (without optimisation). The missing lines are listed on stderr.
# figures: core.line_coverage core.branch_coverage
set -eu
command -v gcovr >/dev/null || {
    echo "gcovr not found (Debian: gcovr)" >&2
    exit 1
}
build=$1/coverage
source=$(cd "$2" && pwd)
cmake -S "$source" -B "$build" -G Ninja -DCMAKE_C_COMPILER=gcc -DCMAKE_BUILD_TYPE=Debug \
    -DLAMPWARDEN_COVERAGE=ON >&2
cmake --build "$build" >&2
find "$build" -name '*.gcda' -delete # of an earlier run
# A figure, no verdict: a test that came too late on a busy machine is run again.
ctest --test-dir "$build" -L '^(unit|sim)$' -j "$(nproc)" --output-on-failure \
    --repeat until-pass:2 >&2
gcovr -r "$source" "$build" --filter 'daemon/core/' --print-summary >"$build/report"
grep 'daemon/core/.*[0-9]$' "$build/report" >&2 || true
sed -nE -e 's/^lines: ([0-9.]+)%.*/core.line_coverage \1 %/p' \
    -e 's/^branches: ([0-9.]+)%.*/core.branch_coverage \1 %/p' "$build/report"
