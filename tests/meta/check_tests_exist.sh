#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Every source file of core, base, measure and drivers has its test file tests/unit/test_NAME.c. A file that is a
# part of a bigger noun (decide_day.c of decide: it has no header of its own) is tested through that noun.
# Usage: check_tests_exist.sh BUILD_DIR SOURCE_DIR
set -eu
cd "$2"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT

# path, then the reason.
cat >"$work/exceptions" <<'EXCEPTIONS'
drivers/bench_device_main.c a program's own file, run by the system tests
EXCEPTIONS

# The test of a file: its own, or that of the noun it is a part of.
tested_by() {
    folder=$(dirname "$1")
    name=$(basename "$1" .c)
    while :; do
        if [ -f "tests/unit/test_$name.c" ]; then
            return 0
        fi
        case $name in
        *_*) test ! -f "$folder/$name.h" || return 1 ;;
        *) return 1 ;;
        esac
        name=${name%_*}
    done
}

count=0
for file in daemon/core/*.c daemon/base/*.c daemon/measure/*.c drivers/*.c; do
    count=$((count + 1))
    if grep -q "^$file " "$work/exceptions"; then
        continue
    fi
    tested_by "$file" || echo "$file has no tests/unit/test_$(basename "$file")"
done >"$work/bad"
test $count -gt 20 || { echo "too few sources found in $2"; exit 1; }
while read -r file reason; do
    test -n "$reason" || echo "$file is excepted without a reason"
done <"$work/exceptions" >>"$work/bad"

if [ -s "$work/bad" ]; then
    cat "$work/bad"
    exit 1
fi
echo "$count files have their tests"
