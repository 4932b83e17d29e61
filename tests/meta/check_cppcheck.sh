#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# cppcheck over the product's and the tests' sources. An exception stands beside its line
# (// cppcheck-suppress …) or below, with its reason.
# Usage: check_cppcheck.sh BUILD_DIR SOURCE_DIR
set -eu
command -v cppcheck >/dev/null || {
    echo "cppcheck not found (Debian: cppcheck)"
    exit 77
}
build=$(cd "$1" && pwd)
database=$build/compile_commands.json
test -s "$database" || { echo "$database is missing: configure first"; exit 1; }
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# id[:file]; then the reason.
cat >"$work/exceptions" <<'EXCEPTIONS'
EXCEPTIONS
while read -r id reason; do
    test -n "$reason" || { echo "$id is excepted without a reason"; exit 1; }
    echo "$id"
done <"$work/exceptions" >"$work/suppressions"

cppcheck --enable=warning,portability,performance --std=c11 --inline-suppr --error-exitcode=1 \
    --suppressions-list="$work/suppressions" -j "$(nproc)" --project="$database" \
    --template='{file}:{line}: {severity} {id}: {message}' >"$work/out" 2>"$work/bad" || {
    sed "s|^$(cd "$2" && pwd)/||" "$work/bad" | sort -u
    exit 1
}
count=$(grep -c '^Checking [^:]*\.c \.\.\.$' "$work/out" || true)
test "$count" -gt 20 || { echo "too few sources were checked"; exit 1; }
echo "$count sources clean by cppcheck"
