#!/bin/sh
# SPDX-License-Identifier: Apache-2.0
# Installs what the tests need, builds with the address and undefined behaviour sanitizers, runs every
# test that this machine allows, and says what it skipped and why.
# Usage: sh tests/run.sh [-L LABEL]    (labels: unit sim system kernel meta fuzz)
set -eu
here=$(cd "$(dirname "$0")/.." && pwd)
cd "$here"
. etc/packages.sh

# shellcheck disable=SC2086,SC2154  # a list of words, from packages.sh
install_packages $build_packages
# shellcheck disable=SC2086,SC2154  # a list of words, from packages.sh
install_packages $driver_packages ||
    echo "built without some drivers, their tests are left out" >&2
# shellcheck disable=SC2086,SC2154  # a list of words, from packages.sh
install_packages $page_packages ||
    echo "built without the page, its tests are left out" >&2
install_packages libcmocka-dev
install_packages clang clang-format clang-tidy cppcheck shellcheck universal-ctags python3 \
    python3-pymodbus python3-serial-asyncio socat strace sqlite3 procps gcovr mandoc bsdextrautils \
    libglpk-dev gnuplot-nox chromium chromium-driver python3-selenium curl datamash python3-numpy prometheus ||
    echo "some test tools could not be installed: what needs them will say that it was skipped" >&2

# The kernel tests: QEMU, Debian's kernel and (debootstrap) a small Debian for the unit; 300 MB the first time.
install_packages qemu-system-x86 busybox-static cpio kmod libelf-dev libssl-dev xz-utils e2fsprogs gpiod i2c-tools debootstrap ||
    echo "no emulated machine can be had here: the kernel tests will say so" >&2

build=${LAMPWARDEN_TEST_BUILD:-build-test}
jobs=$((8 * $(nproc))) # tests/loads.cmake says how much of a core each takes
cmake -S . -B "$build" -G Ninja -DCMAKE_BUILD_TYPE=RelWithDebInfo \
    -DLAMPWARDEN_SANITIZE=ON -DLAMPWARDEN_WERROR=ON >"$build.log" 2>&1 ||
    { cat "$build.log"; exit 1; }
grep -E "built without|not found:" "$build.log" || true
rm -f "$build.log"
ninja -C "$build" -k 0 >"$build/build.log" 2>&1 ||
    { grep -E "error|warning:|FAILED" "$build/build.log"; echo "the build failed"; exit 1; }
tail -n 1 "$build/build.log"
build=$(cd "$build" && pwd) # ctest looks for its file of cores from there

log=$build/tests.log
code=0
ctest --test-dir "$build" --output-on-failure -j "$jobs" --resource-spec-file "$build/tests/cores.json" "$@" >"$log" 2>&1 || code=$?
if [ "$code" != 0 ]; then
    cat "$log"
fi
# Tests of real programs and of Modbus timing watch real time, and a loaded machine can be late for them. Where
# nothing else failed they run once more, alone; what fails again has failed, what passes now is named.
failed=$(sed -n 's/^\t *[0-9]* - \([^ ]*\) .*/\1/p' "$log")
if [ -n "$failed" ] && ! echo "$failed" | grep -qvE '^(system\.|unit\.test_modbus)'; then
    first=$log.first
    mv "$log" "$first"
    cp "$build/Testing/Temporary/LastTest.log" "$first.details"
    code=0
    ctest --test-dir "$build" --rerun-failed --output-on-failure >"$log" 2>&1 || code=$?
    cat "$log"
    echo "failed at first, run again alone:"
    sed -n 's/^\t *[0-9]* - /  /p' "$first"
fi

# ctest keeps the words of skipped tests in its own log: the last line of each says why.
skipped=$(sed -n 's/^.*Test *#[0-9]*: \([^ ]*\) .*\*\*\*Skipped.*$/\1/p' "$log")
if [ -n "$skipped" ]; then
    echo "skipped:"
    for name in $skipped; do
        why=$(awk -v name="$name" '
            $0 ~ "Testing: " name "$" { inside = 1 }
            inside && /^Output:/ { body = 1; next }
            inside && body && /^<end of output>/ { exit }
            inside && body && NF && !/^---/ { last = $0 }
            END { print last }' "$build/Testing/Temporary/LastTest.log")
        echo "  $name: ${why:-no reason given}"
    done
fi
# A test that passed may have left a part out, and said so in its own words.
left_out=$(grep -hE ': without axe-core|: (pictures )?not tested' "$build/Testing/Temporary/LastTest.log" | sort -u || true)
[ -z "$left_out" ] || printf 'left out:\n%s\n' "$left_out"
echo
[ -z "${first:-}" ] || { echo "the first run of all:"; grep -E "tests passed|tests failed" "$first"; echo "the second, of what had failed:"; }
grep -E "tests passed|tests failed|Total Test time" "$log" || true
exit "$code"
