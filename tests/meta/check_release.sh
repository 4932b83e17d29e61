#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# The release build of the programs, optimised and hardened, has no warnings: some appear only when the optimiser looks.
# The programs then carry what the flags promise.
# Usage: check_release.sh BUILD_DIR SOURCE_DIR
set -eu
command -v gcc >/dev/null || {
    echo "gcc not found (Debian: gcc)"
    exit 77
}
build=$1/release
log=$1/check_release.log
sh "$2/tests/support/release_build.sh" "$1" "$2"
command -v readelf >/dev/null || {
    echo "readelf not found (Debian: binutils)"
    exit 77
}
count=0
for program in "$build"/bin/*; do
    count=$((count + 1))
    readelf -hld "$program" >"$log"
    grep -q 'Type: *DYN' "$log" || echo "$program is no position independent program"
    grep -q GNU_RELRO "$log" || echo "$program has no read-only relocations"
    grep -qE 'BIND_NOW|Flags:.*NOW' "$log" || echo "$program binds its symbols late"
    grep GNU_STACK -A 1 "$log" | grep -q 'RW ' || echo "$program has an executable stack"
    readelf -Ws --dyn-syms "$program" >"$log"
    grep -q __stack_chk_fail "$log" || echo "$program has no stack protector"
done >"$1/check_release.bad"
if [ -s "$1/check_release.bad" ]; then
    cat "$1/check_release.bad"
    exit 1
fi
test $count -ge 3 || { echo "only $count programs in $build/bin"; exit 1; }
echo "$count programs, $(find "$build" -name '*.o' | wc -l) objects built without a warning, hardened"
