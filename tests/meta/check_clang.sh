#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Everything builds with clang too, and warnings are errors: it sees some things that gcc does not.
# Usage: check_clang.sh BUILD_DIR SOURCE_DIR
set -eu
command -v clang >/dev/null || {
    echo "clang not found (Debian: clang)"
    exit 77
}
build=$1/clang
log=$1/check_clang.log
cmake -S "$2" -B "$build" -G Ninja -DCMAKE_C_COMPILER=clang -DCMAKE_BUILD_TYPE=Debug \
    -DLAMPWARDEN_WERROR=ON >"$log" 2>&1 || { cat "$log"; exit 1; }
ninja -C "$build" -k 0 >"$log" 2>&1 || {
    grep -E '(error|warning): |undefined reference|multiple definition' "$log" || tail -n 30 "$log"
    exit 1
}
echo "$(find "$build" -name '*.o' | wc -l) objects built by $(clang --version | head -n 1)"
