#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# clang-tidy over the product's sources; .clang-tidy says which checks, and why some are off.
# Usage: check_tidy.sh BUILD_DIR SOURCE_DIR
set -eu
for tool in clang clang-tidy; do
    command -v $tool >/dev/null || {
        echo "$tool not found (Debian: $tool)"
        exit 77
    }
done
build=$1/tidy
# A folder of its own: clang must see clang's flags, and nothing is built here.
cmake -S "$2" -B "$build" -G Ninja -DCMAKE_C_COMPILER=clang -DCMAKE_BUILD_TYPE=Debug \
    -DLAMPWARDEN_TESTS=OFF >"$1/check_tidy.log" 2>&1 || { cat "$1/check_tidy.log"; exit 1; }
sed -n 's/^  "file": "\(.*\)",*$/\1/p' "$build/compile_commands.json" | sort -u >"$build/files"
test "$(wc -l <"$build/files")" -gt 20 || { echo "too few sources found in $2"; exit 1; }
# One file a call: with several, release 14 takes the va_list of the second for uninitialised.
xargs -n 1 -P "$(nproc)" clang-tidy -p "$build" --quiet <"$build/files" \
    >"$1/check_tidy.log" 2>"$build/stderr" || {
    # Headers are seen many times.
    grep -E ' (error|warning): ' "$1/check_tidy.log" | sort -u
    grep -E '^(error|fatal)' "$build/stderr" || true
    echo "the paths that lead there: $1/check_tidy.log"
    exit 1
}
echo "$(wc -l <"$build/files") sources clean by clang-tidy"
