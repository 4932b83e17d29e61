#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The release build in BUILD/release, optimised and hardened, warnings are errors: for the check of its warnings and
# for the emulated machines. Whoever comes first builds it. What is wrong is printed.
# Usage: release_build.sh BUILD SOURCE
set -eu
exec 8>"$1/release.lock"
flock 8
log=$1/release.log
cmake -S "$2" -B "$1/release" -G Ninja -DCMAKE_C_COMPILER=gcc -DCMAKE_BUILD_TYPE=Release -DCMAKE_INSTALL_PREFIX=/usr \
    -DLAMPWARDEN_WERROR=ON -DLAMPWARDEN_TESTS=OFF >"$log" 2>&1 || { cat "$log"; exit 1; }
ninja -C "$1/release" -k 0 >"$log" 2>&1 || {
    grep -E '(error|warning): |undefined reference|multiple definition' "$log" || tail -n 30 "$log"
    exit 1
}
